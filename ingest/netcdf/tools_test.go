package netcdf

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"stillrow/ingest/weather/realfiles"
)

// tool runs one of the programs of netcdf-bin, and skips the test where it is
// not installed.
func tool(t testing.TB, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s (Debian netcdf-bin, hdf5-tools) is not installed", name)
	}
	cmd := exec.Command(path, args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %v: %v: %s", name, args, err, stderr.Bytes())
	}
	return string(out)
}

// generate makes a file of a kind from CDL.
func generate(t testing.TB, kind, cdl string) string {
	t.Helper()
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.cdl"), filepath.Join(dir, "out.nc")
	if err := os.WriteFile(in, []byte(cdl), 0o600); err != nil {
		t.Fatal(err)
	}
	tool(t, "ncgen", "-k", kind, "-o", out, in)
	return out
}

func openFile(t testing.TB, path string) *File {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f, err := Open(bytes.NewReader(b), int64(len(b)), filepath.Base(path))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// kinds are what ncgen and nccopy call the formats, and what Format says.
var kinds = map[string]string{
	"classic": "classic", "64-bit offset": "64-bit offset", "cdf5": "CDF-5",
	"netCDF-4": "NetCDF-4", "netCDF-4 classic model": "NetCDF-4",
}

const cdl = `netcdf made {
dimensions: time = UNLIMITED; lat = 3; lon = 4; two = 2;
variables:
	double time(time); time:units = "hours since 2001-01-01";
	float lat(lat), lon(lon);
	short t2m(time, lat, lon); t2m:scale_factor = 0.01; t2m:add_offset = 273.15; t2m:_FillValue = -1s;
	float ghi(time, lat, lon); ghi:valid_range = 0.f, 1400.f; ghi:missing_value = -5.f;
	byte flag(time, lat); flag:_Unsigned = "true";
	int bounds(lat, two);
	double height;
	:title = "made"; :numbers = 1, 2, 3;
data:
	time = 0, 1; lat = 30, 31, 32; lon = 0, 1, 2, 3; height = 10.5;
	t2m = 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, -1, 100, 200, 300, -100, -200, 0, 0, 0, 0, 0, 32767;
	ghi = 0, 1400, 1401, -5, _, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, NaNf;
	flag = 0, -1, 127, -128, 1, 2;
	bounds = 1, 2, 3, 4, 5, -6;
}`

// wantMade are the values of cdl by the conventions, worked out by hand.
func wantMade() map[string][]float64 {
	nan := math.NaN()
	t2m := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, nan, 100, 200, 300, -100, -200, 0, 0, 0, 0, 0, 32767}
	for i, x := range t2m {
		t2m[i] = x*0.01 + 273.15
	}
	return map[string][]float64{
		"time": {0, 1}, "lat": {30, 31, 32}, "lon": {0, 1, 2, 3}, "height": {10.5}, "t2m": t2m,
		"ghi":    {0, 1400, nan, nan, nan, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, nan},
		"flag":   {0, 255, 127, 128, 1, 2},
		"bounds": {1, 2, 3, 4, 5, -6},
	}
}

