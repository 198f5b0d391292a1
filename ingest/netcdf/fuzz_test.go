package netcdf

import (
	"bytes"
	"errors"
	"runtime"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// FuzzOpen reads the start of every variable of what opens: no panic, and every
// error a line that names the file.
func FuzzOpen(f *testing.F) {
	for _, version := range []byte{1, 2, 5} {
		f.Add(grid(version).bytes())
		lone := &cdf{version: version, records: 3, streaming: true, dims: []cdfDim{{"x", 3}, {"t", 0}}}
		lone.vars = []cdfVar{{name: "v", typ: ncShort, dims: []int{1, 0}, values: upTo(9), attrs: []cdfAttr{
			{name: "scale_factor", typ: ncFloat, numbers: []float64{2}}, {name: "_Unsigned", text: "true"},
			{name: "valid_range", typ: ncShort, numbers: []float64{0, -2}},
		}}}
		f.Add(lone.bytes())
	}
	f.Add(small(f))
	f.Fuzz(func(t *testing.T, b []byte) {
		check := func(err error) {
			var file *weather.FileError
			if err != nil && (!errors.As(err, &file) || file.File != "fuzz.nc" || strings.Contains(err.Error(), "\n")) {
				t.Errorf("error %q", err)
			}
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		defer func() { // HDF5 may pack a thousandfold; 100 variables are read twice, 4096 values of each
			runtime.ReadMemStats(&after)
			if n := after.TotalAlloc - before.TotalAlloc; n > 128<<20+1<<12*uint64(len(b)) {
				t.Errorf("%d bytes taken for a file of %d", n, len(b))
			}
		}()
		in, err := Open(bytes.NewReader(b), int64(len(b)), "fuzz.nc")
		check(err)
		if err != nil {
			return
		}
		for _, v := range in.Vars[:min(len(in.Vars), 100)] {
			const most = 1 << 12
			shape := v.Shape()
			start := make([]int, len(shape))
			n := 1
			for i, k := range shape {
				shape[i] = min(k, max(1, most/max(n, 1)))
				start[i] = k - shape[i]
				n *= shape[i]
			}
			check(v.Read(make([]float64, n), start, shape))
			check(v.ReadFloat32(make([]float32, n), make([]int, len(shape)), shape))
		}
	})
}
