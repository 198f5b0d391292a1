package grid

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/series"
)

// turned makes a file of a 30° grid of the Earth, its rows from the north or
// the south and its columns from a longitude on. Numbers of rows count from the
// south, those of columns from 180° W.
func turned(name string, northUp bool, from float64) *made {
	m := &made{name: name, read: map[[3]int]int{}}
	for y := range 6 {
		m.lat = append(m.lat, -75+30*float64(y))
	}
	m.row = same
	if northUp {
		slices.Reverse(m.lat)
		m.row = func(y int) int { return 5 - y }
	}
	for x := range 12 {
		m.lon = append(m.lon, from+30*float64(x))
	}
	m.col = func(x int) int { return int(math.Mod(m.lon[x]+180+720, 360)) / 30 }
	return m
}

// Rows and columns of files in another order are found.
func TestJoinTurned(t *testing.T) {
	for _, tt := range []struct {
		northUp bool
		from    float64
	}{{false, -180}, {true, -180}, {true, 0}, {false, 0}, {true, 30}, {false, 180}, {false, -330}} {
		a, b := turned("a.nc", false, -180), turned("b.nc", tt.northUp, tt.from)
		r := one(t, a.file(a.field(GHI, sixHours(), nil, 0)), b.file(b.field(AirTemperature, sixHours(), nil, 0)))
		cells, _ := r.Select(nil, 1)
		if len(cells) != 72 {
			t.Fatalf("%d cells", len(cells))
		}
		for _, bytes := range []int64{1 << 30, 2 * 1460 * 4 * 5 * 4 / 3} { // also by way of a scratch file
			loadAll(t, r, cells, bytes, t.TempDir())
		}
	}
}

// A region in a file that starts at Greenwich may lie across it.
func TestJoinAcrossGreenwich(t *testing.T) {
	earth := turned("earth.nc", true, 0)
	small := &made{name: "small.nc", lat: []float64{15, 45}, lon: []float64{330, 360, 390}, read: map[[3]int]int{},
		row: func(y int) int { return y + 3 }, col: func(x int) int { return x + 5 }}
	r := one(t, earth.file(earth.field(AirTemperature, sixHours(), nil, 0)), small.file(small.field(GHI, sixHours(), nil, 0)))
	if !slices.Equal(r.Lon, []float64{-30, 0, 30}) || len(r.Files) != 2 || r.Main().Name != "small.nc" {
		t.Fatalf("columns %v, main file %s", r.Lon, r.Main().Name)
	}
	l, err := r.NewLoader([]Cell{{1, 2}}, 1<<20, "")
	if err != nil {
		t.Fatal(err)
	}
	b := l.NewBand()
	if err := l.Load(context.Background(), b, 0); err != nil {
		t.Fatal(err)
	}
	if got, want := b.column(AirTemperature, 0)[7], at(AirTemperature, 7, 4, 7); got != want {
		t.Errorf("air at 45° N, 30° E: %.0f, want %.0f", got, want)
	}
}

// offered makes a file with fields of the given quantities on 2×2 cells.
func offered(name string, axis *series.Axis, quantities ...Quantity) *File {
	m := newMade(name, 2, 2)
	var fields []Field
	for _, q := range quantities {
		if q == Elevation {
			fields = append(fields, m.field(q, nil, nil, 0))
			continue
		}
		fields = append(fields, m.field(q, axis, nil, 0))
	}
	return m.file(fields...)
}

// moved puts a file's cells elsewhere.
func moved(f *File, lat float64) *File {
	f.Lat = []float64{lat, lat + 0.5}
	return f
}

// wider gives a file two rows and columns more around its cells.
func wider(f *File) *File {
	f.Lat, f.Lon = []float64{9.5, 10, 10.5, 11}, []float64{19.5, 20, 20.5, 21}
	return f
}

// set names the data set of a file.
func set(f *File, name string) *File { f.Set = name; return f }

