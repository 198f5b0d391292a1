package hdf5

import (
	"bytes"
	"io"
	"math/rand"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// Every hyperslab is the same part of the whole, whichever goroutine reads it.
func TestHyperslabs(t *testing.T) {
	from := generate(t, layoutCDL())
	packed := filepath.Join(t.TempDir(), "packed.nc")
	run(t, "nccopy", "-d1", "-s", "-c", "time/3,y/2,x/4", from, packed)
	for _, path := range []string{from, packed} {
		f := open(t, path)
		for _, c := range layoutCases {
			d := find(t, f, c.name)
			all := whole(t, d)
			var wait sync.WaitGroup
			for seed := range int64(4) {
				wait.Add(1)
				go func() {
					defer wait.Done()
					random := rand.New(rand.NewSource(seed))
					for range 50 {
						start, count := make([]int, 3), make([]int, 3)
						n := d.Size
						for i, length := range d.Shape {
							start[i] = random.Intn(length + 1)
							count[i] = random.Intn(length - start[i] + 1)
							n *= count[i]
						}
						got := make([]byte, n)
						if err := d.Read(got, start, count); err != nil {
							t.Error(err)
							return
						}
						if want := part(all, d.Shape, start, count, d.Size); !bytes.Equal(got, want) {
							t.Errorf("%s: %d from %d on are wrong", d.Name, count, start)
							return
						}
					}
				}()
			}
			wait.Wait()
		}
	}
}

// part cuts a part of three dimensions out of the whole.
func part(all []byte, shape, start, count []int, size int) []byte {
	var out []byte
	for i := start[0]; i < start[0]+count[0]; i++ {
		for j := start[1]; j < start[1]+count[1]; j++ {
			for k := start[2]; k < start[2]+count[2]; k++ {
				at := ((i*shape[1]+j)*shape[2] + k) * size
				out = append(out, all[at:at+size]...)
			}
		}
	}
	return out
}

func TestWrongHyperslabs(t *testing.T) {
	d := find(t, open(t, generate(t, layoutCDL())), "ints")
	for _, c := range []struct {
		bytes        int
		start, count []int
		want         string
	}{
		{840, []int{0, 0}, []int{7, 5, 6}, "dimensions"},
		{840, []int{0, 0, 1}, []int{7, 5, 6}, "dimension 2"},
		{840, []int{-1, 0, 0}, []int{7, 5, 6}, "dimension 0"},
		{839, []int{0, 0, 0}, []int{7, 5, 6}, "839 bytes"},
	} {
		err := d.Read(make([]byte, c.bytes), c.start, c.count)
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), `"ints"`) {
			t.Errorf("%v: %v", c, err)
		}
	}
}

// A cache stays within its bound and keeps what was used last.
func TestCacheBound(t *testing.T) {
	var c cache
	for i := range 40 {
		if !c.put(i, make([]byte, 1<<20)) {
			t.Fatalf("chunk %d is not kept", i)
		}
		if c.get(0) == nil {
			t.Fatalf("chunk 0, always in use, is gone after %d", i)
		}
	}
	if c.bytes > cacheLimit || len(c.found) != 16 || c.get(38) == nil || c.get(10) != nil {
		t.Errorf("%d bytes in %d chunks", c.bytes, len(c.found))
	}
	if c.put(99, make([]byte, cacheLimit+1)) {
		t.Error("a chunk beyond the bound is kept")
	}
}

// counted counts the bytes read from behind it.
type counted struct {
	io.ReaderAt
	n int
}

func (c *counted) ReadAt(b []byte, at int64) (int, error) {
	c.n += len(b)
	return c.ReaderAt.ReadAt(b, at)
}

// The chunk of a small file is decoded once for many small hyperslabs.
func TestPartlyReadChunksAreKept(t *testing.T) {
	d := find(t, open(t, generate(t, layoutCDL())), "big_doubles")
	count := &counted{ReaderAt: d.in.r}
	d.in.r = count
	b := make([]byte, 8)
	if err := d.Read(b, []int{0, 0, 0}, []int{1, 1, 1}); err != nil {
		t.Fatal(err)
	}
	first := count.n
	for i := range 3 {
		if err := d.Read(b, []int{i, 1, 3}, []int{1, 1, 1}); err != nil {
			t.Fatal(err)
		}
	}
	if first == 0 || count.n != first {
		t.Errorf("%d bytes were read for the first value, %d more for its neighbours", first, count.n-first)
	}
}
