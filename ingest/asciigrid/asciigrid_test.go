package asciigrid

import (
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/ingest/weather/realfiles"
)

const small = "ncols 3\nnrows 2\nxllcorner 10\nyllcorner 40\ncellsize 0.5\nNODATA_value -9999\n1 2 3\n4 -9999 6\n"

func open(text string) (*Raster, error) {
	return Open(strings.NewReader(text), int64(len(text)), "g.asc")
}

// The same grid in the ways programs write it.
func TestOpen(t *testing.T) {
	for name, text := range map[string]string{
		"plain": small,
		"centres, capitals, order, CRLF": strings.ReplaceAll(
			"NROWS 2\nNCOLS 3\nYLLCENTER 40.25\nXLLCENTRE 10.25\nNODATA_VALUE -9999.0\nDX 0.5\nDY 0.5\n1 2 3\n4 -9999 6", "\n", "\r\n"),
		"broken lines": strings.Replace(small, "1 2 3\n4 -9999 6", "\n1\n2 3 4\n\n -9999.00\t6.", 1),
		"exponents of five digits": strings.Replace(small, "1 2 3\n4 -9999 6",
			"1.0e+00000 2.0E+00000 0.3e+00001 40.e-00001 -9.999e+00003 600e-00002", 1),
		"nan for no data": strings.Replace(strings.Replace(small, "NODATA_value -9999\n", "", 1), "-9999", "-nan", 1),
	} {
		g, err := open(text)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if !slices.Equal(g.Lon, []float64{10.25, 10.75, 11.25}) || !slices.Equal(g.Lat, []float64{40.75, 40.25}) {
			t.Errorf("%s: longitudes %v, latitudes %v", name, g.Lon, g.Lat)
		}
		got := make([]float32, 6)
		for y := range 2 {
			if err := g.ReadRows(got[3*y:3*y+3], 0, y, 1); err != nil {
				t.Fatal(err)
			}
		}
		whole := make([]float32, 6)
		if err := g.ReadRows(whole, 0, 0, 2); err != nil {
			t.Fatal(err)
		}
		for i, want := range []float64{1, 2, 3, 4, math.NaN(), 6} {
			if !same(float64(got[i]), want) || !same(float64(whole[i]), want) {
				t.Errorf("%s: row by row %v, at once %v", name, got, whole)
				break
			}
		}
	}
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }

func TestOpenErrors(t *testing.T) {
	set := func(old, to string) string { return strings.Replace(small, old, to, 1) }
	for _, tt := range []struct{ name, text, want string }{
		{"empty", "", "g.asc: ncols: missing in the header"},
		{"no size", set("cellsize 0.5\n", ""), "g.asc: cellsize: missing in the header"},
		{"no corner", set("yllcorner 40\n", ""), "g.asc: yllcorner: missing in the header"},
		{"corner and centre", set("yllcorner 40\n", "yllcorner 40\nyllcenter 40\n"), "g.asc: yllcenter: given beside yllcorner"},
		{"key twice", set("nrows 2", "ncols 2"), "g.asc:2: ncols: given twice"},
		{"other key", set("nrows", "rows"), "g.asc:2: rows: not a key of an ESRI ASCII grid"},
		{"no value", "ncols", "g.asc:1: ncols: no value"},
		{"key for a value", set("ncols 3", "ncols x"), `g.asc:1: ncols: "x" is not a number`},
		{"part of a column", set("ncols 3", "ncols 2.5"), "g.asc: ncols: 2.5, want a whole number from 1 to 262144"},
		{"columns without end", set("ncols 3", "ncols 1e15"), "g.asc: ncols: 1e+15, want a whole number from 1 to 262144"},
		{"no columns", set("ncols 3", "ncols 0"), "g.asc: ncols: 0, want a whole number from 1 to 262144"},
		{"size below 0", set("cellsize 0.5", "cellsize -0.5"), "g.asc: cellsize: -0.5, want above 0"},
		{"size nan", set("cellsize 0.5", "cellsize nan"), "g.asc: cellsize: NaN, want above 0"},
		{"corner nan", set("xllcorner 10", "xllcorner nan"), "g.asc: centres x NaN to NaN, y 40.25 to 40.75 are not degrees; a projected grid is brought to degrees by: gdalwarp -s_srs EPSG:CODE -t_srs EPSG:4326 g.asc out.tif"},
		{"metres", set("yllcorner 40", "yllcorner 4500000"), "g.asc: centres x 10.25 to 11.25, y 4.50000025e+06 to 4.50000075e+06 are not degrees; a projected grid is brought to degrees by: gdalwarp -s_srs EPSG:CODE -t_srs EPSG:4326 g.asc out.tif"},
		{"too wide", set("cellsize 0.5", "dx 200\ndy 0.5"), "g.asc: columns go round the earth more than once, from 110 to 510"},
		{"comma decimals", set("4 -9999", "4,5 -9999"), `g.asc:8: "4,5": a comma in a number; decimals need a point, and blanks between values`},
		{"word", set("1 2 3", "1 two 3"), `g.asc:7: "two" is not a number`},
		{"too large", set("1 2 3", "1 1e999 3"), `g.asc:7: "1e999" is not a number`},
		{"cut off", set(" 6\n", ""), "g.asc:8: ends after 5 of 3 × 2 values, in row 2: cut off?"},
		{"value too many", small + "7\n", "g.asc:9: more values than 3 × 2"},
		{"binary", set("1 2 3", "1 2\x00 3"), "g.asc:7: binary content, not a grid in text"},
		{"endless word", set("1 2 3", strings.Repeat("1", 1000)), `g.asc:7: "11111111111111111111111111111111"… is no number`},
	} {
		_, err := open(tt.text)
		if err == nil || err.Error() != tt.want {
			t.Errorf("%s:\n%v, want\n%v", tt.name, err, tt.want)
		}
		var file *weather.FileError
		if err != nil && !errors.As(err, &file) {
			t.Errorf("%s: %T", tt.name, err)
		}
	}
}

