package netcdf

import (
	"fmt"
	"slices"
	"testing"
)

// chunked is a counting source that notes how often each chunk is read from.
type chunked struct {
	counting
	chunk []int
	reads map[string]int
	most  int // bytes read at once
}

func (c *chunked) read(dst []byte, start, count []int) error {
	c.most = max(c.most, len(dst))
	var first, last []int
	for d, n := range c.chunk {
		first = append(first, start[d]/n)
		last = append(last, (start[d]+count[d]-1)/n)
	}
	at := slices.Clone(first)
	for {
		c.reads[fmt.Sprint(at)]++
		d := len(at) - 1
		for ; d >= 0 && at[d] == last[d]; d-- {
			at[d] = first[d]
		}
		if d < 0 {
			return c.counting.read(dst, start, count)
		}
		at[d]++
	}
}

// Chunks that are long in time are read one after another, each once.
func TestBoxes(t *testing.T) {
	shape := []int{3000, 20, 30}
	for _, tt := range []struct{ chunk, start, count []int }{
		{[]int{3000, 7, 9}, []int{0, 0, 0}, shape},
		{[]int{1000, 7, 9}, []int{10, 3, 2}, []int{2900, 16, 27}},
		{[]int{24, 20, 30}, []int{7, 0, 1}, []int{2991, 20, 28}},
		{[]int{1, 1, 30}, []int{1, 0, 0}, []int{2999, 20, 30}},
		{[]int{5000, 20, 30}, []int{0, 0, 0}, shape},
	} {
		src := &chunked{counting: counting{shape}, chunk: tt.chunk, reads: make(map[string]int)}
		f := &File{Name: "boxes.nc", Dims: []Dim{{Name: "t", Len: shape[0]}, {Name: "y", Len: shape[1]}, {Name: "x", Len: shape[2]}}}
		v := &Var{Name: "v", Type: Uint8, Dims: []int{0, 1, 2}, Chunk: tt.chunk, file: f, raw: src}
		n := tt.count[0] * tt.count[1] * tt.count[2]
		got := make([]float32, n)
		if err := v.ReadFloat32(got, tt.start, tt.count); err != nil {
			t.Fatal(err)
		}
		stored := make([]byte, n)
		if err := src.counting.read(stored, tt.start, tt.count); err != nil {
			t.Fatal(err)
		}
		for i, x := range got {
			if x != float32(stored[i]) {
				t.Fatalf("chunks of %v: value %d is %v, want %d", tt.chunk, i, x, stored[i])
			}
		}
		for at, n := range src.reads {
			if n != 1 {
				t.Errorf("chunks of %v: chunk %s is read %d times", tt.chunk, at, n)
			}
		}
		if one := tt.chunk[0] * tt.chunk[1] * tt.chunk[2]; src.most > max(piece, one) {
			t.Errorf("chunks of %v: %d bytes at once", tt.chunk, src.most)
		}
	}
}
