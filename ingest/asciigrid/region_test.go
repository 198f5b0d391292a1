package asciigrid_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"stillrow/ingest/asciigrid"
	"stillrow/ingest/grid"
	"stillrow/ingest/weather"
)

// Twelve grids of irradiance, twelve of temperature and one of heights join to a
// climatology, whose hours have the means of the grids.
func TestMonthlyGridsToHours(t *testing.T) {
	var files []*grid.File
	add := func(name, values string) {
		text := "ncols 2\nnrows 2\nxllcenter 10\nyllcenter 40\ncellsize 0.5\nNODATA_value -9999\n" + values
		f, err := asciigrid.Read(strings.NewReader(text), int64(len(text)), name)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	ghi := [12]float64{2, 2.9, 4.1, 5.2, 6.1, 6.7, 6.8, 6.1, 4.8, 3.4, 2.3, 1.8} // kWh/m² a day
	for m := range 12 {
		add(fmt.Sprintf("ghi_kwh_m2_day_%02d.asc", m+1), fmt.Sprintf("%g %g\n-9999 %g\n", ghi[m], ghi[m], 1.05*ghi[m]))
		add(fmt.Sprintf("tas_k_%02d.asc", m+1), "285 286\n287 288\n")
	}
	add("dem_m.asc", "120 130\n140 150\n")
	regions, err := grid.Join(files)
	if err != nil || len(regions) != 1 {
		t.Fatalf("%d regions, %v", len(regions), err)
	}
	r := regions[0]
	cells, _ := r.Select(func(lat, lon, _, _ float64) bool { return lat < 40.1 && lon > 10.1 }, 1)
	if len(cells) != 1 {
		t.Fatalf("%d cells, want one", len(cells))
	}
	ground, err := r.Ground(context.Background(), 1)
	if err != nil {
		t.Fatal(err)
	}
	l, err := r.NewLoader(cells, 1<<20, t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	b := l.NewBand()
	if err := l.Load(context.Background(), b, 0); err != nil {
		t.Fatal(err)
	}
	c, err := b.Climate(0, ground)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Validate(); err != nil {
		t.Fatal(err)
	}
	if c.Lat != 40 || c.Lon != 10.5 || c.Elevation != 150 || c.CellDeg != 0.5 || math.Abs(c.AirTemperature[5]-14.85) > 1e-4 {
		t.Errorf("%+v", c)
	}
	raw := c.Raw()
	at := 0
	for m, days := range weather.MonthDays {
		var sum float64
		for _, g := range raw.GHI[at : at+24*days] {
			sum += g
		}
		at += 24 * days
		if want := 1050 * ghi[m] * float64(days); math.Abs(sum-want) > 0.001*want {
			t.Errorf("month %d: %.0f Wh/m², want %.0f", m+1, sum, want)
		}
	}
}