// monthly makes the fields of a file means of the given months.
func monthly(f *File, months ...int) *File {
	for i := range f.Fields {
		if f.Fields[i].Quantity != Elevation {
			f.Fields[i].Axis, f.Fields[i].Months = nil, months
		}
	}
	return f
}

func edit(f *File, do func(*Field)) *File {
	for i := range f.Fields {
		do(&f.Fields[i])
	}
	return f
}

var all12 = []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}

// What becomes of files given together: the files of each region, and of the
// others and of what is left of those the reason.
func TestJoin(t *testing.T) {
	y1, y2 := hours("2001-01-01", 8760), hours("2002-01-01", 8760)
	half := hours("2001-07-01", 8760)
	tail := hours("2002-01-01", 8760-24*40)
	for _, tt := range []struct {
		name    string
		files   []*File
		regions string // the files of each, regions by semicolons
		left    []string
	}{
		{"one", []*File{offered("a", y1, GHI, AirTemperature)}, "a", nil},
		{"irradiance alone", []*File{offered("a", y1, GHI)}, "",
			[]string{"a: lacks air temperature; a grid of the same cells that has it may be given along with it"}},
		{"temperature and wind alone", []*File{offered("a", y1, AirTemperature, Wind)}, "",
			[]string{"a: lacks global horizontal irradiance (or direct and diffuse); a grid of the same cells that has it may be given along with it"}},
		{"direct without diffuse", []*File{offered("a", y1, DNI, AirTemperature)}, "",
			[]string{"a: lacks global horizontal irradiance (or direct and diffuse); a grid of the same cells that has it may be given along with it"}},
		{"direct and diffuse", []*File{offered("a", y1, DirectHorizontal, DHI, AirTemperature)}, "a", nil},
		{"irradiance and temperature apart", []*File{offered("a", y1, GHI), offered("b", y1, AirTemperature)}, "a b", nil},
		{"the same, of different cells", []*File{offered("a", y1, GHI), moved(offered("b", y1, AirTemperature), 30)}, "",
			[]string{"a: lacks air temperature; ", "b: lacks global horizontal irradiance"}},
		{"temperature of more cells", []*File{offered("a", y1, GHI), wider(offered("b", y1, AirTemperature))}, "a b", nil},
		{"irradiance of more cells", []*File{wider(offered("a", y1, GHI)), offered("b", y1, AirTemperature)}, "a b", nil},
		{"elevation of more cells", []*File{wider(offered("z", nil, Elevation)), offered("a", y1, GHI, AirTemperature)}, "z a", nil},
		{"elevation of fewer cells", []*File{offered("z", nil, Elevation), wider(offered("a", y1, GHI, AirTemperature))}, "a",
			[]string{"z: no weather, and no grid of weather whose cells it covers"}},
		{"a region within another", []*File{wider(offered("a", y1, GHI, AirTemperature, Wind)), offered("b", y1, GHI, AirTemperature)}, "a; b", nil},
		{"temperature of a whole region of more cells", []*File{wider(offered("a", y1, GHI, DNI, AirTemperature)), offered("b", y1, GHI)}, "a; a b", nil},
		{"years in any order", []*File{offered("b", y2, GHI, AirTemperature), offered("a", y1, GHI, AirTemperature)}, "b a", nil},
		{"a year twice", []*File{offered("a", y1, GHI, AirTemperature), offered("b", y1, GHI, AirTemperature)}, "a",
			[]string{"b: global_horizontal_irradiance left: a gives the same cells from 2001-01-01 to 2001-12-31, this from 2001-01-01 to 2001-12-31"}},
		{"overlapping years", []*File{offered("a", y1, GHI, AirTemperature), offered("b", half, GHI, AirTemperature), offered("c", y2, GHI, AirTemperature)}, "a c",
			[]string{"b: global_horizontal_irradiance left: a gives the same cells from 2001-01-01 to 2001-12-31, this from 2001-07-01 to 2002-06-30"}},
		{"a year twice, with wind", []*File{offered("a", y1, GHI, AirTemperature), offered("b", y1, GHI, Wind)}, "a b",
			[]string{"b! global_horizontal_irradiance left: a gives the same cells from 2001-01-01 to 2001-12-31, this from 2001-01-01 to 2001-12-31"}},
		{"other steps of one quantity", []*File{offered("a", y1, GHI, AirTemperature), offered("b", sixHours(), GHI)}, "a",
			[]string{"b: global_horizontal_irradiance left: steps of 6h0m0s, those of a are 1h0m0s"}},
		{"other steps of another quantity", []*File{offered("a", y1, GHI), offered("b", sixHours(), AirTemperature)}, "a b", nil},
		{"another reading of stamps", []*File{offered("a", y1, GHI, AirTemperature), edit(offered("b", y2, GHI), func(f *Field) {
			a := *f.Axis
			a.From = -3600
			f.Axis = &a
		})}, "a", []string{"b: global_horizontal_irradiance left: its stamps lie otherwise in their intervals than those of a"}},
		{"local time", []*File{edit(offered("a", y1, GHI), func(f *Field) { f.Local = true }), offered("b", y1, AirTemperature)}, "",
			[]string{"a: air_temperature has stamps in UTC, global_horizontal_irradiance in local time", "b: air_temperature has stamps in UTC, global"}},
		{"a part of a year", []*File{offered("a", tail, GHI, AirTemperature)}, "",
			[]string{"a: no global horizontal irradiance in November and December; twelve months are needed, of one year or of several"}},
		{"two parts of years", []*File{offered("a", tail, GHI, AirTemperature), offered("b", y1, GHI, AirTemperature)}, "a b", nil},
		{"months", []*File{monthly(offered("a", nil, GHI, AirTemperature), all12...)}, "a", nil},
		{"months in two files", []*File{monthly(offered("a", nil, GHI, AirTemperature), 7, 8, 9, 10, 11, 12), monthly(offered("b", nil, GHI, AirTemperature), 1, 2, 3, 4, 5, 6)}, "a b", nil},
		{"months missing", []*File{monthly(offered("a", nil, GHI, AirTemperature), 2, 3, 4, 5, 6, 9, 10, 11)}, "",
			[]string{"a: no global horizontal irradiance in July, August, December and January; "}},
		{"months of two years", []*File{monthly(offered("in/sun_2018_Jan-Dec.nc", nil, GHI, AirTemperature), all12...), monthly(offered("sun_2019_jan-dec.nc", nil, GHI, AirTemperature), all12...)}, "in/sun_2018_Jan-Dec.nc sun_2019_jan-dec.nc",
			[]string{"sun_2019_jan-dec.nc! months averaged with those of in/sun_2018_Jan-Dec.nc, as of other years"}},
		{"months of two data sets without names", []*File{monthly(offered("sun_2018.nc", nil, GHI, AirTemperature), all12...), monthly(offered("cloud_2018.nc", nil, GHI, AirTemperature), all12...)}, "sun_2018.nc",
			[]string{"cloud_2018.nc: global_horizontal_irradiance left: sun_2018.nc gives the same cells and months"}},
		{"months of two data sets", []*File{set(monthly(offered("a", nil, GHI, AirTemperature), all12...), "One"), set(monthly(offered("b", nil, GHI, AirTemperature), all12...), "Two")}, "a",
			[]string{"b: global_horizontal_irradiance left: a gives the same cells and months"}},
		{"months beside hours", []*File{offered("a", y1, GHI, AirTemperature), monthly(offered("b", nil, GHI, Wind), all12...)}, "a",
			[]string{"b: global_horizontal_irradiance left: means of months beside hours of irradiance"}},
		{"no fields", []*File{offered("a", y1, GHI, AirTemperature), offered("b", y1)}, "a",
			[]string{"b: gives nothing that hours or months of weather can be made of"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			regions, err := Join(tt.files)
			var got []string
			for _, r := range regions {
				var names []string
				for _, f := range r.Files {
					names = append(names, f.Name)
				}
				got = append(got, strings.Join(names, " "))
			}
			if text := strings.Join(got, "; "); text != tt.regions {
				t.Errorf("regions of %q, want %q", text, tt.regions)
			}
			var left []string
			if err != nil {
				left = strings.Split(err.Error(), "\n")
			}
			for _, f := range tt.files {
				for _, w := range f.Warnings {
					left = append(left, f.Name+"! "+w)
				}
			}
			ok := len(left) == len(tt.left)
			for i := range left {
				ok = ok && strings.HasPrefix(left[i], tt.left[i])
			}
			if !ok {
				t.Errorf("left\n%q, want\n%q", left, tt.left)
			}
		})
	}
}

