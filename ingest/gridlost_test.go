package ingest_test

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/grid"
	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// A gridSource is a grid in memory.
type gridSource struct{ file *grid.File }

func (g gridSource) Name() string { return g.file.Name }
func (g gridSource) Read(context.Context, int) (*weather.Raw, error) {
	return nil, errors.New("holds many places")
}
func (g gridSource) Open(context.Context) (*ingest.Content, error) {
	return &ingest.Content{Grid: g.file}, nil
}

// inMemory is a grid of n rows of one cell, whose last row cannot be read where
// broken is set, and whose air is colder by a number of degrees.
func inMemory(name string, n int, colder float64, broken error) gridSource {
	axis := &series.Axis{Step: 3600}
	for h := range weather.Hours {
		axis.Stamp = append(axis.Stamp, 978307200+int64(h)*3600) // 2001-01-01
	}
	f := &grid.File{Name: name, Lon: []float64{0}}
	for y := range n {
		f.Lat = append(f.Lat, 30+0.01*float64(y))
	}
	field := func(q grid.Quantity, variable string, at func(h, c int) float64) {
		f.Fields = append(f.Fields, grid.Field{Quantity: q, Variable: variable, Axis: axis, Read: func(dst []float32, t, nt, y, ny int) error {
			if broken != nil && y+ny == n && t > 5000 {
				return broken
			}
			for i := range dst {
				dst[i] = float32(at(t+i/ny, 1))
			}
			return nil
		}})
	}
	field(grid.GHI, "rsds", sunny)
	field(grid.AirTemperature, "tas", func(h, c int) float64 { return warm(h, c) - 273 - colder })
	return gridSource{f}
}

// A grid that breaks when most of its cells are made is set aside as a whole:
// none of them is in the table, those that were there before stay as they were,
// and the other inputs go on, even with the same cells.
func TestGridLost(t *testing.T) {
	out := filepath.Join(t.TempDir(), "weather")
	o := ingest.Options{Out: out, Update: true, Workers: 2, Memory: 8 * weather.Hours * 4 * 4 / 3 * 3} // three cells a band
	o.Sources = []ingest.Source{inMemory("old.nc", 2, 5, nil)}
	if _, err := ingest.Run(context.Background(), o); err != nil {
		t.Fatal(err)
	}
	before := contents(t, out)
	torn := errors.New("torn")
	// Alone: nothing changes.
	o.Sources = []ingest.Source{inMemory("broken.nc", 12, 0, torn)}
	sum, err := ingest.Run(context.Background(), o)
	if !errors.Is(err, ingest.ErrNoSites) || !strings.Contains(err.Error(), "broken.nc: rsds: torn") || sum.Sites != 0 {
		t.Errorf("alone: %d sites, %v", sum.Sites, err)
	}
	if after := contents(t, out); len(after) != len(before) || after["/sites.parquet"] != before["/sites.parquet"] {
		t.Error("the table has changed")
	}
	// Before another grid, of which one cell is among the lost ones.
	told := 0
	o.Progress = func(done, total int) { told = done }
	o.Sources = []ingest.Source{inMemory("broken.nc", 12, 0, torn), moveTo(inMemory("fine.nc", 3, 0, nil), 30.02)}
	sum, err = ingest.Run(context.Background(), o)
	if err != nil || sum.Sites != 3 || sum.SetAside != 1 || told < 6 {
		t.Fatalf("%d sites, %d set aside, %d told, %v", sum.Sites, sum.SetAside, told, err)
	}
	if in := sum.Inputs[0]; in.Status != ingest.StatusSetAside || in.Sites != 0 || in.Reason != "broken.nc: rsds: torn" || in.Cells.All != 12 || in.GHI != 0 {
		t.Errorf("the broken one: %+v, %+v", in, in.Cells)
	}
	table, err := weather.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	var ids []string
	for i, s := range table.Sites {
		ids = append(ids, s.ID)
		want := warm(1, 1) - 273
		if i < 2 {
			want -= 5
		}
		if y := yearAt(t, table, i); math.Abs(float64(y.AirTemperature[1])-want) > 0.06 {
			t.Errorf("%s: %g °C, want %.1f", s.ID, y.AirTemperature[1], want)
		}
	}
	if want := []string{"n30e0", "n30.01e0", "n30.02e0", "n30.03e0", "n30.04e0"}; !slices.Equal(ids, want) {
		t.Errorf("sites %v, want %v", ids, want)
	}
}

// Of files joined the damaged one is told, and that the others go with it.
func TestGridLostJoined(t *testing.T) {
	sun, air := inMemory("sun.nc", 12, 0, nil), inMemory("air.nc", 12, 0, errors.New("torn"))
	sun.file.Fields, air.file.Fields = sun.file.Fields[:1], air.file.Fields[1:]
	o := ingest.Options{Out: filepath.Join(t.TempDir(), "weather"), Memory: 8 * weather.Hours * 4 * 4 / 3 * 3,
		Sources: []ingest.Source{sun, moveTo(inMemory("fine.nc", 1, 0, nil), 50), air}}
	sum, err := ingest.Run(context.Background(), o)
	want := []string{"sun.nc: goes with air.nc, which is set aside", "air.nc: tas: torn"}
	if err != nil || sum.Sites != 1 || sum.SetAside != 2 || !slices.Equal(sum.Reasons(), want) {
		t.Errorf("%d sites, %d set aside, %v: %q, want %q", sum.Sites, sum.SetAside, err, sum.Reasons(), want)
	}
}

// Of the cells that two grids share the first one's are taken, and the others
// told.
func TestGridTwice(t *testing.T) {
	o := ingest.Options{Out: filepath.Join(t.TempDir(), "weather"), Workers: 2}
	o.Sources = []ingest.Source{inMemory("a.nc", 4, 0, nil), moveTo(inMemory("b.nc", 4, 5, nil), 30.02)}
	sum, err := ingest.Run(context.Background(), o)
	if err != nil || sum.Sites != 6 || sum.SetAside != 2 || !slices.Equal(sum.Reasons(), []string{"b.nc: 2 cells, first n30.02e0: a.nc gives the same cell"}) {
		t.Errorf("%d sites, %d set aside, %v: %q", sum.Sites, sum.SetAside, err, sum.Reasons())
	}
}

func moveTo(g gridSource, lat float64) gridSource {
	for y := range g.file.Lat {
		g.file.Lat[y] = lat + 0.01*float64(y)
	}
	return g
}
