package ingest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"

	"stillrow/ingest/climate"
	"stillrow/ingest/grid"
	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// A plan is what the sources turned out to be.
type plan struct {
	o       *Options
	inputs  []Input    // of each source
	made    [][]string // identifiers of the sites of each source of many
	points  []int      // sources that are one place
	tables  []table
	files   []*grid.File // all that are open
	regions []region
	total   int // places
	journal *journal
	fed     int // places handed over
}

// A table is a source that gives its places as monthly means.
type table struct {
	input int
	cells []climate.Cell
}

// A region is grid files that give the same cells.
type region struct {
	*grid.Region
	input  int   // of the file that has the irradiance
	joined []int // inputs of the others
	cells  []grid.Cell
}

// newPlan looks into every source.
func newPlan(ctx context.Context, o *Options) *plan {
	p := &plan{o: o, inputs: make([]Input, len(o.Sources)), made: make([][]string, len(o.Sources)), journal: &journal{off: true}}
	from := map[string]int{} // input of a grid file
	for i, s := range o.Sources {
		in := &p.inputs[i]
		in.Name = s.Name()
		many, ok := s.(Spread)
		var content *Content
		var err error
		if ok {
			content, err = many.Open(ctx)
		}
		switch {
		case err != nil:
			in.Status, in.Reason = StatusSetAside, inFile(err, in.Name).Error()
		case content == nil:
			p.points = append(p.points, i)
		case content.Grid != nil:
			in.Cells = &Cells{All: len(content.Grid.Lat) * len(content.Grid.Lon), things: "cells"}
			p.files = append(p.files, content.Grid)
			from[content.Grid.Name] = i
		default:
			in.Cells = &Cells{All: len(content.Cells) + len(content.Bad), things: "places"}
			for _, e := range content.Bad {
				in.add(&finished{err: e})
			}
			p.tables = append(p.tables, table{i, content.Cells})
			p.total += len(content.Cells)
		}
	}
	p.total += len(p.points)
	regions, err := grid.Join(p.files)
	for _, e := range each(err) {
		var f *weather.FileError
		if errors.As(e, &f) {
			in := &p.inputs[from[f.File]]
			in.Status, in.Reason = StatusSetAside, e.Error()
		}
	}
	for _, f := range p.files {
		p.inputs[from[f.Name]].Warnings = f.Warnings
	}
	for _, r := range regions {
		p.region(r, from)
	}
	return p
}

// each gives the errors that one joins.
func each(err error) []error {
	if err == nil {
		return nil
	}
	if list, ok := err.(interface{ Unwrap() []error }); ok {
		return list.Unwrap()
	}
	return []error{err}
}

// region counts the cells of a region at the input of its main file.
func (p *plan) region(r *grid.Region, from map[string]int) {
	main := from[r.Main().Name]
	in := &p.inputs[main]
	next := region{Region: r, input: main}
	for _, f := range r.Files {
		if i := from[f.Name]; i != main {
			next.joined = append(next.joined, i)
			in.Cells.With = append(in.Cells.With, f.Name)
		}
	}
	var outside int
	next.cells, outside = r.Select(p.o.Within, p.o.Every)
	all := len(r.Lat) * len(r.Lon)
	if !p.isMain(main) { // else the irradiance serves another region too
		in.Cells.All = 0
	}
	in.Cells.All += all
	in.Cells.Outside += outside
	in.Cells.Thinned += all - outside - len(next.cells)
	p.regions = append(p.regions, next)
	p.total += len(next.cells)
}

// close ends the reading of grid files.
func (p *plan) close() {
	for _, f := range p.files {
		if f.Close != nil {
			_ = f.Close() // only read from
		}
	}
}

// summary settles what became of each input; when the work did not come to its
// end, of those that were done with.
func (p *plan) summary(ended bool) Summary {
	var sum Summary
	if ended {
		for i := range p.inputs {
			p.inputs[i].end()
		}
		p.endJoined()
	}
	for i := range p.inputs {
		in := &p.inputs[i]
		if in.Status == "" {
			continue
		}
		if from, ok := p.o.Sources[i].(Digester); ok && (in.Cells != nil || in.SHA256 == "") {
			in.Size, in.SHA256 = from.Digest()
		}
		sum.Sites += in.Sites
		if in.Status == StatusSetAside {
			sum.SetAside++
		} else if in.Cells != nil {
			sum.SetAside += in.Cells.SetAside
		}
		sum.Inputs = append(sum.Inputs, *in)
	}
	return sum
}

// endJoined settles the inputs that are read along with others: what became of
// those became of them.
func (p *plan) endJoined() {
	for _, r := range p.regions {
		for _, i := range r.joined {
			in, main := &p.inputs[i], &p.inputs[r.input]
			if p.isMain(i) || in.Status == StatusJoined && main.Status == StatusSetAside {
				continue
			}
			in.Status, in.Reason = StatusJoined, "with "+main.Name
			if main.Status == StatusSetAside {
				in.Status, in.Reason = StatusSetAside, goesWith(in, main)
				if strings.HasPrefix(main.Reason, in.Name+": ") { // this file is to blame
					in.Reason, main.Reason = main.Reason, goesWith(main, in)
				}
			}
		}
	}
}

func goesWith(in, other *Input) string {
	return in.Name + ": goes with " + other.Name + ", which is set aside"
}

func (p *plan) isMain(input int) bool {
	return slices.ContainsFunc(p.regions, func(r region) bool { return r.input == input })
}