// Years given in any order come in that of time, each value at its stamp.
func TestJoinYears(t *testing.T) {
	m := newMade("m", 2, 2)
	quarter := func(from string, t0 int) *File {
		a := hours(from, 24*365/4)
		return m.file(m.field(GHI, a, nil, t0), m.field(AirTemperature, a, nil, t0))
	}
	n := 24 * 365 / 4
	start := year.Stamp[0]
	var files []*File
	for _, k := range []int{2, 0, 3, 1} {
		f := quarter("2001-01-01", k*n)
		for i := range f.Fields {
			a := *f.Fields[i].Axis
			a.Stamp = nil
			for h := range n {
				a.Stamp = append(a.Stamp, start+int64(k*n+h)*3600)
			}
			f.Fields[i].Axis = &a
		}
		f.Name = fmt.Sprint("quarter ", k)
		files = append(files, f)
	}
	r := one(t, files...)
	if a := r.fields[GHI].axis; len(a.Stamp) != 8760 || !slices.IsSorted(a.Stamp) {
		t.Fatalf("%d stamps, sorted %v", len(a.Stamp), slices.IsSorted(a.Stamp))
	}
	cells, _ := r.Select(nil, 1)
	loadAll(t, r, cells, 1<<30, t.TempDir())
}

// Axes that are no grid are refused by name.
func TestCheck(t *testing.T) {
	for _, tt := range []struct {
		lat, lon, edges []float64
		want            string
	}{
		{nil, []float64{1}, nil, "f: no cells"},
		{[]float64{1, 2}, []float64{1}, []float64{1, 2}, "f: latitude: 2 edges of 2 rows"},
		{[]float64{1, math.NaN()}, []float64{1}, nil, "f: latitude: value 2 is NaN"},
		{[]float64{89, 91}, []float64{1}, nil, "f: latitude: value 2 is 91"},
		{[]float64{1, 2, 2}, []float64{1}, nil, "f: latitude: 2 after 2: neither rising nor falling"},
		{[]float64{1}, []float64{5, 6, 4}, nil, "f: longitude: 4 after 6: neither rising nor falling"},
		{[]float64{1}, []float64{0, 180, 360}, nil, "f: longitude: 0 to 360: cells beyond one turn"},
	} {
		_, err := Join([]*File{{Name: "f", Lat: tt.lat, Lon: tt.lon, LatEdges: tt.edges}})
		if err == nil || err.Error() != tt.want {
			t.Errorf("%v, want %s", err, tt.want)
		}
	}
}

