package weather_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// TestRoundTrip writes and reads tables whose last row group is empty, short,
// full or just begun.
func TestRoundTrip(t *testing.T) {
	for _, n := range []int{0, 1, 31, 32, 33, 65} {
		t.Run(fmt.Sprint(n, " sites"), func(t *testing.T) {
			table, err := weather.Open(write(t, n))
			if err != nil {
				t.Fatal(err)
			}
			defer table.Close()
			if len(table.Sites) != n {
				t.Fatalf("%d sites, want %d", len(table.Sites), n)
			}
			for i := range n {
				site, year := synthetic(i)
				wantSite(t, table.Sites[i], site)
				wantYear(t, table, i, year)
				if got, ok := table.Find(site.ID); !ok || got != i {
					t.Errorf("Find(%q) = %d, %v, want %d", site.ID, got, ok, i)
				}
			}
			if _, ok := table.Find("nowhere"); ok {
				t.Error("Find found a site that is not there")
			}
			for _, i := range []int{-1, n} {
				if _, err := table.Record(i); err == nil {
					t.Errorf("Record(%d) of %d sites gave no error", i, n)
				}
			}
		})
	}
}

// TestRoundTripExtremes holds on to the sign of zero in years, which sites do not
// have, the ends of the number ranges and any UTF-8.
func TestRoundTripExtremes(t *testing.T) {
	dir := t.TempDir()
	site := weather.Site{
		ID: "Ωμέγα/\"1\" 🌞", Name: "Île d’Halvane\n西", Lat: math.Copysign(0, -1), Lon: -180,
		Elevation: -math.MaxFloat64, UTCOffset: math.SmallestNonzeroFloat64,
		Kind: weather.KindGrid, CellDeg: math.Nextafter(0.25, 1),
		MissingHours: math.MaxInt32, FilledHours: math.MinInt32, Flags: []string{"é", "a b"},
	}
	year := weather.NewYear()
	extremes := []float32{float32(math.Copysign(0, -1)), 0, math.MaxFloat32, 1e6 + 1.0/16, 0.1, 419430.3}
	for k, c := range columnsOf(year) {
		for h := range *c {
			(*c)[h] = extremes[(h+k)%len(extremes)]
		}
	}
	bare, plain := weather.Site{ID: " ", Kind: weather.KindStation}, weather.NewYear()
	w, err := weather.Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for _, err := range []error{w.Append(site, year), w.Append(bare, plain), w.Close()} {
		if err != nil {
			t.Fatal(err)
		}
	}
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	wantSite(t, table.Sites[0], site)
	wantSite(t, table.Sites[1], bare)
	if math.Signbit(table.Sites[0].Lat) {
		t.Error("latitude −0 has kept its sign")
	}
	wantYear(t, table, 0, year)
	wantYear(t, table, 1, plain)
}

// TestRounding gives the nearest tenth, the even one between two: of absolute
// zero, a little below which float32 has -273.15, one that reading takes.
func TestRounding(t *testing.T) {
	given := []float32{0.04, 0.06, 0.25, 812.349, 0.1, math.SmallestNonzeroFloat32, 419430.26, 5e6 + 0.5, 1e30}
	want := []float32{0, 0.1, 0.2, 812.3, 0.1, 0, 419430.2, 5e6 + 0.5, 1e30}
	site, year := synthetic(0)
	year.Wind = slices.Repeat(given, weather.Hours)[:weather.Hours]
	wantYear := slices.Repeat(want, weather.Hours)
	year.AirTemperature[0], year.AirTemperature[1], year.AirTemperature[2] = -273.15, -0.06, 21.37
	dir := t.TempDir()
	for range 2 { // the second time the rounded values
		w, err := weather.Create(dir)
		if err != nil {
			t.Fatal(err)
		}
		defer w.Abort()
		if err := errors.Join(w.Append(site, year), w.Close()); err != nil {
			t.Fatal(err)
		}
		if _, year, err = weather.Lookup(dir, site.ID); err != nil {
			t.Fatal(err)
		}
		for h, x := range year.Wind {
			if x != wantYear[h] {
				t.Fatalf("hour %d: %v rounded to %v, want %v", h, given[h%len(given)], x, wantYear[h])
			}
		}
		if a := year.AirTemperature; a[0] != -273.1 || a[1] != -0.1 || a[2] != 21.4 {
			t.Errorf("temperatures %v, want -273.1, -0.1, 21.4", a[:3])
		}
	}
}

