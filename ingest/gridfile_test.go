package ingest_test

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/weather"
)

// A cdl is a grid in the text form of NetCDF: 2 rows and 3 columns.
type cdl struct {
	lat, lon, time string // values; a year of hours where time is empty
	units          string // of time
	attrs          string // of time
	vars, data     string
}

func (c cdl) String() string {
	or := func(s, otherwise string) string {
		if s == "" {
			return otherwise
		}
		return s
	}
	lat, lon, time := or(c.lat, "30, 31"), or(c.lon, "-1, 0, 1"), or(c.time, numbers(weather.Hours, func(i int) float64 { return float64(i) }))
	n := func(list string) int { return strings.Count(list, ",") + 1 }
	return fmt.Sprintf(`netcdf made {
dimensions: time = %d ; lat = %d ; lon = %d ; two = 2 ;
variables:
	double time(time) ; time:units = "%s" ; %s
	double lat(lat) ; lat:units = "degrees_north" ;
	double lon(lon) ; lon:units = "degrees_east" ;
	%s
data:
	time = %s ; lat = %s ; lon = %s ;
	%s
}`, n(time), n(lat), n(lon), or(c.units, "hours since 2001-01-01"), c.attrs, c.vars, time, lat, lon, c.data)
}

// numbers lists n values.
func numbers(n int, at func(i int) float64) string {
	var b strings.Builder
	for i := range n {
		if i > 0 {
			b.WriteString(", ")
		}
		if v := at(i); math.IsNaN(v) {
			b.WriteString("NaN")
		} else {
			fmt.Fprintf(&b, "%.6g", v)
		}
	}
	return b.String()
}

const cells = 6 // of a cdl

// sunny is a global irradiance at hour h of cell c, by the sun of its latitude at
// solar noon by the clock of Greenwich, through a sky that differs with cell and day.
func sunny(h, c int) float64 {
	const rad = math.Pi / 180
	dec := 23.45 * rad * math.Sin(2*math.Pi*(float64(h/24)-80)/365)
	lat := (30 + float64(c/3)) * rad
	up := math.Sin(lat)*math.Sin(dec) + math.Cos(lat)*math.Cos(dec)*math.Cos((float64(h%24)+0.5-12)*15*rad)
	return math.Round(10*1050*math.Pow(max(0, up), 1.15)*(1-0.1*float64((h/24+c)%7))) / 10
}

func warm(h, c int) float64 {
	return 285 + float64(h%24)/3 + float64(c) + 10*math.Sin(float64(h)/1400-1.5)
}

// a variable of the grid in CDL: its declaration and its values.
func variable(name, standard, units string, at func(h, c int) float64) (vars, data string) {
	return fmt.Sprintf("float %s(time, lat, lon) ; %[1]s:standard_name = \"%[2]s\" ; %[1]s:units = \"%[3]s\" ; %[1]s:cell_methods = \"time: mean\" ;\n\t", name, standard, units),
		fmt.Sprintf("%s = %s ;\n\t", name, numbers(weather.Hours*cells, func(i int) float64 { return at(i/cells, i%cells) }))
}

// hourly is a whole hourly grid of the named variables: s(un), t(emperature), w(ind).
func hourly(of string) cdl {
	c := cdl{attrs: `time:bounds = "bounds" ;`, vars: "double bounds(time, two) ;\n\t"}
	c.data = "bounds = " + numbers(2*weather.Hours, func(i int) float64 { return float64((i + 1) / 2) }) + " ;\n\t"
	for _, v := range of {
		var vars, data string
		switch v {
		case 's':
			vars, data = variable("rsds", "surface_downwelling_shortwave_flux_in_air", "W m-2", sunny)
		case 't':
			vars, data = variable("tas", "air_temperature", "K", warm)
		case 'w':
			vars, data = variable("wind", "wind_speed", "m s-1", func(h, c int) float64 { return 2 + float64((h+c)%5) })
		}
		c.vars, c.data = c.vars+vars, c.data+data
	}
	return c
}

// tool runs a program, and skips the test where it is absent.
func tool(t testing.TB, name string, args ...string) {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Skipf("%s (Debian netcdf-bin) is absent", name)
	}
	if out, err := exec.Command(path, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %v: %v\n%s", name, args, err, out)
	}
}

// compile makes the classic file path of CDL.
func compile(t testing.TB, path string, c fmt.Stringer) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	text := filepath.Join(t.TempDir(), "made.cdl")
	if err := os.WriteFile(text, []byte(c.String()), 0o666); err != nil {
		t.Fatal(err)
	}
	tool(t, "ncgen", "-k", "classic", "-o", path, text)
	return path
}