// The cells of poles are one, of the date line west of it, and cells without
// neighbours have an extent all the same.
func TestCells(t *testing.T) {
	fields := func(m *made) *File {
		return m.file(m.field(GHI, sixHours(), nil, 0), m.field(AirTemperature, sixHours(), nil, 0))
	}
	grid := func(lat, lon []float64) *made {
		return &made{name: "f", lat: lat, lon: lon, row: same, col: same, read: map[[3]int]int{}}
	}
	for _, tt := range []struct {
		lat, lon []float64
		every    int
		ids      string
		edge     [2]float64 // of the first
	}{
		{[]float64{90, 0, -90}, []float64{0, 90, 180, 270}, 1, "n90e0 n0e0 n0e90 n0w180 n0w90 s90e0", [2]float64{90, 90}},
		{[]float64{10}, []float64{179.75, 180, 180.25}, 1, "n10e179.75 n10w180 n10w179.75", [2]float64{0.25, 0.25}},
		{[]float64{-10.00004}, []float64{-0.00001}, 1, "s10e0", [2]float64{0.1, 0.1}},
		{[]float64{1, 2, 3, 4}, []float64{7}, 3, "n2e7", [2]float64{3, 3}},
		{[]float64{1, 2}, []float64{7, 8}, 5, "n2e8", [2]float64{5, 5}},
		{[]float64{1, 2, 3, 4, 5}, []float64{7, 9}, 2, "n2e9 n4e9", [2]float64{2, 4}},
	} {
		r := one(t, fields(grid(tt.lat, tt.lon)))
		ground, err := r.Ground(context.Background(), tt.every)
		if err != nil {
			t.Fatal(err)
		}
		var ids []string
		cells, _ := r.Select(nil, tt.every)
		for _, c := range cells {
			ids = append(ids, r.id(c))
			if back, ok := r.Find(r.id(c)); !ok || back != c {
				t.Errorf("%s is found at %v, not at %v", r.id(c), back, c)
			}
			if r.Nearest(r.Lat[c.Row]+0.01, r.Lon[c.Col]-0.01+360) != c && math.Abs(r.Lat[c.Row]) < 89 {
				t.Errorf("%s is not nearest to itself", r.id(c))
			}
		}
		if got := strings.Join(ids, " "); got != tt.ids {
			t.Errorf("cells %s, want %s", got, tt.ids)
		}
		s := r.site(cells[0], ground)
		if got := [2]float64{s.CellDeg, s.CellLonDeg}; got != tt.edge {
			t.Errorf("%s: extent %v, want %v", tt.ids, got, tt.edge)
		}
	}
}