// TestSameBytes writes twice the same, into fresh and into used folders, encoding
// one and four row groups at a time, with numbers that fill dictionaries beyond their limit and numbers that do not.
func TestSameBytes(t *testing.T) {
	for name, change := range map[string]func(*weather.Year) *weather.Year{"rounded": nil, "unrounded": unrounded} {
		one, two := t.TempDir(), t.TempDir()
		writeTo(t, one, 1, nil)
		was := runtime.GOMAXPROCS(1)
		writeTo(t, one, 70, change)
		runtime.GOMAXPROCS(4)
		writeTo(t, two, 70, change)
		runtime.GOMAXPROCS(was)
		for _, file := range append(partsOf(t, two), "sites.parquet") {
			a, b := readFile(t, one, file), readFile(t, two, file)
			if !bytes.Equal(a, b) {
				t.Errorf("%s, %s: two writes differ", name, file)
			}
		}
		entries, err := os.ReadDir(one)
		if err != nil || len(entries) != 2 {
			t.Errorf("%s: the folder holds %v, %v; want the two files", name, entries, err)
		}
	}
}

// TestAppendRefuses feeds what does not fit, and finds the table whole after.
func TestAppendRefuses(t *testing.T) {
	dir := t.TempDir()
	w, err := weather.Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	first, firstYear := synthetic(0)
	if err := w.Append(first, firstYear); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name string
		bad  func(*weather.Site, *weather.Year)
		want string
	}{
		{"same identifier", func(s *weather.Site, _ *weather.Year) { s.ID = first.ID }, `site "HV-0000": site_id is there already`},
		{"no identifier", func(s *weather.Site, _ *weather.Year) { s.ID = "" }, "site_id is empty"},
		{"short column", func(_ *weather.Site, y *weather.Year) { y.Wind = y.Wind[1:] }, `site "HV-0001": wind_speed_m_s has 8759 hours, want 8760`},
		{"no column", func(_ *weather.Site, y *weather.Year) { y.Snow = nil }, "snow_depth_cm has 0 hours"},
		{"NaN", func(_ *weather.Site, y *weather.Year) { y.GHI[17] = float32(math.NaN()) }, "ghi_w_m2, hour 17: NaN"},
		{"infinity", func(_ *weather.Site, y *weather.Year) { y.SkyInfrared[8759] = float32(math.Inf(-1)) }, "sky_infrared_w_m2, hour 8759: -Inf"},
		{"negative", func(_ *weather.Site, y *weather.Year) { y.DHI[0] = -1 }, "dhi_w_m2, hour 0: -1, want a finite value of at least 0"},
		{"latitude", func(s *weather.Site, _ *weather.Year) { s.Lat = 90.01 }, "lat: 90.01 is outside"},
		{"longitude", func(s *weather.Site, _ *weather.Year) { s.Lon = 200 }, "lon: 200 is outside"},
		{"degree days", func(s *weather.Site, _ *weather.Year) { s.HDD[11] = math.NaN() }, "hdd_12: NaN is not"},
		{"kind", func(s *weather.Site, _ *weather.Year) { s.Kind = "roof" }, `kind: "roof" is neither`},
		{"year", func(s *weather.Site, _ *weather.Year) { s.Year[0] = math.MaxInt32; s.Year[0]++ }, "year_01: 2147483648 does not fit"},
		{"separator in a flag", func(s *weather.Site, _ *weather.Year) { s.Flags = []string{"a;b"} }, `flags: flag "a;b"`},
		{"empty flag", func(s *weather.Site, _ *weather.Year) { s.Flags = []string{""} }, `flags: flag ""`},
		{"Latin-1", func(s *weather.Site, _ *weather.Year) { s.Name = "\xcele" }, "name: \"\\xcele\" is not UTF-8"},
	} {
		site, year := synthetic(1)
		tt.bad(&site, year)
		err := w.Append(site, year)
		if !errors.Is(err, weather.ErrRefused) || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want a refusal with %q in it", tt.name, err, tt.want)
		}
	}
	second, secondYear := synthetic(1)
	if err := w.Append(second, secondYear); err != nil {
		t.Fatal(err)
	}
	if second.Flags[0] = "changed afterwards"; w.Close() != nil {
		t.Fatal("Close failed")
	}
	if w.Append(first, firstYear) == nil || w.Close() == nil {
		t.Error("a closed writer took another site or closed twice")
	}
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	if len(table.Sites) != 2 || table.Sites[1].Flags[0] == "changed afterwards" {
		t.Errorf("sites %+v, want the two that fit, as they were", table.Sites)
	}
	wantYear(t, table, 1, secondYear)
}

// TestAbort leaves an older table alone and nothing of the new one.
func TestAbort(t *testing.T) {
	dir := write(t, 2)
	before := readFile(t, dir, "sites.parquet")
	w, err := weather.Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	site, year := synthetic(5)
	if err := w.Append(site, year); err != nil {
		t.Fatal(err)
	}
	w.Abort()
	if entries, _ := os.ReadDir(dir); len(entries) != 2 {
		t.Errorf("the folder holds %v, want the two old files", entries)
	}
	if !bytes.Equal(before, readFile(t, dir, "sites.parquet")) {
		t.Error("an aborted table changed the old one")
	}
}

