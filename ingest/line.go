package ingest

import (
	"context"
	"runtime"

	"golang.org/x/sync/errgroup"

	"stillrow/ingest/repair"
	"stillrow/ingest/row"
	"stillrow/ingest/weather"
)

// A place is a site to be made: where its raw year comes from.
type place struct {
	input int    // of the plan
	name  string // for errors
	id    string // of a place among many
	clock Clock
	keep  Within // nil: always
	read  func(context.Context) (*weather.Raw, error)
	after func()    // called when read and finish are done with; may be nil
	lost  error     // instead of a place: why all before it of the same input are of no use
	again *finished // as an earlier run left it; nil: it is to be made
}

// finished is one place read and repaired, or what it was not for.
type finished struct {
	input   int
	name    string
	id      string // of a place among many
	site    weather.Site
	year    *weather.Year
	report  repair.Report
	empty   bool // a cell without data
	outside bool // not among the places to keep
	err     error
	lost    error  // why all places of the input before it are of no use
	refused string // why the table did not take it

	size  int64 // of an input that is one place
	sum   string
	again bool // an earlier run made it, and its year lies in the table
}

// refusal is the table's error in an earlier run.
func (d *finished) refusal() error {
	if !d.again || d.refused == "" {
		return nil
	}
	return refusal(d.refused)
}

// A refusal is a weather.ErrRefused as an earlier run told it.
type refusal string

func (r refusal) Error() string { return string(r) }
func (r refusal) Unwrap() error { return weather.ErrRefused }

// inOrder finishes the places that feed hands over, several at a time, and
// hands them to use one by one in their order. No more than a few wait their
// turn, so memory does not grow with their number.
func inOrder(ctx context.Context, workers int, feed func(context.Context, func(place) error) error, use func(finished) error) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	g, ctx := errgroup.WithContext(ctx)
	turns := make(chan chan finished, 4*workers)
	g.Go(func() error {
		defer close(turns)
		var work errgroup.Group
		work.SetLimit(workers)
		defer func() { _ = work.Wait() }() // its functions give no error
		return feed(ctx, func(p place) error {
			turn := make(chan finished, 1)
			select {
			case turns <- turn:
			case <-ctx.Done():
				return ctx.Err()
			}
			work.Go(func() error {
				turn <- p.finish(ctx)
				return nil
			})
			return nil
		})
	})
	g.Go(func() error {
		for turn := range turns {
			select {
			case d := <-turn:
				if err := ctx.Err(); err != nil {
					return err
				}
				if err := use(d); err != nil {
					return err
				}
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return ctx.Err()
	})
	return g.Wait()
}

// finish reads and repairs one place.
func (p *place) finish(ctx context.Context) finished {
	if p.after != nil {
		defer p.after()
	}
	if p.again != nil {
		return *p.again
	}
	d := finished{input: p.input, name: p.name, id: p.id, lost: p.lost}
	if p.lost != nil {
		return d
	}
	raw, err := p.read(ctx)
	switch {
	case err != nil:
	case raw == nil:
		d.empty = true
	case p.keep != nil && !p.keep(raw.Site.Lat, raw.Site.Lon, raw.Site.CellDeg, raw.Site.CellLonDeg):
		d.outside = true
	default:
		d.site, d.year, d.report, err = repair.Finish(raw, p.clock)
		// A file's name may be no UTF-8 and is part of these.
		for _, text := range []*string{&d.site.ID, &d.site.Name, &d.site.Country, &d.site.Source} {
			*text = row.Decode([]byte(*text))
		}
	}
	d.err = inFile(err, p.name)
	return d
}
