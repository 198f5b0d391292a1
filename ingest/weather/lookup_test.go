package weather_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// TestLookup compares what the look-ups give with what the table does.
func TestLookup(t *testing.T) {
	dir := write(t, 40)
	table := openTable(t, dir)
	for _, i := range []int{0, 17, 31, 32, 39} {
		want, wantYear := synthetic(i)
		site, year, err := weather.Lookup(dir, want.ID)
		if err != nil {
			t.Fatal(err)
		}
		wantSite(t, site, want)
		if c, h := firstDifference(year, wantYear); c >= 0 {
			t.Errorf("site %d: column %d, hour %d differs", i, c, h)
		}
		lat, lon := want.Lat+0.3, want.Lon-0.2
		site, year, km, err := weather.Near(dir, lat, lon)
		if err != nil {
			t.Fatal(err)
		}
		k, wantKM := table.Nearest(lat, lon)
		wantSite(t, site, table.Sites[k])
		if _, y := synthetic(k); km != wantKM || !slices.Equal(y.Wind, year.Wind) {
			t.Errorf("near %v, %v: %v km, want %v, or another year", lat, lon, km, wantKM)
		}
	}
	for _, err := range []error{
		func() error { _, _, err := weather.Lookup(dir, "nowhere"); return err }(),
		func() error { _, _, _, err := weather.Near(dir, math.NaN(), 0); return err }(),
		func() error { _, _, _, err := weather.Near(write(t, 0), 0, 0); return err }(),
	} {
		if !errors.Is(err, weather.ErrNoSite) {
			t.Errorf("error %v, want %v", err, weather.ErrNoSite)
		}
	}
	if _, _, err := weather.Lookup(t.TempDir(), "x"); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no table: error %v", err)
	}
	part := partsOf(t, dir)[0]
	put(t, dir, part, readFile(t, dir, part)[:9000])
	if _, _, err := weather.Lookup(dir, "HV-0000"); err == nil || !strings.Contains(err.Error(), part) {
		t.Errorf("a damaged part: error %v, want one naming it", err)
	}
}

// bytesRead is what this process has read from files, by the system's count.
func bytesRead(t *testing.T) (n int64) {
	t.Helper()
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		t.Skipf("no count of bytes read: %v", err)
	}
	if _, err := fmt.Sscanf(string(text), "rchar: %d", &n); err != nil {
		t.Fatal(err)
	}
	return n
}

// TestLookupReadsLittle counts the bytes that look-ups read in tables of 1100
// and 3300 sites: the second takes little more, and neither much.
func TestLookupReadsLittle(t *testing.T) {
	var took [2]int64
	for k, sites := range []int{1100, 3300} {
		dir := t.TempDir()
		w, err := weather.Create(dir)
		if err != nil {
			t.Fatal(err)
		}
		defer w.Abort()
		var years []*weather.Year
		_, quiet := bare("", 3)
		for i := range 8 {
			_, y := synthetic(i)
			years = append(years, y)
		}
		site := func(i int) weather.Site {
			s := weather.Site{ID: fmt.Sprintf("cell-%05d", i), Name: fmt.Sprint("Cell ", i), Kind: weather.KindGrid,
				Lat: float64(i/60) - 40, Lon: float64(i%60) * 1.5, CellDeg: 1, Source: "invented grid.nc"}
			for m := range 12 {
				s.HDD[m], s.CDD[m] = math.Sqrt(float64(i+m)), math.Sqrt(float64(i*m))
			}
			return s
		}
		for i := range sites {
			year := quiet
			if i < 128 {
				year = years[i%len(years)]
			}
			if err := w.Append(site(i), year); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		wanted := site(100)
		start := bytesRead(t)
		got, year, err := weather.Lookup(dir, wanted.ID)
		if err != nil {
			t.Fatal(err)
		}
		byID := bytesRead(t) - start
		wantSite(t, got, wanted)
		start = bytesRead(t)
		near, _, _, err := weather.Near(dir, wanted.Lat+0.01, wanted.Lon)
		if err != nil {
			t.Fatal(err)
		}
		byPlace := bytesRead(t) - start
		wantSite(t, near, wanted)
		if c, h := firstDifference(year, years[100%len(years)]); c >= 0 {
			t.Errorf("column %d, hour %d differs", c, h)
		}
		t.Logf("%d sites: %d bytes by identifier, %d by place", sites, byID, byPlace)
		took[k] = max(byID, byPlace)
		if took[k] > 1<<19 {
			t.Errorf("%d sites: %d bytes read, want less than 512 KiB", sites, took[k])
		}
	}
	if grown := took[1] - took[0]; grown > 2200*50 {
		t.Errorf("2200 more sites took %d more bytes, want at most 50 each", grown)
	}
}