// feed hands over every place, those that an earlier run made as it left them.
func (p *plan) feed(ctx context.Context, next func(place) error) error {
	emit := func(pl place) error {
		pl.again = p.journal.again(p.fed, pl.name)
		p.fed++
		return next(pl)
	}
	for _, i := range p.points {
		s := p.o.Sources[i]
		err := emit(place{input: i, name: s.Name(), clock: p.o.Clock, keep: p.o.Within,
			read: func(ctx context.Context) (*weather.Raw, error) { return s.Read(ctx, p.o.Year) }})
		if err != nil {
			return err
		}
	}
	for _, t := range p.tables {
		for i := range t.cells {
			if err := emit(p.ofTable(t.input, &t.cells[i])); err != nil {
				return err
			}
		}
	}
	for i := range p.regions {
		if err := p.feedRegion(ctx, &p.regions[i], emit); err != nil {
			return err
		}
	}
	return nil
}

// monthly is a place of monthly means.
func (p *plan) monthly(input int, id string, cell func() (*climate.Cell, error)) place {
	name := p.inputs[input].Name
	return place{input: input, name: name, id: id, clock: p.o.Clock, keep: p.o.Within,
		read: func(ctx context.Context) (*weather.Raw, error) {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			c, err := cell()
			if err == nil && c == nil {
				return nil, nil
			}
			if err == nil {
				err = c.Validate()
			}
			if err != nil {
				return nil, &weather.FileError{File: name, Err: err}
			}
			return c.Raw(), nil
		}}
}

// ofTable is a place of a table of monthly means.
func (p *plan) ofTable(input int, c *climate.Cell) place {
	return p.monthly(input, c.ID, func() (*climate.Cell, error) { return c, nil })
}

// defaultMemory is what grids get where the caller does not say, bytes.
const defaultMemory = 1 << 30

// feedRegion hands over the cells of a region. What keeps it from being read is
// handed over last.
func (p *plan) feedRegion(ctx context.Context, r *region, emit func(place) error) error {
	if len(r.cells) == 0 {
		return nil
	}
	err := p.feedCells(ctx, r, emit)
	var f *weather.FileError
	if !errors.As(err, &f) {
		return err
	}
	return emit(place{input: r.input, lost: inFile(err, p.inputs[r.input].Name)})
}

// feedCells loads band after band and hands over its cells. While one band is
// worked on, the next is loaded into a second memory.
func (p *plan) feedCells(ctx context.Context, r *region, emit func(place) error) error {
	memory := p.o.Memory
	if memory <= 0 {
		memory = defaultMemory
	}
	// Two bands get half of it; the other half is for the places being worked on,
	// the table being written, and what the collector has not come round to.
	loader, err := r.NewLoader(r.cells, memory/4, p.o.Out)
	if err != nil {
		return err
	}
	defer loader.Close()
	ground, err := r.Ground(ctx, p.o.Every)
	if err != nil {
		return err
	}
	bands := [2]*grid.Band{loader.NewBand()}
	loaded, err := p.settleStamp(ctx, r, loader, bands[0])
	if err != nil {
		return err
	}
	var busy [2]sync.WaitGroup
	defer func() { busy[0].Wait(); busy[1].Wait() }()
	for k := range loader.Bands() {
		if cells := len(loader.Cells(k)); p.fed+cells <= len(p.journal.replay) {
			for range cells {
				if err := emit(place{input: r.input, name: p.inputs[r.input].Name}); err != nil {
					return err
				}
			}
			continue
		}
		if k%2 == 1 && bands[1] == nil {
			bands[1] = loader.NewBand()
		}
		band, working := bands[k%2], &busy[k%2]
		working.Wait()
		if k > 0 || loaded != 0 { // settling the stamp may have loaded the first
			if err := loader.Load(ctx, band, k); err != nil {
				return err
			}
		}
		for i := range band.Len() {
			working.Add(1)
			pl := p.cell(r, band, i, ground)
			pl.after = working.Done
			if err := emit(pl); err != nil {
				working.Done()
				return err
			}
		}
	}
	return nil
}

// settleStamp finds out where stamps lie that the files do not explain, from the
// first cells that tell, and says which band is loaded, -1 for none. Cells that
// are all empty have nothing to settle.
func (p *plan) settleStamp(ctx context.Context, r *region, l *grid.Loader, band *grid.Band) (loaded int, err error) {
	loaded = -1
	if !r.StampUnknown() {
		return loaded, nil
	}
	var noons grid.Noons
	empty := true
	for k := 0; k < l.Bands() && !noons.Enough() && (empty || p.o.Stamp == grid.Unknown); k++ {
		if err := l.Load(ctx, band, k); err != nil {
			return k, err
		}
		loaded = k
		for i := range band.Len() {
			empty = empty && band.Empty(i)
		}
		r.Look(&noons, band)
	}
	if empty {
		return loaded, nil
	}
	return loaded, r.SetStamp(p.o.Stamp, &noons)
}

// cell is a place of a grid.
func (p *plan) cell(r *region, band *grid.Band, i int, ground *grid.Ground) place {
	id := band.ID(i)
	if r.Monthly() {
		return p.monthly(r.input, id, func() (*climate.Cell, error) {
			if band.Empty(i) {
				return nil, nil
			}
			return band.Climate(i, ground)
		})
	}
	name := p.inputs[r.input].Name
	return place{input: r.input, name: name, id: id, clock: p.o.Clock, read: func(ctx context.Context) (*weather.Raw, error) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if band.Empty(i) {
			return nil, nil
		}
		raw, err := band.Series(i, ground).Raw(series.Options{Year: p.o.Year})
		return raw, inFile(err, name)
	}}
}

// named adds the place to an error of a file of many.
func named(err error, id string) error {
	var f *weather.FileError
	if id != "" && errors.As(err, &f) {
		f.Err = fmt.Errorf("%s: %w", id, f.Err)
	}
	return err
}
