package ingest_test

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/weather"
)

// One place of a grid or a table is found by its identifier or as the nearest,
// and has the hours that it has in the weather table.
func TestFind(t *testing.T) {
	dir := t.TempDir()
	hours := compile(t, filepath.Join(dir, "hours.nc"), hourly("stw"))
	var table strings.Builder
	table.WriteString("lat,lon,month,ghi_w_m2,air_temperature_c\n")
	for _, place := range []string{"20,10", "20,11", "21,10", "21,11"} {
		for m := range 12 {
			table.WriteString(place + "," + []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12"}[m] + ",200,20\n")
		}
	}
	months := put(t, dir, "months.csv", table.String())
	alone := compile(t, filepath.Join(dir, "alone.nc"), hourly("s"))
	nowhere := math.NaN()
	for _, tt := range []struct {
		file string
		wish ingest.Wish
		id   string // what is found, or the end of the error's line
	}{
		{hours, ingest.Wish{ID: "n31e0"}, "n31e0"},
		{hours, ingest.Wish{Lat: 30.4, Lon: 359.2}, "n30w1"},
		{hours, ingest.Wish{Lat: 20, Lon: 5}, "n30e1"},
		{hours, ingest.Wish{ID: "n99e0"}, ": no such place: n99e0"},
		{hours, ingest.Wish{Lat: nowhere, Lon: nowhere}, ": holds many places, of which one has to be chosen"},
		{months, ingest.Wish{Lat: 20.6, Lon: 10.4}, "n21e10"},
		{alone, ingest.Wish{ID: "n31e0"}, ": lacks air temperature; a grid of the same cells that has it may be given along with it"},
	} {
		sources, err := ingest.Files([]string{tt.file})
		if err != nil {
			t.Fatal(err)
		}
		o := ingest.Options{Sources: sources}
		site, year, _, err := ingest.Find(context.Background(), o, tt.wish)
		if err != nil {
			if !strings.HasPrefix(tt.id, ":") || err.Error() != tt.file+tt.id {
				t.Errorf("%+v: %v, want %s", tt.wish, err, tt.id)
			}
			continue
		}
		if !strings.EqualFold(site.ID, tt.id) && tt.file == hours {
			t.Errorf("%+v: %s, want %s", tt.wish, site.ID, tt.id)
		}
		out := filepath.Join(t.TempDir(), "weather")
		if _, err := runGrid(t, ingest.Options{Out: out}, tt.file); err != nil {
			t.Fatal(err)
		}
		all, err := weather.Open(out)
		if err != nil {
			t.Fatal(err)
		}
		defer all.Close()
		i, ok := all.Find(site.ID)
		if !ok {
			t.Errorf("%+v: %s is not in the table", tt.wish, site.ID)
			continue
		}
		if same := yearAt(t, all, i); same.GHI[4000] != year.GHI[4000] || all.Sites[i].Lat != site.Lat || all.Sites[i].Lon != site.Lon {
			t.Errorf("%s: not the site of the table", site.ID)
		}
	}
	var many *weather.FileError
	sources, _ := ingest.Files([]string{hours})
	if _, _, _, err := ingest.Find(context.Background(), ingest.Options{Sources: sources}, ingest.Wish{Lat: nowhere}); !errors.Is(err, ingest.ErrManyPlaces) || !errors.As(err, &many) {
		t.Errorf("no wish: %v", err)
	}
}
