package geotiff

import (
	"bytes"
	"compress/zlib"
	"runtime"
	"strings"
	"testing"
)

// What a header claims, and strips that unpack to far more than they should,
// take no memory.
func TestRasterBombs(t *testing.T) {
	var deflated bytes.Buffer
	z := zlib.NewWriter(&deflated)
	z.Write(make([]byte, 64<<20))
	z.Close()
	strip := func(pack uint16, packed []byte, edit func(map[uint16]*tag)) []byte {
		b := small(func(m map[uint16]*tag) {
			m[tagCompression].value = pack
			m[tagRowsPerStrip].value = uint16(2)
			if edit != nil {
				edit(m)
			}
			m[tagStripOffsets].value = uint32(0)
			m[tagStripCounts].value = uint32(len(packed))
		})
		at := bytes.Index(b, []byte{tagStripOffsets & 0xff, tagStripOffsets >> 8, 4, 0, 1, 0, 0, 0})
		n := len(b)
		copy(b[at+8:], []byte{byte(n), byte(n >> 8), byte(n >> 16), 0})
		return append(b, packed...)
	}
	sides := func(width, height uint32) func(map[uint16]*tag) {
		return func(m map[uint16]*tag) {
			*m[tagWidth], *m[tagHeight] = tag{tagWidth, 4, width}, tag{tagHeight, 4, height}
			*m[tagRowsPerStrip] = tag{tagRowsPerStrip, 4, height}
			m[tagPixelScale].value = []float64{1e-5, 1e-5, 0}
		}
	}
	for _, tt := range []struct {
		name string
		data []byte
		want string // empty: what is wanted of the strip is read, the rest left
	}{
		{"deflated strip of 64 MiB for 12 bytes", strip(packDeflate, deflated.Bytes()[:60000], nil), ""},
		{"strip of 65536 × 65536", strip(packDeflate, deflated.Bytes()[:1000], sides(1<<16, 1<<16)),
			"g.tif: strips or tiles of 8192 MiB, want at most 128"},
		{"strip of 120 MiB in 20 bytes", strip(packDeflate, deflated.Bytes()[:20], sides(1<<13, 7680)),
			"g.tif: strip 1 of 1: holds less than its size: damaged"},
		{"LZW of 120 MiB in 20 bytes", strip(packLZW, make([]byte, 20), sides(1<<13, 7680)), "g.tif: strip 1 of 1: "},
		{"2³⁰ columns", small(func(m map[uint16]*tag) { *m[tagWidth] = tag{tagWidth, 4, uint32(1 << 30)} }), "1073741824"},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		g, err := open(tt.data)
		if err == nil {
			err = g.ReadRows(make([]float32, g.Width), 0, 0, 1)
		}
		runtime.ReadMemStats(&after)
		switch {
		case tt.want == "" && err != nil, tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)):
			t.Errorf("%s: %v, want %q", tt.name, err, tt.want)
		}
		if n := after.TotalAlloc - before.TotalAlloc; n > 4<<20 {
			t.Errorf("%s: %d bytes taken", tt.name, n)
		}
	}
}
