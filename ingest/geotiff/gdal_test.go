package geotiff

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// tool gives a program of GDAL, the independent library that makes the files
// of these tests; without it they are skipped.
func tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s is not installed (Debian: gdal-bin)", name)
	}
	return path
}

func run(t testing.TB, name string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(tool(t, name), args...)
	cmd.Env = append(os.Environ(), "GDAL_PAM_ENABLED=NO")
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
	return out
}

const srcWidth, srcHeight = 83, 61

// value of the source at a cell: smooth and rough, some of it below 0.
func value(x, y int) int { return (x*x*7+y*31+x*y)%250 - 60*(y%2) }

// source writes an ASCII grid of value, the cell of row 5 and column 7 missing.
func source(t testing.TB, dir string, lift int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "ncols %d\nnrows %d\nxllcorner -10\nyllcorner 35\ncellsize 0.25\nNODATA_value -9999\n", srcWidth, srcHeight)
	for y := range srcHeight {
		for x := range srcWidth {
			if x == 7 && y == 5 {
				fmt.Fprint(&b, "-9999 ")
			} else {
				fmt.Fprintf(&b, "%d ", value(x, y)+lift)
			}
		}
		b.WriteByte('\n')
	}
	name := filepath.Join(dir, fmt.Sprintf("src%d.asc", lift))
	if err := os.WriteFile(name, []byte(b.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	return name
}

func openPath(t testing.TB, name string) *Raster {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	g, err := Open(bytes.NewReader(data), int64(len(data)), filepath.Base(name))
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// check compares all values, rows read several ways, with the source plus a
// lift, and on demand the mean, extremes and place with what gdalinfo tells.
func check(t *testing.T, name string, band, lift int, info bool) {
	t.Helper()
	g := openPath(t, name)
	if g.Width != srcWidth || g.Height != srcHeight {
		t.Fatalf("%d × %d", g.Width, g.Height)
	}
	whole := make([]float32, srcWidth*srcHeight)
	if err := g.ReadRows(whole, band, 0, srcHeight); err != nil {
		t.Fatal(err)
	}
	part := make([]float32, srcWidth*5)
	for y := 0; y+5 <= srcHeight; y += 7 {
		if err := g.ReadRows(part, band, y, 5); err != nil {
			t.Fatal(err)
		}
		for i, v := range part {
			if w := whole[y*srcWidth+i]; v != w && v == v {
				t.Fatalf("rows %d to %d read apart: %v, with all %v", y, y+5, v, w)
			}
		}
	}
	for y := range srcHeight {
		for x := range srcWidth {
			got, want := float64(whole[y*srcWidth+x]), float64(value(x, y)+lift)
			if x == 7 && y == 5 {
				if !math.IsNaN(got) {
					t.Errorf("no data reads as %v", got)
				}
			} else if got != want {
				t.Fatalf("row %d, column %d: %v, want %v", y, x, got, want)
			}
		}
	}
	if !info {
		return
	}
	var told struct {
		GeoTransform [6]float64
		Bands        []struct{ Minimum, Maximum, Mean float64 }
	}
	if err := json.Unmarshal(run(t, "gdalinfo", "-json", "-stats", name), &told); err != nil {
		t.Fatal(err)
	}
	var sum, n float64
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range whole {
		if v == v {
			sum, n = sum+float64(v), n+1
			low, high = min(low, float64(v)), max(high, float64(v))
		}
	}
	if b := told.Bands[band]; math.Abs(sum/n-b.Mean) > 0.001 || low != b.Minimum || high != b.Maximum {
		t.Errorf("mean %v, %v to %v; gdalinfo %+v", sum/n, low, high, b)
	}
	tr := told.GeoTransform
	for i, c := range []struct{ got, want float64 }{
		{g.Lon[0], tr[0] + tr[1]/2}, {g.Lon[srcWidth-1], tr[0] + tr[1]*(srcWidth-0.5)},
		{g.Lat[0], tr[3] + tr[5]/2}, {g.Lat[srcHeight-1], tr[3] + tr[5]*(srcHeight-0.5)},
	} {
		if math.Abs(c.got-c.want) > 1e-9 {
			t.Errorf("centre %d at %v, gdalinfo %v", i, c.got, c.want)
		}
	}
}

// Files of every kind that is read, made by GDAL, give the source's values and
// gdalinfo's place, mean and extremes.
func TestFilesOfGDAL(t *testing.T) {
	tool(t, "gdalinfo")
	dir := t.TempDir()
	plain, lifted := source(t, dir, 0), source(t, dir, 100)
	for i, tt := range []struct {
		args string
		lift int
	}{
		{"-ot Float32", 0},
		{"-ot Float64", 0},
		{"-ot Int16", 0},
		{"-ot Int32", 0},
		{"-ot UInt16 -a_nodata 65535", 100},
		{"-ot UInt32 -a_nodata 4294967295", 100},
		{"-ot Float32 -co COMPRESS=DEFLATE", 0},
		{"-ot Float32 -co COMPRESS=DEFLATE -co PREDICTOR=2", 0},
		{"-ot Float32 -co COMPRESS=DEFLATE -co PREDICTOR=3", 0},
		{"-ot Float64 -co COMPRESS=LZW -co PREDICTOR=3", 0},
		{"-ot Float64 -co COMPRESS=LZW -co PREDICTOR=2", 0},
		{"-ot Int16 -co COMPRESS=LZW -co PREDICTOR=2", 0},
		{"-ot Int32 -co COMPRESS=ZSTD -co PREDICTOR=2", 0},
		{"-ot Int16 -co COMPRESS=PACKBITS", 0},
		{"-ot Int16 -co TILED=YES -co BLOCKXSIZE=16 -co BLOCKYSIZE=32", 0},
		{"-ot Float32 -co TILED=YES -co BLOCKXSIZE=32 -co BLOCKYSIZE=16 -co COMPRESS=ZSTD -co PREDICTOR=3", 0},
		{"-ot Float32 -co BLOCKYSIZE=7 -co COMPRESS=LZW", 0},
		{"-ot Int16 -co ENDIANNESS=BIG", 0},
		// GDAL 3.6 cannot read back its own big-endian files of predictor 3.
		{"-ot Float64 -co ENDIANNESS=BIG -co COMPRESS=DEFLATE -co PREDICTOR=2", 0},
		{"-ot Int32 -co ENDIANNESS=BIG -co COMPRESS=DEFLATE -co PREDICTOR=2 -co TILED=YES -co BLOCKXSIZE=16 -co BLOCKYSIZE=16", 0},
		{"-ot Float64 -co BIGTIFF=YES -co COMPRESS=DEFLATE", 0},
		{"-ot Float32 -co BIGTIFF=YES -co ENDIANNESS=BIG", 0},
		{"-of COG -ot Float32 -co COMPRESS=LZW -co BLOCKSIZE=128", 0},
		{"-of COG -ot Int16 -co COMPRESS=ZSTD -co PREDICTOR=YES -co BLOCKSIZE=128 -co BIGTIFF=YES", 0},
		{"-ot Float32 -mo AREA_OR_POINT=Point", 0},
		{"-ot Int16 -co GEOTIFF_VERSION=1.1", 0},
	} {
		t.Run(tt.args, func(t *testing.T) {
			from := plain
			if tt.lift > 0 {
				from = lifted
			}
			out := filepath.Join(dir, fmt.Sprintf("out%d.tif", i))
			args := []string{"-q", "-a_srs", "EPSG:4326"}
			if !strings.Contains(tt.args, "-of") {
				args = append(args, "-of", "GTiff")
			}
			if strings.Contains(tt.args, "-ot UInt") { // its source would clamp −9999 to 0
				missing := map[bool]string{true: "65535", false: "4294967295"}[strings.Contains(tt.args, "UInt16")]
				text, err := os.ReadFile(from)
				if err != nil {
					t.Fatal(err)
				}
				from = filepath.Join(dir, missing+".asc")
				if err := os.WriteFile(from, bytes.ReplaceAll(text, []byte("-9999"), []byte(missing)), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			run(t, "gdal_translate", append(append(args, strings.Fields(tt.args)...), from, out)...)
			check(t, out, 0, tt.lift, i%6 == 0 || strings.Contains(tt.args, "COG") || strings.Contains(tt.args, "Point"))
		})
	}
}

// Bands by pixel and by plane, with scale, offset, unit and description.
func TestBandsOfGDAL(t *testing.T) {
	tool(t, "gdalbuildvrt")
	dir := t.TempDir()
	var all []string
	for m := range 12 {
		all = append(all, source(t, dir, 100*m))
	}
	vrt := filepath.Join(dir, "all.vrt")
	run(t, "gdalbuildvrt", append([]string{"-q", "-separate", vrt}, all...)...)
	text, err := os.ReadFile(vrt)
	if err != nil {
		t.Fatal(err)
	}
	for _, interleave := range []string{"PIXEL", "BAND"} {
		for _, more := range []string{"", "-co TILED=YES -co BLOCKXSIZE=16 -co BLOCKYSIZE=16 -co COMPRESS=ZSTD -co PREDICTOR=2",
			"-co COMPRESS=DEFLATE -co PREDICTOR=3 -ot Float32"} {
			t.Run(interleave+" "+more, func(t *testing.T) {
				out := filepath.Join(dir, "air_temperature_c.tif")
				args := append([]string{"-q", "-of", "GTiff", "-ot", "Int16", "-a_srs", "EPSG:4258", "-co", "INTERLEAVE=" + interleave}, strings.Fields(more)...)
				run(t, "gdal_translate", append(args, vrt, out)...)
				for _, b := range []int{0, 4, 11} {
					check(t, out, b, 100*b, false)
				}
				f := read(t, out)
				if len(f.Fields) != 1 || len(f.Fields[0].Months) != 12 || len(f.Warnings) != 1 {
					t.Fatalf("%+v", f)
				}
				got := make([]float32, 2*3*srcWidth)
				if err := f.Fields[0].Read(got, 9, 2, 10, 3); err != nil {
					t.Fatal(err)
				}
				if want := float32(value(3, 11) + 1000); got[4*srcWidth+3] != want {
					t.Errorf("November, row 11, column 3: %v, want %v", got[4*srcWidth+3], want)
				}
			})
		}
	}
	// GDAL writes what the bands say; 0.1·stored + 5 in MJ/m² a day.
	parts := strings.SplitAfter(string(text), "<VRTRasterBand")
	for i := range parts[1:] {
		end := strings.Index(parts[i+1], ">") + 1
		parts[i+1] = parts[i+1][:end] + "<Description>GHI " + []string{"January", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "12"}[i] +
			"</Description><UnitType>MJ m-2 day-1</UnitType><Offset>5</Offset><Scale>0.1</Scale>" + parts[i+1][end:]
	}
	if err := os.WriteFile(vrt, []byte(strings.Join(parts, "")), 0o666); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "x.tif")
	run(t, "gdal_translate", "-q", "-a_srs", "EPSG:4326", vrt, out)
	f := read(t, out)
	got := make([]float32, srcWidth)
	if err := f.Fields[0].Read(got, 11, 1, 8, 1); err != nil {
		t.Fatal(err)
	}
	want := (0.1*float64(value(2, 8)+1100) + 5) * 1e6 / 86400
	if f.Fields[0].Months[11] != 12 || f.Fields[0].Variable != "GHI January" || math.Abs(float64(got[2])-want) > 1e-3 {
		t.Errorf("%v, want %v; %+v", got[2], want, f.Fields[0])
	}
}

// Flipped bits and cuts of packed files give an error or other values, never a
// panic.
func TestDamagedFilesOfGDAL(t *testing.T) {
	dir := t.TempDir()
	plain := source(t, dir, 0)
	r := rand.New(rand.NewPCG(5, 6))
	for i, args := range []string{
		"-ot Float32 -co COMPRESS=DEFLATE -co PREDICTOR=3", "-ot Int16 -co COMPRESS=LZW -co PREDICTOR=2 -co TILED=YES -co BLOCKXSIZE=32 -co BLOCKYSIZE=32",
		"-ot Float64 -co COMPRESS=ZSTD -co BIGTIFF=YES", "-ot Int16 -co COMPRESS=PACKBITS -co ENDIANNESS=BIG",
	} {
		out := filepath.Join(dir, fmt.Sprintf("d%d.tif", i))
		run(t, "gdal_translate", append(append([]string{"-q", "-a_srs", "EPSG:4326"}, strings.Fields(args)...), plain, out)...)
		good, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		for range 300 {
			data := bytes.Clone(good)
			for range 1 + r.IntN(8) {
				data[r.IntN(len(data))] ^= 1 << r.IntN(8)
			}
			try(t, data)
			cut := r.IntN(len(good))
			if err := try(t, good[:cut]); err == nil {
				t.Errorf("%s: the first %d of %d bytes are taken for a raster", args, cut, len(good))
			}
		}
	}
}

// A block that GDAL left out is missing.
func TestSparseFile(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "s.asc")
	if err := os.WriteFile(name, []byte("ncols 16\nnrows 32\nxllcorner 0\nyllcorner 0\ncellsize 1\nNODATA_value -1\n"+
		strings.Repeat("-1 ", 256)+strings.Repeat("3 ", 256)), 0o666); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "s.tif")
	run(t, "gdal_translate", "-q", "-co", "SPARSE_OK=TRUE", "-co", "TILED=YES", "-co", "BLOCKXSIZE=16", "-co", "BLOCKYSIZE=16", name, out)
	g := openPath(t, out)
	if g.layout.count[0] != 0 {
		t.Fatal("GDAL wrote the empty tile")
	}
	got := make([]float32, 512)
	if err := g.ReadRows(got, 0, 0, 32); err != nil {
		t.Fatal(err)
	}
	if got[0] == got[0] || got[256] != 3 {
		t.Errorf("%v and %v, want NaN and 3", got[0], got[256])
	}
	if len(g.Warnings) != 1 {
		t.Errorf("warnings %q, want that it has no coordinate system", g.Warnings)
	}
}

// What is refused, each with a reason in one line; the calls it names mend it.
func TestRefusedFiles(t *testing.T) {
	dir := t.TempDir()
	plain := source(t, dir, 0)
	make := func(name string, args ...string) string {
		out := filepath.Join(dir, name)
		run(t, "gdal_translate", append(append([]string{"-q"}, args...), plain, out)...)
		return out
	}
	utm := filepath.Join(dir, "utm.tif")
	run(t, "gdalwarp", "-q", "-s_srs", "EPSG:4326", "-t_srs", "EPSG:32630", plain, utm)
	own := filepath.Join(dir, "own.tif")
	run(t, "gdalwarp", "-q", "-s_srs", "EPSG:4326", "-t_srs", "+proj=laea +lat_0=40 +lon_0=0 +datum=WGS84", plain, own)
	twice := make("two.tif", "-a_srs", "EPSG:4326")
	for _, tt := range []struct{ path, want string }{
		{utm, "utm.tif: projected coordinates (EPSG:32630), want degrees; bring it to them by: gdalwarp -t_srs EPSG:4326 utm.tif out.tif"},
		{own, "own.tif: projected coordinates (of its own definition), want degrees; bring it to them by: gdalwarp -t_srs EPSG:4326 own.tif out.tif"},
		{make("gon.tif", "-a_srs", "EPSG:4807"), "gon.tif: angles in EPSG unit 9105, want degrees; bring it to them by: gdalwarp -t_srs EPSG:4326 gon.tif out.tif"},
		{make("lzma.tif", "-a_srs", "EPSG:4326", "-co", "COMPRESS=LZMA"), "lzma.tif: packed by LZMA, which is not read; rewrite it by: gdal_translate -co COMPRESS=DEFLATE lzma.tif out.tif"},
		{make("complex.tif", "-a_srs", "EPSG:4326", "-ot", "CFloat32"), "complex.tif: complex or untyped samples (format 6), which are not read"},
		{make("bits.tif", "-a_srs", "EPSG:4326", "-ot", "Byte", "-scale", "-9999", "300", "0", "15", "-a_nodata", "none", "-co", "NBITS=4"), "bits.tif: samples of 4 bits and format 1, which are not read; rewrite it by: gdal_translate -ot Float32 in.tif out.tif"},
		{make("half.tif", "-a_srs", "EPSG:4326", "-ot", "Float32", "-co", "NBITS=16"), "half.tif: samples of 16 bits and format 3, which are not read; rewrite it by: gdal_translate -ot Float32 in.tif out.tif"},
		{make("gcp.tif", "-a_srs", "EPSG:4326", "-gcp", "0", "0", "0", "40", "-gcp", "80", "0", "9", "41", "-gcp", "0", "60", "0", "30", "-gcp", "80", "60", "8", "31"), "gcp.tif: placed by ground control points alone; bring it to rows of one latitude by: gdalwarp -t_srs EPSG:4326 in.tif out.tif"},
		{make("bare.tif", "-a_ullr", "0", "0", "0", "0", "-co", "PROFILE=BASELINE"), "bare.tif: no georeference in it (neither scale and tie point nor matrix); give it one by: gdal_translate -a_srs EPSG:4326 -a_ullr WEST NORTH EAST SOUTH in.tif out.tif"},
	} {
		data, err := os.ReadFile(tt.path)
		if err != nil {
			t.Fatal(err)
		}
		_, err = Open(bytes.NewReader(data), int64(len(data)), filepath.Base(tt.path))
		if err == nil || err.Error() != tt.want {
			t.Errorf("%v, want\n%s", err, tt.want)
		}
	}
	run(t, "gdal_translate", "-q", "-co", "APPEND_SUBDATASET=YES", plain, twice)
	data, err := os.ReadFile(twice)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Open(bytes.NewReader(data), int64(len(data)), twice); err == nil || !strings.Contains(err.Error(), "2 images, want one with bands") {
		t.Errorf("two images: %v", err)
	}
	for _, call := range [][]string{
		{"gdalwarp", "-t_srs", "EPSG:4326", utm}, {"gdalwarp", "-t_srs", "EPSG:4326", own},
		{"gdalwarp", "-t_srs", "EPSG:4326", filepath.Join(dir, "gon.tif")}, {"gdalwarp", "-t_srs", "EPSG:4326", filepath.Join(dir, "gcp.tif")},
		{"gdal_translate", "-co", "COMPRESS=DEFLATE", filepath.Join(dir, "lzma.tif")}, {"gdal_translate", "-ot", "Float32", filepath.Join(dir, "bits.tif")},
		{"gdal_translate", "-ot", "Float32", filepath.Join(dir, "half.tif")},
		{"gdal_translate", "-a_srs", "EPSG:4326", "-a_ullr", "-10", "50.25", "10.75", "35", filepath.Join(dir, "bare.tif")},
		{"gdal_translate", "GTIFF_DIR:1:" + twice},
	} {
		out := filepath.Join(dir, "out.tif")
		os.Remove(out)
		run(t, call[0], append(call[1:], out)...)
		g := openPath(t, out)
		if g.Lat[0] < 20 || g.Lat[0] > 55 {
			t.Errorf("%v gives a raster from latitude %v", call, g.Lat[0])
		}
	}
}
