package hdf5

import (
	"bytes"
	"compress/zlib"
	"io"
	"runtime"
	"strings"
	"testing"
)

// taken gives the bytes of memory that f takes, all in all.
func taken(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

// A chunk that unpacks to more than it claims, or claims more than its bytes
// can unpack to, is refused by number and takes no memory for the rest.
func TestDeflateBomb(t *testing.T) {
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	if _, err := io.CopyN(z, zeros{}, 64<<20); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	p := pipeline{{id: filterDeflate}}
	get, put := func(n int) []byte { return make([]byte, n) }, func([]byte) {}
	for _, tt := range []struct {
		name   string
		stored []byte
		size   int
		want   string
	}{
		{"inflates to 64 MiB", packed.Bytes(), 1000, "deflate: more than 1000 bytes"},
		{"claims 256 MiB", packed.Bytes()[:1000], mostChunk, "deflate: 1000 bytes cannot become 268435456"},
	} {
		var err error
		n := taken(func() { _, err = p.decode(tt.stored, tt.size, 4, 0, get, put) })
		if err == nil || err.Error() != tt.want {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.want)
		}
		if n > 1<<20 {
			t.Errorf("%s: %d bytes taken", tt.name, n)
		}
	}
}

func TestChunkTooLarge(t *testing.T) {
	f := open(t, generate(t, "netcdf big { dimensions: x = 134217728; variables: float v(x); v:_ChunkSizes = 134217728; v:_DeflateLevel = 1; }", "-k", "nc4", "-x"))
	d := find(t, f, "v")
	const want = `variable "v": chunks of [134217728], 536870912 bytes, want at most 268435456 bytes`
	var err error
	if n := taken(func() { err = d.Read(make([]byte, 4), []int{0}, []int{1}) }); n > 1<<20 {
		t.Errorf("%d bytes taken", n)
	}
	if err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("%v, want %s", err, want)
	}
}
