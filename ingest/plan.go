package ingest

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"stillrow/ingest/climate"
	"stillrow/ingest/grid"
	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// A plan is what the sources turned out to be.
type plan struct {
	o       *Options
	inputs  []Input // of each source
	points  []int   // sources that are one place
	tables  []table
	regions []region
	total   int // places
}

// A table is a source that gives its places as monthly means.
type table struct {
	input int
	cells []climate.Cell
}

// A region is grid files that give the same cells.
type region struct {
	*grid.Region
	input int // of the file that has the irradiance
	cells []grid.Cell
}

// newPlan looks into every source.
func newPlan(ctx context.Context, o *Options) *plan {
	p := &plan{o: o, inputs: make([]Input, len(o.Sources))}
	var files []*grid.File
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
			in.Cells = &Cells{All: len(content.Grid.Lat) * len(content.Grid.Lon)}
			in.Warnings = content.Grid.Warnings
			files = append(files, content.Grid)
			from[content.Grid.Name] = i
		default:
			in.Cells = &Cells{All: len(content.Cells) + len(content.Bad)}
			for _, e := range content.Bad {
				in.add(&finished{err: e})
			}
			p.tables = append(p.tables, table{i, content.Cells})
			p.total += len(content.Cells)
		}
	}
	p.total += len(p.points)
	regions, err := grid.Join(files)
	for _, e := range each(err) {
		var f *weather.FileError
		if errors.As(e, &f) {
			in := &p.inputs[from[f.File]]
			in.Status, in.Reason = StatusSetAside, e.Error()
		}
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
	for _, f := range r.Files {
		if i := from[f.Name]; i != main {
			p.inputs[i].Status, p.inputs[i].Reason = StatusJoined, "with "+in.Name
			in.Cells.With = append(in.Cells.With, f.Name)
		}
	}
	cells, outside := r.Select(p.o.Within, p.o.Every)
	all := len(r.Lat) * len(r.Lon)
	in.Cells.Outside, in.Cells.Thinned = outside, all-outside-len(cells)
	p.regions = append(p.regions, region{r, main, cells})
	p.total += len(cells)
}

// close ends the reading of grid files.
func (p *plan) close() {
	for _, r := range p.regions {
		for _, f := range r.Files {
			if f.Close != nil {
				_ = f.Close() // only read from
			}
		}
	}
}

// summary settles what became of each input.
func (p *plan) summary() Summary {
	sum := Summary{Inputs: p.inputs}
	for i := range p.inputs {
		in := &p.inputs[i]
		in.end()
		if from, ok := p.o.Sources[i].(Digester); ok {
			in.Size, in.SHA256 = from.Digest()
		}
		sum.Sites += in.Sites
		if in.Status == StatusSetAside {
			sum.SetAside++
		} else if in.Cells != nil {
			sum.SetAside += in.Cells.SetAside
		}
	}
	return sum
}

