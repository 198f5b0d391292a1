package netcdf

import (
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// small gives a NetCDF-4 file as ncgen 4.9.0 makes it of
//
//	netcdf f { dimensions: t = UNLIMITED; x = 3;
//	variables: short v(t, x); v:scale_factor = 2.f; float x(x);
//	data: v = 1, 2, 3, 4, 5, 6; x = 1, 2, 3; }
func small(t testing.TB) []byte {
	t.Helper()
	b, err := os.ReadFile("testdata/small-nc4.nc")
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// A NetCDF-4 file reads where no tool is installed, and cut anywhere does not.
func TestSmallNC4(t *testing.T) {
	b := small(t)
	f := open(t, b)
	if f.Format != "NetCDF-4" || !slices.Equal(f.Dims, []Dim{{"t", 2, true}, {"x", 3, false}}) {
		t.Errorf("a %s file of %v", f.Format, f.Dims)
	}
	for name, want := range map[string][]float64{"v": {2, 4, 6, 8, 10, 12}, "x": {1, 2, 3}} {
		if err := same(all(t, f.Var(name)), want); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for n := range b {
		_, err := Open(bytes.NewReader(b[:n]), int64(n), "cut.nc")
		var file *weather.FileError
		if !errors.As(err, &file) || strings.Contains(err.Error(), "\n") {
			t.Fatalf("cut to %d of %d bytes: %v", n, len(b), err)
		}
	}
}

// Dimensions without a variable, variables named as a dimension of others,
// coordinates of two dimensions, one dimension twice: each has the names that
// were given to it.
func TestNC4Dimensions(t *testing.T) {
	f := openFile(t, generate(t, "netCDF-4", `netcdf d {
dimensions: z = 2; only = 3; x = 4; row = 2; time = UNLIMITED;
variables: int v(only, x); int x(z, x); int only; double row(row, only); int twice(x, x); int t(time);
data: v = 0,1,2,3,4,5,6,7,8,9,10,11; x = 1,2,3,4,5,6,7,8; only = 9; row = 1,2,3,4,5,6;
twice = 0,1,2,3,4,5,6,7,8,9,10,11,12,13,14,15; t = 1, 2, 3; }`))
	for name, want := range map[string]string{"v": "only x", "x": "z x", "only": "", "row": "row only", "twice": "x x", "t": "time"} {
		v := f.Var(name)
		if v == nil {
			t.Errorf("no variable %s", name)
			continue
		}
		var got []string
		for _, d := range v.Dims {
			got = append(got, f.Dims[d].Name)
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%s has the dimensions %v, want %s", name, got, want)
		}
		for _, a := range v.Attrs {
			t.Errorf("%s shows the attribute %s of the format", name, a.Name)
		}
	}
	if err := same(all(t, f.Var("only")), []float64{9}); err != nil {
		t.Errorf("only: %v", err)
	}
	if err := same(all(t, f.Var("x")), upTo(9)[1:]); err != nil {
		t.Errorf("x: %v", err)
	}
	for _, a := range f.Attrs {
		t.Errorf("the file shows the attribute %s of the format", a.Name)
	}
}

// counting is a source whose values are their places in it, as bytes.
type counting struct{ shape []int }

func (c counting) read(dst []byte, start, count []int) error {
	for i := range dst {
		place, rest := 0, i
		for d := len(count) - 1; d >= 0; d-- {
			step := 1
			for _, n := range c.shape[d+1:] {
				step *= n
			}
			place += (start[d] + rest%count[d]) * step
			rest /= count[d]
		}
		dst[i] = byte(place)
	}
	return nil
}

// Of a dimension that grew, a variable may have less stored than it is long;
// the rest is missing. Tools here store every variable at full length.
func TestGrown(t *testing.T) {
	nan := math.NaN()
	stored := []int{2, 3}
	f := &File{Name: "grown.nc", Dims: []Dim{{"t", 4, true}, {"x", 4, true}}}
	v := &Var{Name: "v", Type: Int8, Dims: []int{0, 1}, file: f, raw: counting{stored}, stored: stored}
	if err := same(all(t, v), []float64{0, 1, 2, nan, 3, 4, 5, nan, nan, nan, nan, nan, nan, nan, nan, nan}); err != nil {
		t.Error(err)
	}
	got := make([]float64, 6)
	if err := v.Read(got, []int{1, 2}, []int{3, 2}); err != nil || same(got, []float64{5, nan, nan, nan, nan, nan}) != nil {
		t.Errorf("across the end: %v, %v", got, err)
	}
	if err := v.Read(got, []int{0, 0}, []int{2, 3}); err != nil || same(got, upTo(6)) != nil {
		t.Errorf("all that is stored: %v, %v", got, err)
	}
	if err := v.Read(got[:4], []int{2, 0}, []int{1, 4}); err != nil || same(got[:4], []float64{nan, nan, nan, nan}) != nil {
		t.Errorf("behind the end: %v, %v", got[:4], err)
	}
}

// Chunks that do not divide the shape, read in pieces that do not meet them.
func TestNC4Chunks(t *testing.T) {
	const records, rows, columns = 37, 90, 170
	c := &cdf{version: 2, records: records, dims: []cdfDim{{"time", 0}, {"lat", rows}, {"lon", columns}}}
	c.vars = []cdfVar{{name: "v", typ: ncInt, dims: []int{0, 1, 2}, values: upTo(records * rows * columns)}}
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.nc"), filepath.Join(dir, "out.nc")
	if err := os.WriteFile(in, c.bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	tool(t, "nccopy", "-k", "netCDF-4", "-d", "1", "-s", "-c", "time/7,lat/40,lon/33", in, out)
	v := openFile(t, out).Var("v")
	if err := same(all(t, v), c.vars[0].values); err != nil {
		t.Error(err)
	}
	const y0, ny = 35, 50
	var want []float64
	for i := range records * ny * columns {
		want = append(want, float64(i/(ny*columns)*rows*columns+y0*columns+i%(ny*columns)))
	}
	got := make([]float64, len(want))
	if err := v.Read(got, []int{0, y0, 0}, []int{records, ny, columns}); err != nil {
		t.Fatal(err)
	}
	if err := same(got, want); err != nil {
		t.Errorf("a band of rows: %v", err)
	}
}

// What is not read is named, with the call that mends it, and does mend it; the
// rest of the file stays readable.
func TestNC4NotRead(t *testing.T) {
	path := generate(t, "netCDF-4", `netcdf s {
types: compound pair { int a; float b; };
dimensions: x = 64; y = 64; two = 2;
variables: float f(x, y); f:_ChunkSizes = 32, 32; string f:note = "text"; int i(two); string names(two); pair p(two);
data: i = 1, 2; names = "a", "b"; p = {1, 2}, {3, 4}; }`)
	sz := path + ".sz"
	tool(t, "h5repack", "-f", "f:SZIP=8,NN", path, sz)
	f := openFile(t, sz)
	if err := same(all(t, f.Var("i")), []float64{1, 2}); err != nil {
		t.Errorf("beside what is not read: %v", err)
	}
	for name, words := range map[string][]string{
		"f":     {"szip", "nccopy -F none in.nc out.nc"},
		"names": {"text"},
		"p":     {"compound", "nccopy does not"},
	} {
		v := f.Var(name)
		n := 1
		for _, k := range v.Shape() {
			n *= k
		}
		err := v.Read(make([]float64, n), make([]int, len(v.Dims)), v.Shape())
		var file *weather.FileError
		if !errors.As(err, &file) || file.Field != name || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for _, w := range words {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %q does not say %q", name, err, w)
			}
		}
	}
	// nccopy takes the filter away, from a file without user types.
	path = generate(t, "netCDF-4", `netcdf s {
dimensions: x = 64; y = 64; two = 2;
variables: float f(x, y); f:_ChunkSizes = 32, 32; string f:note = "text"; string names(two); uint64 u(two);
data: f = `+strings.TrimSuffix(strings.Repeat("7, ", 64*64), ", ")+`; u = 1, 2; }`)
	tool(t, "h5repack", "-f", "f:SZIP=8,NN", path, path+".sz")
	tool(t, "nccopy", "-F", "none", path+".sz", path+".mended")
	got := all(t, openFile(t, path+".mended").Var("f"))
	if slices.ContainsFunc(got, func(x float64) bool { return x != 7 }) {
		t.Error("the mended file does not have the values")
	}
}

// A file with all variables in groups says so.
func TestNC4Groups(t *testing.T) {
	path := generate(t, "netCDF-4", "netcdf g { dimensions: x = 2; group: inner { variables: float f(x); } }")
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Open(bytes.NewReader(b), int64(len(b)), "g.nc"); err == nil || !strings.HasPrefix(err.Error(), "g.nc: its variables lie in groups (inner)") {
		t.Errorf("%v", err)
	}
}

// A plain HDF5 file has no names of dimensions.
func TestPlainHDF5(t *testing.T) {
	dir := t.TempDir()
	text, config, out := filepath.Join(dir, "in.txt"), filepath.Join(dir, "config"), filepath.Join(dir, "out.h5")
	for path, s := range map[string]string{
		text:   "1 2 3 4 5 6 7 8 9\n",
		config: "PATH square\nINPUT-CLASS TEXTIN\nRANK 2\nDIMENSION-SIZES 3 3\nOUTPUT-CLASS IN\nOUTPUT-SIZE 32\n",
	} {
		if err := os.WriteFile(path, []byte(s), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	tool(t, "h5import", text, "-c", config, "-o", out)
	f := openFile(t, out)
	v := f.Var("square")
	if v == nil || len(v.Dims) != 2 || f.Dims[v.Dims[0]].Name != "dim_3" || f.Dims[v.Dims[1]].Name != "dim_3_2" {
		t.Fatalf("variables %v of %v", v, f.Dims)
	}
	if err := same(all(t, v), upTo(10)[1:]); err != nil {
		t.Error(err)
	}
}
