package ingest

import (
	"context"
	"errors"
	"fmt"
	"math"

	"stillrow/ingest/climate"
	"stillrow/ingest/grid"
	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
)

// A Wish says which place of a source of many is wanted: the one of the ID, or
// where that is empty the nearest to Lat, Lon; NaN for none.
type Wish struct {
	ID       string
	Lat, Lon float64
}

// ErrManyPlaces means that a source holds many places and none was wished for.
var ErrManyPlaces = errors.New("holds many places, of which one has to be chosen")

// ErrNoPlace means that a source has no place of the ID wished for.
var ErrNoPlace = errors.New("no such place")

// Find reads and finishes one place of the first of the sources: its only one,
// or the one wished for.
func Find(ctx context.Context, o Options, w Wish) (weather.Site, *weather.Year, repair.Report, error) {
	raw, err := find(ctx, &o, w)
	if err != nil {
		return weather.Site{}, nil, repair.Report{}, err
	}
	return One(raw, o.Clock)
}

func find(ctx context.Context, o *Options, w Wish) (*weather.Raw, error) {
	o.Sources = o.Sources[:1]
	s := o.Sources[0]
	p := newPlan(ctx, o)
	defer p.close()
	switch {
	case p.inputs[0].Status == StatusSetAside:
		return nil, errors.New(p.inputs[0].Reason)
	case len(p.points) == 1:
		return s.Read(ctx, o.Year)
	case w.ID == "" && math.IsNaN(w.Lat):
		return nil, &weather.FileError{File: s.Name(), Err: ErrManyPlaces}
	case len(p.regions) == 1:
		return p.findCell(ctx, w)
	}
	cell := nearestCell(p.tables[0].cells, w)
	if cell == nil {
		return nil, &weather.FileError{File: s.Name(), Err: fmt.Errorf("%w: %s", ErrNoPlace, w.ID)}
	}
	raw, err := p.ofTable(0, cell).read(ctx)
	return raw, named(err, cell.ID)
}

// nearestCell gives the cell wished for, nil where there is none.
func nearestCell(cells []climate.Cell, w Wish) (best *climate.Cell) {
	least := math.Inf(1)
	for i := range cells {
		c := &cells[i]
		if w.ID != "" {
			if c.ID == w.ID {
				return c
			}
			continue
		}
		if d := weather.Distance(w.Lat, w.Lon, c.Lat, c.Lon); d < least {
			best, least = c, d
		}
	}
	return best
}

// findCell reads the cell of a grid wished for.
func (p *plan) findCell(ctx context.Context, w Wish) (*weather.Raw, error) {
	r := &p.regions[0]
	at, ok := r.Nearest(w.Lat, w.Lon), true
	if w.ID != "" {
		at, ok = r.Find(w.ID)
	}
	if !ok {
		return nil, &weather.FileError{File: p.inputs[0].Name, Err: fmt.Errorf("%w: %s", ErrNoPlace, w.ID)}
	}
	r.cells = []grid.Cell{at}
	var raw *weather.Raw
	err := p.feedCells(ctx, r, func(pl place) (err error) {
		defer pl.after()
		raw, err = pl.read(ctx)
		return named(err, pl.id)
	})
	switch {
	case err != nil:
		return nil, inFile(err, p.inputs[0].Name)
	case raw == nil:
		lat, lon := r.Lat[at.Row], r.Lon[at.Col]
		return nil, &weather.FileError{File: p.inputs[0].Name, Err: fmt.Errorf("no data in the cell at %g, %g", lat, lon)}
	}
	return raw, nil
}