// runGrid ingests files with options.
func runGrid(t *testing.T, o ingest.Options, files ...string) (ingest.Summary, error) {
	t.Helper()
	sources, err := ingest.Files(files)
	if err != nil {
		t.Fatal(err)
	}
	o.Sources, o.Workers = sources, 2
	return ingest.Run(context.Background(), o)
}

// One grid in every kind of file, stored in blocks of any shape, with memory
// for all of it or for two cells, gives one weather table to the byte; and its
// values are those that were put in.
func TestGridKinds(t *testing.T) {
	dir := t.TempDir()
	classic := compile(t, filepath.Join(dir, "classic", "grid.nc"), hourly("stw"))
	var first map[string]string
	for _, k := range []struct {
		name   string
		args   []string // of nccopy
		memory int64
	}{
		{"classic", nil, 0},
		{"classic, little memory", nil, 2 << 20},
		{"64-bit offset", []string{"-k", "nc6"}, 0},
		{"CDF-5", []string{"-k", "cdf5"}, 0},
		{"packed in time", []string{"-k", "nc4", "-d1", "-c", "time/8760,lat/1,lon/1"}, 0},
		{"packed in slices", []string{"-k", "nc4", "-d1", "-s", "-c", "time/24,lat/2,lon/3"}, 0},
		{"packed in slices, little memory", []string{"-k", "nc4", "-d1", "-c", "time/24,lat/2,lon/2"}, 2 << 20},
	} {
		path := classic
		if k.args != nil {
			path = filepath.Join(dir, k.name, "grid.nc")
			if err := os.Mkdir(filepath.Dir(path), 0o777); err != nil {
				t.Fatal(err)
			}
			tool(t, "nccopy", append(k.args, classic, path)...)
		}
		out := filepath.Join(t.TempDir(), "weather")
		sum, err := runGrid(t, ingest.Options{Out: out, Memory: k.memory}, path)
		if err != nil || sum.Sites != cells || sum.SetAside != 0 {
			t.Fatalf("%s: %d sites, %d set aside, %v: %v", k.name, sum.Sites, sum.SetAside, err, sum.Reasons())
		}
		got := contents(t, out)
		got["/sites.parquet"] = sitesOf(t, out) // its metadata have the fingerprint of the input
		if first == nil {
			first = got
			checkHours(t, out)
		}
		for name, text := range first {
			if got[name] != text || len(got) != len(first) {
				t.Errorf("%s: %s differs from the classic file's", k.name, name)
			}
		}
	}
}

// sitesOf gives the sites of a table as text.
func sitesOf(t *testing.T, dir string) string {
	t.Helper()
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	return fmt.Sprintf("%+v", table.Sites)
}

// checkHours holds a table against what hourly puts in; all cells are in the
// zone of Greenwich.
func checkHours(t *testing.T, dir string) {
	t.Helper()
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	for i, s := range table.Sites {
		if want := []string{"n30w1", "n30e0", "n30e1", "n31w1", "n31e0", "n31e1"}[i]; s.ID != want || s.CellDeg != 1 || s.UTCOffset != 0 {
			t.Errorf("site %d: %s, cell %g°, zone %g, want %s", i, s.ID, s.CellDeg, s.UTCOffset, want)
		}
		y := yearAt(t, table, i)
		for h := range weather.Hours {
			if g, a, w := sunny(h, i), warm(h, i)-273.15, 2+float64((h+i)%5); math.Abs(float64(y.GHI[h])-g) > 0.06 ||
				math.Abs(float64(y.AirTemperature[h])-a) > 0.06 || float64(y.Wind[h]) != w {
				t.Fatalf("%s, hour %d: %g W/m², %g °C, %g m/s, want %g, %g, %g", s.ID, h, y.GHI[h], y.AirTemperature[h], y.Wind[h], g, a, w)
			}
		}
	}
}

func yearAt(t *testing.T, table *weather.Table, i int) *weather.Year {
	t.Helper()
	rec, err := table.Record(i)
	if err != nil {
		t.Fatal(err)
	}
	y, err := weather.YearOf(rec)
	if err != nil {
		t.Fatal(err)
	}
	return y
}

