package netcdf

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkReadFloat32 reads a record variable beside another, in memory and
// from a file that the system holds in memory.
func BenchmarkReadFloat32(b *testing.B) {
	const records, rows, columns = 100, 100, 100
	const n = records * rows * columns
	values := upTo(n)
	for i := range values {
		values[i] = float64(i % 30000)
	}
	packed := []cdfAttr{
		{name: "scale_factor", typ: ncDouble, numbers: []float64{0.01}},
		{name: "add_offset", typ: ncDouble, numbers: []float64{273.15}},
		{name: "_FillValue", typ: ncShort, numbers: []float64{-32767}},
	}
	c := &cdf{version: 2, records: records, dims: []cdfDim{{"time", 0}, {"lat", rows}, {"lon", columns}}}
	c.vars = []cdfVar{
		{name: "float", typ: ncFloat, dims: []int{0, 1, 2}, values: values},
		{name: "packed int16", typ: ncShort, dims: []int{0, 1, 2}, attrs: packed, values: values},
	}
	made := c.bytes()
	path := filepath.Join(b.TempDir(), "made.nc")
	if err := os.WriteFile(path, made, 0o600); err != nil {
		b.Fatal(err)
	}
	file, err := os.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	defer file.Close()
	onDisk, err := Open(file, int64(len(made)), "made.nc")
	if err != nil {
		b.Fatal(err)
	}
	inMemory, err := Open(bytes.NewReader(made), int64(len(made)), "made.nc")
	if err != nil {
		b.Fatal(err)
	}
	dst := make([]float32, n)
	for where, f := range map[string]*File{"memory": inMemory, "file": onDisk} {
		for _, v := range f.Vars {
			b.Run(v.Name+"/"+where, func(b *testing.B) {
				b.ReportAllocs()
				b.SetBytes(n * v.Type.size())
				for b.Loop() {
					if err := v.ReadFloat32(dst, []int{0, 0, 0}, []int{records, rows, columns}); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/value")
			})
		}
	}
}