// Every cut of a good file is refused, save at its last blank.
func TestCutOff(t *testing.T) {
	for n := range len(small) - 2 {
		if _, err := open(small[:n]); err == nil {
			t.Errorf("the first %d bytes are taken for a grid", n)
		}
	}
}

func TestRead(t *testing.T) {
	f, err := Read(strings.NewReader(small), int64(len(small)), "dir/tas_K_07.asc")
	if err != nil {
		t.Fatal(err)
	}
	got := make([]float32, 6)
	if err := f.Fields[0].Read(got, 0, 1, 0, 2); err != nil {
		t.Fatal(err)
	}
	if f.Fields[0].Months[0] != 7 || math.Abs(float64(got[5])-(6-273.15)) > 1e-4 {
		t.Errorf("%+v, %v", f.Fields[0], got)
	}
}

// The satellite mean of Iberia: 3.11 to 5.42 kWh/m² a day (the provider's own
// summary), and an annual mean.
func TestRealGrid(t *testing.T) {
	name := realfiles.Path(t, "grid/SISav_2008_iberia_kWh_m2_day.asc")
	in, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		t.Fatal(err)
	}
	g, err := Open(in, info.Size(), name)
	if err != nil {
		t.Fatal(err)
	}
	low, high := float32(math.Inf(1)), float32(math.Inf(-1))
	row := make([]float32, g.Width)
	for y := range g.Height {
		if err := g.ReadRows(row, 0, y, 1); err != nil {
			t.Fatal(err)
		}
		low, high = min(low, slices.Min(row)), max(high, slices.Max(row))
	}
	if g.Width != 468 || g.Height != 268 || math.Abs(float64(low)-3.11) > 0.005 || math.Abs(float64(high)-5.42) > 0.005 {
		t.Errorf("%d × %d, %v to %v kWh/m², want 468 × 268, 3.11 to 5.42", g.Width, g.Height, low, high)
	}
	if math.Abs(g.Lon[0]+10) > 1e-9 || math.Abs(g.Lat[267]-35.99) > 1e-9 {
		t.Errorf("south-western centre %v, %v, want 35.99, -10", g.Lat[267], g.Lon[0])
	}
	_, err = Read(in, info.Size(), name)
	const want = "ghi in kwh_m2_day: no month: an annual mean cannot be brought to hours; twelve monthly grids are needed"
	if err == nil || !strings.HasSuffix(err.Error(), want) {
		t.Errorf("%v, want %s", err, want)
	}
}

// A grid that GDAL, an independent library, has written, in degrees of two sizes.
func TestGridOfGDAL(t *testing.T) {
	translate, err := exec.LookPath("gdal_translate")
	if err != nil {
		t.Skip("gdal_translate is not installed (Debian: gdal-bin)")
	}
	dir := t.TempDir()
	from, to := filepath.Join(dir, "from.asc"), filepath.Join(dir, "to.asc")
	if err := os.WriteFile(from, []byte(small), 0o666); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(translate, "-q", "-of", "AAIGrid", "-ot", "Float32", "-a_ullr", "10", "41", "11.5", "40.5", from, to).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	text, err := os.ReadFile(to)
	if err != nil {
		t.Fatal(err)
	}
	g, err := open(string(text))
	if err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	got := make([]float32, 6)
	if err := g.ReadRows(got, 0, 0, 2); err != nil {
		t.Fatal(err)
	}
	if g.Lat[0] != 40.875 || g.Lat[1] != 40.625 || g.Lon[2] != 11.25 || got[2] != 3 || got[4] == got[4] || got[5] != 6 {
		t.Errorf("latitudes %v, longitudes %v, values %v of\n%s", g.Lat, g.Lon, got, text)
	}
}

func FuzzOpen(f *testing.F) {
	f.Add(small)
	f.Add(strings.Replace(small, "cellsize 0.5", "dx 1\ndy 1e-00001", 1))
	f.Fuzz(func(t *testing.T, text string) {
		g, err := open(text)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("error of several lines: %q", err)
			}
			return
		}
		if err := g.ReadRows(make([]float32, g.Width*g.Height), 0, 0, g.Height); err != nil {
			t.Errorf("opened, then %v", err)
		}
	})
}

func BenchmarkOpen(b *testing.B) {
	text := "ncols 1000\nnrows 1000\nxllcorner 0\nyllcorner 0\ncellsize 0.01\n" + strings.Repeat("3.9187 ", 1e6)
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := open(text); err != nil {
			b.Fatal(err)
		}
	}
}