// Irradiance, temperature and wind of the same cells in three files make the
// same hours as in one; each file's part is told.
func TestGridJoined(t *testing.T) {
	dir := t.TempDir()
	var files []string
	for _, of := range []string{"s", "t", "w"} {
		files = append(files, compile(t, filepath.Join(dir, of+".nc"), hourly(of)))
	}
	out := filepath.Join(dir, "weather")
	sum, err := runGrid(t, ingest.Options{Out: out}, files[1], files[0], files[2])
	if err != nil || sum.Sites != cells {
		t.Fatalf("%d sites, %v: %v", sum.Sites, err, sum.Reasons())
	}
	checkHours(t, out)
	for i, want := range []string{ingest.StatusJoined, ingest.StatusOK, ingest.StatusJoined} {
		in := sum.Inputs[i]
		if in.Status != want || want == ingest.StatusJoined && in.Reason != "with "+files[0] || in.SHA256 == "" {
			t.Errorf("%s: %s, %q", in.Name, in.Status, in.Reason)
		}
	}
	if c := sum.Inputs[1].Cells; c.All != cells || !slices.Equal(c.With, []string{files[1], files[2]}) {
		t.Errorf("cells %+v", c)
	}
	// An area and thinning: the middle one of 2 rows and 3 columns, then what of it
	// lies in the area.
	for _, tt := range []struct {
		o                ingest.Options
		ids              []string
		outside, thinned int
		status           string
	}{
		{ingest.Options{Every: 3}, []string{"n31e0"}, 0, 5, ingest.StatusOK},
		{ingest.Options{Within: func(lat, lon, _, _ float64) bool { return lon < 0.5 && lat < 30.5 }}, []string{"n30w1", "n30e0"}, 4, 0, ingest.StatusOK},
		{ingest.Options{Every: 2, Within: func(lat, lon, _, _ float64) bool { return lon == 0 }}, []string{"n31e0"}, 0, 5, ingest.StatusOK},
		{ingest.Options{Within: func(lat, lon, _, _ float64) bool { return false }}, nil, 6, 0, ingest.StatusOutside},
	} {
		tt.o.Out = filepath.Join(t.TempDir(), "weather")
		sum, err := runGrid(t, tt.o, files...)
		in := sum.Inputs[0]
		if (err == nil) != (tt.ids != nil) || in.Cells.Outside != tt.outside || in.Cells.Thinned != tt.thinned || in.Status != tt.status {
			t.Errorf("%v: %v, %s, cells %+v", tt.ids, err, in.Status, in.Cells)
		}
		if err != nil {
			continue
		}
		table, err := weather.Open(tt.o.Out)
		if err != nil {
			t.Fatal(err)
		}
		defer table.Close()
		var ids []string
		for _, s := range table.Sites {
			ids = append(ids, s.ID)
		}
		if !slices.Equal(ids, tt.ids) {
			t.Errorf("sites %v, want %v", ids, tt.ids)
		}
	}
}

// goodGrid is a grid of other cells than those of a cdl.
func goodGrid(t *testing.T) string {
	c := hourly("st")
	c.lat = "40, 41"
	return compile(t, filepath.Join(t.TempDir(), "good.nc"), c)
}