// The heights of the cells come from their places in a wider file, block by
// block.
func TestGround(t *testing.T) {
	wide := newMade("z", 9, 7)
	wide.lat = nil
	for y := range 9 {
		wide.lat = append(wide.lat, 13-0.5*float64(y)) // north-up, 13 to 9
	}
	wide.row = func(y int) int { return 6 - y } // number 0 at 10° N
	wide.lon = nil
	for x := range 7 {
		wide.lon = append(wide.lon, 19+0.5*float64(x))
	}
	wide.col = func(x int) int { return x - 2 }
	wide.chunkRows = 4
	m := newMade("a", 4, 3)
	r := one(t, m.file(m.field(GHI, sixHours(), nil, 0), m.field(AirTemperature, sixHours(), nil, 0)), wide.file(wide.field(Elevation, nil, nil, 0)))
	g, err := r.Ground(context.Background(), 1)
	if err != nil {
		t.Fatal(err)
	}
	for y := range 4 {
		for x := range 3 {
			if s := r.site(Cell{y, x}, g); s.Elevation != float64(at(Elevation, 0, y, x)) || len(s.Flags) != 0 {
				t.Errorf("cell %d, %d: %g m, flags %v", y, x, s.Elevation, s.Flags)
			}
		}
	}
	for block, n := range wide.read {
		if n > 1 {
			t.Errorf("block %v read %d times", block, n)
		}
	}
}

// Months are listed shortly, over the year's end.
func TestWithout(t *testing.T) {
	for want, lacking := range map[string][]int{
		"May":                              {5},
		"May and June":                     {5, 6},
		"May to July":                      {5, 6, 7},
		"November to February":             {11, 12, 1, 2},
		"February, April and June":         {2, 4, 6},
		"any month but March":              {1, 2, 4, 5, 6, 7, 8, 9, 10, 11, 12},
		"any month but January and July":   {2, 3, 4, 5, 6, 8, 9, 10, 11, 12},
		"any month but March and December": {1, 2, 4, 5, 6, 7, 8, 9, 10, 11},
		"any month":                        all12,
	} {
		have := everyMonth
		for _, m := range lacking {
			have[m-1] = false
		}
		if got := without(have); got != want {
			t.Errorf("without %v: %q, want %q", lacking, got, want)
		}
	}
}