// feed hands over every place.
func (p *plan) feed(ctx context.Context, emit func(place) error) error {
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
			if err := emit(p.monthly(t.input, &t.cells[i])); err != nil {
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
func (p *plan) monthly(input int, c *climate.Cell) place {
	return place{input: input, name: p.inputs[input].Name, clock: p.o.Clock, keep: p.o.Within,
		read: func(ctx context.Context) (*weather.Raw, error) {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			if err := c.Validate(); err != nil {
				return nil, &weather.FileError{File: p.inputs[input].Name, Err: fmt.Errorf("%s: %w", c.ID, err)}
			}
			return c.Raw(), nil
		}}
}

// defaultMemory is what grids get where the caller does not say, bytes.
const defaultMemory = 1 << 30

// feedRegion loads band after band and hands over its cells. While one band is
// worked on, the next is loaded into a second memory.
func (p *plan) feedRegion(ctx context.Context, r *region, emit func(place) error) error {
	if len(r.cells) == 0 {
		return nil
	}
	memory := p.o.Memory
	if memory <= 0 {
		memory = defaultMemory
	}
	// Two bands get half of it; the other half is for the places being worked on,
	// the table being written, and what the collector has not come round to.
	loader, err := r.NewLoader(r.cells, memory/4, p.o.Out)
	if err != nil {
		return p.lost(r, err)
	}
	defer loader.Close()
	ground, err := r.Ground(ctx, p.o.Every)
	if err != nil {
		return p.lost(r, err)
	}
	loaded := p.load(ctx, loader)
	defer loaded.end()
	for k := 0; ; k++ {
		band, err := loaded.next()
		if err != nil {
			return p.lost(r, err)
		}
		if band == nil {
			return nil
		}
		if k == 0 {
			if err := r.SetStamp(p.o.Stamp, band); err != nil {
				return p.lost(r, err)
			}
		}
		var working sync.WaitGroup
		for i := range band.Len() {
			working.Add(1)
			pl := p.cell(r, band, i, ground)
			pl.after = working.Done
			if err := emit(pl); err != nil {
				working.Done()
				return err
			}
		}
		go func() {
			working.Wait()
			loaded.free <- band
		}()
	}
}

// A bandLoader loads bands into two memories in turn: while one is worked on,
// the next is loaded.
type bandLoader struct {
	free   chan *grid.Band // memories that nobody works on
	ready  chan *grid.Band // in order
	failed error           // set before ready is closed
	stop   context.CancelFunc
}

func (p *plan) load(ctx context.Context, from *grid.Loader) *bandLoader {
	const memories = 2
	l := &bandLoader{free: make(chan *grid.Band, memories), ready: make(chan *grid.Band)}
	ctx, l.stop = context.WithCancel(ctx)
	for range min(memories, from.Bands()) {
		l.free <- from.NewBand()
	}
	go func() {
		defer close(l.ready)
		for k := range from.Bands() {
			select {
			case band := <-l.free:
				if l.failed = from.Load(ctx, band, k); l.failed != nil {
					return
				}
				select {
				case l.ready <- band:
				case <-ctx.Done():
					l.failed = ctx.Err()
					return
				}
			case <-ctx.Done():
				l.failed = ctx.Err()
				return
			}
		}
	}()
	return l
}

// next gives the next band, nil after the last.
func (l *bandLoader) next() (*grid.Band, error) {
	if band, ok := <-l.ready; ok {
		return band, nil
	}
	return nil, l.failed
}

// end stops the loading and waits for it.
func (l *bandLoader) end() {
	l.stop()
	for range l.ready {
	}
}

// lost sets a region aside whose files cannot be read, unless the work as a
// whole ended. Cells made before stay.
func (p *plan) lost(r *region, err error) error {
	var f *weather.FileError
	if !errors.As(err, &f) {
		return err
	}
	in := &p.inputs[r.input]
	in.Status, in.Reason = StatusSetAside, inFile(err, in.Name).Error()
	return nil
}

// cell is a place of a grid.
func (p *plan) cell(r *region, band *grid.Band, i int, ground *grid.Ground) place {
	name := p.inputs[r.input].Name
	if r.Monthly() {
		pl := p.monthly(r.input, nil)
		pl.read = func(ctx context.Context) (*weather.Raw, error) {
			if band.Empty(i) {
				return nil, ctx.Err()
			}
			return p.monthly(r.input, band.Climate(i, ground)).read(ctx)
		}
		return pl
	}
	return place{input: r.input, name: name, clock: p.o.Clock, read: func(ctx context.Context) (*weather.Raw, error) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if band.Empty(i) {
			return nil, nil
		}
		s := band.Series(i, ground)
		raw, err := s.Raw(series.Options{Year: p.o.Year})
		if err != nil {
			return nil, named(err, name, s.Site.ID)
		}
		return raw, nil
	}}
}

// named names the file of an error, and the place in it.
func named(err error, file, id string) error {
	var f *weather.FileError
	if errors.As(err, &f) {
		if f.File == "" {
			f.File = file
		}
		f.Err = fmt.Errorf("%s: %w", id, f.Err)
		return err
	}
	return &weather.FileError{File: file, Err: fmt.Errorf("%s: %w", id, err)}
}