// A grid is damaged in one way each; the reason names file and variable in one
// line, and a good grid beside it becomes sites.
func TestGridBad(t *testing.T) {
	dir := t.TempDir()
	good := goodGrid(t)
	change := func(do func(*cdl)) cdl { c := hourly("st"); do(&c); return c }
	replace := func(s *string, old, new string) {
		if !strings.Contains(*s, old) {
			t.Fatalf("no %q", old)
		}
		*s = strings.Replace(*s, old, new, 1)
	}
	stamps := func(edit func(i int) float64) func(*cdl) {
		return func(c *cdl) { c.time = numbers(weather.Hours, edit) }
	}
	for _, tt := range []struct {
		name   string
		grid   cdl
		reason string // after the file
	}{
		{"no-time", change(func(c *cdl) {
			c.vars = strings.ReplaceAll(c.vars, "(time, lat, lon)", "(lat, lon)")
			c.vars = strings.ReplaceAll(c.vars, "time: mean", "area: mean")
			c.data = "rsds = 1, 2, 3, 4, 5, 6 ; tas = 1, 2, 3, 4, 5, 6 ;"
		}), ": rsds: no time axis: hours, or means of twelve months, are needed"},
		{"descending", change(stamps(func(i int) float64 { return float64(9000 - i) })), ": time: record 2, 8999, comes after 9000: times have to rise"},
		{"duplicate", change(stamps(func(i int) float64 { return float64(i - i/5000) })), ": time: record 5001, 4999, repeats 4999: times have to rise"},
		{"gap", change(stamps(func(i int) float64 { return float64(i + i/5000*3) })), ": time: records 5000 and 5001 lie 4 h apart, others 1 h: steps have to be even"},
		{"furlong", change(func(c *cdl) { replace(&c.vars, `"W m-2"`, `"furlong"`) }), `: rsds: units: `},
		{"no-unit", change(func(c *cdl) { replace(&c.vars, `tas:units = "K" ;`, "") }), ": tas: has no units"},
		{"calendar", change(func(c *cdl) { c.attrs += `time:calendar = "lunar" ;` }), ": time: "},
		{"no-place", change(func(c *cdl) { c.lat = "NaN, 31" }), ": lat: "},
		{"nan-sun", change(func(c *cdl) {
			_, c.data = variable("rsds", "", "", func(int, int) float64 { return math.NaN() })
			_, air := variable("tas", "", "", warm)
			c.data += air + "bounds = " + numbers(2*weather.Hours, func(i int) float64 { return float64((i + 1) / 2) }) + " ;"
		}), ": no data in any of its 6 cells"},
		{"nan-sun-at-unsaid-times", change(func(c *cdl) {
			_, c.data = variable("rsds", "", "", func(int, int) float64 { return math.NaN() })
			_, air := variable("tas", "", "", warm)
			c.data += air
			c.attrs = ""
		}), ": no data in any of its 6 cells"},
		{"night", change(func(c *cdl) {
			_, c.data = variable("rsds", "", "", func(int, int) float64 { return 0 })
			_, air := variable("tas", "", "", warm)
			c.data += air + "bounds = " + numbers(2*weather.Hours, func(i int) float64 { return float64((i + 1) / 2) }) + " ;"
		}), ": 6 cells, first n30w1: "},
	} {
		t.Run(tt.name, func(t *testing.T) {
			path := compile(t, filepath.Join(dir, tt.name+".nc"), tt.grid)
			sum, err := runGrid(t, ingest.Options{Out: filepath.Join(t.TempDir(), "w")}, path, good)
			if err != nil || sum.Sites != cells || sum.SetAside != 1 {
				t.Errorf("%d sites, %d set aside, %v", sum.Sites, sum.SetAside, err)
			}
			list := sum.Reasons()
			if len(list) != 1 || !strings.HasPrefix(list[0], path+tt.reason) || strings.Contains(list[0], "\n") {
				t.Errorf("reasons %q, want %s%s", list, path, tt.reason)
			}
		})
	}
	// Rows without data are counted, the others become sites.
	c := hourly("t")
	vars, data := variable("rsds", "surface_downwelling_shortwave_flux_in_air", "W m-2", func(h, c int) float64 {
		if c < 3 {
			return math.NaN()
		}
		return sunny(h, c)
	})
	c.vars, c.data = c.vars+vars, c.data+data
	sum, err := runGrid(t, ingest.Options{Out: filepath.Join(t.TempDir(), "w")}, compile(t, filepath.Join(dir, "nan.nc"), c))
	if err != nil || sum.Sites != 3 || sum.Inputs[0].Cells.Empty != 3 || sum.SetAside != 0 {
		t.Errorf("NaN rows: %d sites, %v, %+v", sum.Sites, err, sum.Inputs[0].Cells)
	}
}

// Truncated files and such with flipped bits are set aside by name or read; the
// good grid beside them always becomes sites.
func TestGridDamaged(t *testing.T) {
	dir := t.TempDir()
	classic := compile(t, filepath.Join(dir, "classic.nc"), hourly("st"))
	packed := filepath.Join(dir, "packed.nc")
	tool(t, "nccopy", "-k", "nc4", "-d1", "-c", "time/2000,lat/2,lon/3", classic, packed)
	good := goodGrid(t)
	for _, file := range []string{classic, packed} {
		whole, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		check := func(what string, content []byte, must bool) {
			path := put(t, dir, "damaged.nc", string(content))
			sum, err := runGrid(t, ingest.Options{Out: filepath.Join(t.TempDir(), "w")}, path, good)
			if err != nil || sum.Sites < cells || sum.Inputs[1].Sites != cells {
				t.Errorf("%s: %d sites, %v: %q", what, sum.Sites, err, sum.Reasons())
			}
			if must && sum.Inputs[0].Status != ingest.StatusSetAside {
				t.Errorf("%s: %s", what, sum.Inputs[0].Status)
			}
			for _, r := range sum.Reasons() {
				if !strings.HasPrefix(r, path+": ") && !strings.HasPrefix(r, path+":1: ") || strings.Contains(r, "\n") {
					t.Errorf("%s: reason %q", what, r)
				}
			}
		}
		base := filepath.Base(file)
		for _, part := range []float64{0.001, 0.3, 0.9, 0.999} {
			n := int(part * float64(len(whole)))
			check(fmt.Sprintf("%s cut at %d of %d bytes", base, n, len(whole)), whole[:n], true)
		}
		for k := range 12 {
			content := bytes.Clone(whole)
			at := k * 37 // in the header, where it hurts most
			if k >= 8 {
				at = len(whole) / 12 * k
			}
			content[at] ^= 1 << (k % 8)
			check(fmt.Sprintf("%s, byte %d", base, at), content, false)
		}
	}
}