// TestColumns compares the description with the names in interface order.
func TestColumns(t *testing.T) {
	want := strings.Fields(`site_id hour ghi_w_m2 dni_w_m2 dhi_w_m2 air_temperature_c wind_speed_m_s sky_infrared_w_m2
		snow_depth_cm site_id name lat lon elevation_m utc_offset_h country source kind cell_deg cell_lon_deg missing_hours filled_hours
		flags split_model year_p10 year_p90`)
	for _, prefix := range []string{"year", "clock_min", "hdd", "cdd"} {
		for m := 1; m <= 12; m++ {
			want = append(want, fmt.Sprintf("%s_%02d", prefix, m))
		}
	}
	want = append(want, "hours_file", "hours_site")
	var got []string
	for _, c := range weather.Columns() {
		got = append(got, c.Name)
		if c.Meaning == "" || c.File == "" {
			t.Errorf("%s has no meaning or file", c.Name)
		}
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("columns\n%v, want\n%v", got, want)
	}
}

// TestNearest checks distances with closed forms on the sphere of the mean
// radius 6371.0088 km and one published pair of places.
func TestNearest(t *testing.T) {
	const radius = 6371.0088
	at := func(lat, lon float64) (*weather.Table, func()) {
		dir := t.TempDir()
		w, err := weather.Create(dir)
		if err != nil {
			t.Fatal(err)
		}
		defer w.Abort()
		site := weather.Site{ID: "x", Lat: lat, Lon: lon, Kind: weather.KindStation}
		if err := w.Append(site, weather.NewYear()); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		table, err := weather.Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		return table, func() { table.Close() }
	}
	for _, tt := range []struct {
		name                             string
		siteLat, siteLon, lat, lon, want float64
		tolerance                        float64
	}{
		{"same place", 47, 11, 47, 11, 0, 0},
		{"a thousandth of a degree north", 47, 11, 47.001, 11, radius * math.Pi / 180e3, 1e-9},
		{"pole to equator", 90, 0, 0, 123, radius * math.Pi / 2, 1e-9},
		{"over the date line", 0, 179.5, 0, -179.5, radius * math.Pi / 180, 1e-9},
		{"antipodes", 33.3, 20, -33.3, -160, radius * math.Pi, 1e-6},
		// J. Meeus, Astronomical Algorithms, chapter 11, gives about 6166 km on a
		// sphere of radius 6371 km between the observatories of Paris and
		// Washington; quoted from memory.
		{"Paris to Washington", 48 + 50./60 + 11./3600, 2 + 20./60 + 14./3600,
			38 + 55./60 + 17./3600, -(77 + 3./60 + 56./3600), 6166, 1},
	} {
		table, done := at(tt.siteLat, tt.siteLon)
		if i, km := table.Nearest(tt.lat, tt.lon); i != 0 || !(math.Abs(km-tt.want) <= tt.tolerance) {
			t.Errorf("%s: site %d at %.9f km, want 0 at %.9f", tt.name, i, km, tt.want)
		}
		if i, km := table.Nearest(math.NaN(), 0); i != -1 || !math.IsInf(km, 1) {
			t.Errorf("%s: NaN is nearest to %d at %v km", tt.name, i, km)
		}
		done()
	}
	table, err := weather.Open(write(t, 40))
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	if i, _ := table.Nearest(table.Sites[17].Lat+0.2, table.Sites[17].Lon-0.2); i != 17 {
		t.Errorf("nearest to a place beside site 17 is site %d", i)
	}
}

func wantSite(t *testing.T, got, want weather.Site) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("site\n%+v, want\n%+v", got, want)
	}
}

// wantYear reads site i and compares every bit.
func wantYear(t *testing.T, table *weather.Table, i int, want *weather.Year) {
	t.Helper()
	rec, err := table.Record(i)
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Release()
	got, err := weather.YearOf(rec)
	if err != nil {
		t.Fatal(err)
	}
	if k, h := firstDifference(got, want); k >= 0 {
		t.Errorf("site %d, column %d, hour %d: %v, want %v", i, k, h, (*columnsOf(got)[k])[h], (*columnsOf(want)[k])[h])
	}
}

// firstDifference compares two years bit by bit; it returns −1 when none differs.
func firstDifference(a, b *weather.Year) (column, hour int) {
	for k, c := range columnsOf(a) {
		for h, x := range *c {
			if math.Float32bits(x) != math.Float32bits((*columnsOf(b)[k])[h]) {
				return k, h
			}
		}
	}
	return -1, -1
}

func readFile(t *testing.T, dir, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}