func checkMade(t *testing.T, f *File) {
	t.Helper()
	if a := f.Attr("numbers"); a == nil || same(a.Numbers, []float64{1, 2, 3}) != nil {
		t.Errorf("numbers are %v", a)
	}
	if a := f.Attr("title"); a == nil || a.Text != "made" {
		t.Errorf("title is %v", a)
	}
	want := wantMade()
	if len(f.Vars) != len(want) || len(f.Dims) != 4 {
		t.Errorf("%d variables of %d dimensions, want %d of 4", len(f.Vars), len(f.Dims), len(want))
	}
	for name, values := range want {
		v := f.Var(name)
		if v == nil {
			t.Errorf("no variable %s", name)
			continue
		}
		if err := same(all(t, v), values); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	v := f.Var("t2m")
	var dims []string
	for _, d := range v.Dims {
		dims = append(dims, fmt.Sprintf("%+v", f.Dims[d]))
	}
	if got := strings.Join(dims, " "); got != "{Name:time Len:2 Unlimited:true} {Name:lat Len:3 Unlimited:false} {Name:lon Len:4 Unlimited:false}" {
		t.Errorf("t2m has the dimensions %s", got)
	}
	if d := f.Var("bounds").Dims; f.Dims[d[1]].Name != "two" {
		t.Errorf("bounds has the dimension %v", f.Dims[d[1]])
	}
}

// The same file in every format that ncgen writes, and as nccopy converts it.
func TestKinds(t *testing.T) {
	for kind, format := range kinds {
		t.Run(kind, func(t *testing.T) {
			path := generate(t, kind, cdl)
			f := openFile(t, path)
			if f.Format != format {
				t.Errorf("format %q, want %q", f.Format, format)
			}
			checkMade(t, f)
			compareDump(t, path, f)
			if format == "NetCDF-4" {
				packed := path + ".packed"
				tool(t, "nccopy", "-d", "5", "-s", "-c", "time/1,lat/2,lon/3", path, packed)
				f := openFile(t, packed)
				checkMade(t, f)
				if c := f.Var("t2m").Chunk; len(c) != 3 || c[0] != 1 || c[1] != 2 || c[2] != 3 {
					t.Errorf("chunks of %v, want 1, 2, 3", c)
				}
				tool(t, "nccopy", "-k", "classic", packed, path+".classic")
				checkMade(t, openFile(t, path+".classic"))
			}
		})
	}
}

var declaration = regexp.MustCompile(`(?m)^\t(\w+) (\S+?)(\(.*\))? ;$`)

// compareDump compares all variables of numbers with what ncdump prints: packed
// values, to nine and seventeen digits, which tell every float and double.
func compareDump(t *testing.T, path string, f *File) {
	t.Helper()
	dump := tool(t, "ncdump", "-p", "9,17", path)
	head, data, ok := strings.Cut(dump, "\ndata:\n")
	if !ok {
		t.Fatalf("ncdump printed no data of %s", path)
	}
	compared := 0
	for _, m := range declaration.FindAllStringSubmatch(head, -1) {
		name := strings.ReplaceAll(m[2], `\`, "")
		v := f.Var(name)
		if v == nil {
			t.Errorf("no variable %s", name)
			continue
		}
		if v.Type == Char || v.Type == String {
			continue
		}
		_, text, _ := strings.Cut(data, "\n "+m[2]+" =")
		text, _, _ = strings.Cut(text, ";")
		var want []float64
		u, err := v.unpacking()
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range strings.Split(text, ",") {
			s = strings.TrimSpace(s)
			x, err := strconv.ParseFloat(strings.TrimSuffix(s, "f"), 64)
			switch {
			case s == "" && len(want) == 0: // no records
				continue
			case s == "_":
				x = math.NaN()
			case err != nil:
				t.Fatalf("%s: ncdump printed %q", name, s)
			case v.Type == Float32:
				x = float64(float32(x))
			}
			if u.stored != v.Type && x < 0 { // ncdump knows nothing of _Unsigned
				x += math.Ldexp(1, int(8*v.Type.size()))
			}
			// That what is beside the fill value is missing too, unpack_test.go checks.
			if x < u.lo || x > u.hi {
				x = math.NaN()
			}
			for _, m := range u.missing {
				if x == m {
					x = math.NaN()
				}
			}
			want = append(want, x*u.scale+u.offset)
		}
		if err := same(all(t, v), want); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		compared++
	}
	if compared == 0 {
		t.Errorf("nothing of %s compared", path)
	}
}

// The real grids, value by value as ncdump prints them.
func TestRealFiles(t *testing.T) {
	for name, tt := range map[string]struct {
		format string
		dims   string // of the variable
		sample string
	}{
		"grid/era5_51.5N0.125W-201310-sfc.nc":                                                  {"64-bit offset", "time 744, latitude 7, longitude 7", "ssrd"},
		"grid/livneh_NAmerExt_15Oct2014.WalnutGulch.2008.nc":                                   {"64-bit offset", "time 2928, lat 3, lon 5", "shortwave"},
		"grid/esku_heat_budget.cdf":                                                            {"classic", "TIME 12, ESKUY 46, ESKUX 72", "FSR"},
		"grid/POWER_Regional_Monthly_20220101_20221231_037d00N_039d00N_023d00E_025d00E_UTC.nc": {"NetCDF-4", "time 13, lat 4, lon 4", "ALLSKY_SFC_SW_DWN"},
	} {
		t.Run(filepath.Base(name), func(t *testing.T) {
			path := realfiles.Path(t, name)
			f := openFile(t, path)
			if f.Format != tt.format {
				t.Errorf("format %q, want %q", f.Format, tt.format)
			}
			var dims []string
			for _, d := range f.Var(tt.sample).Dims {
				dims = append(dims, fmt.Sprintf("%s %d", f.Dims[d].Name, f.Dims[d].Len))
			}
			if got := strings.Join(dims, ", "); got != tt.dims {
				t.Errorf("%s has the dimensions %s, want %s", tt.sample, got, tt.dims)
			}
			compareDump(t, path, f)
		})
	}
}
