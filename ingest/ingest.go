// Package ingest turns open weather data into the weather table that simulate
// reads: it parses each source, repairs its year and writes one row of the site
// table and 8760 of hours for every source that can be trusted. A source that
// cannot is set aside with its reason, and the others go on.
//
//	row, epw, tmy3   text formats → weather.Raw
//	sky              the physics of the atmosphere, value by value
//	repair           weather.Raw → finished site and year, with a report
//	weather          the hand-over: Site, Year and the table
package ingest

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"

	"golang.org/x/sync/errgroup"

	"stillrow/ingest/repair"
	"stillrow/ingest/row"
	"stillrow/ingest/weather"
)

// A Clock says what time stamps are trusted with.
type Clock = repair.Clock

// Closed proves each month's clock by GHI = DNI·sz + DHI; Stamped takes the
// data set's documented convention as it stands.
const (
	Closed  = repair.Closed
	Stamped = repair.Stamped
)

// Options say what Run does.
type Options struct {
	Sources  []Source
	Out      string // folder of the weather table
	Clock    Clock
	Workers  int                   // sources read at a time; 0: one for each processor
	Progress func(done, total int) // called in order after each source; may be nil
}

// Status of an input.
const (
	StatusOK       = "ok"
	StatusSetAside = "set aside"
)

// An Input is what became of one source.
type Input struct {
	Name   string `json:"name"`
	Size   int64  `json:"size_bytes,omitempty"`
	SHA256 string `json:"sha256,omitempty"`
	SiteID string `json:"site_id,omitempty"`
	Status string `json:"status"`
	Reason string `json:"reason,omitempty"` // why it was set aside
	repair.Report
}

// A Summary is what became of all sources, in their order.
type Summary struct {
	Sites    int     `json:"sites"`
	SetAside int     `json:"set_aside"`
	Inputs   []Input `json:"inputs"`
}

// ErrNoSites means that no source was left to make a site of.
var ErrNoSites = errors.New("no usable weather")

// One finishes a single raw year, which it uses up, and rounds it as the weather
// table does. An error is a
// *weather.FileError that names the site's source.
func One(raw *weather.Raw, clock Clock) (weather.Site, *weather.Year, repair.Report, error) {
	source := raw.Site.Source
	site, year, report, err := repair.Finish(raw, clock)
	if err == nil {
		year.Round()
	}
	return site, year, report, inFile(err, source)
}

// inFile names the file of an error that has none.
func inFile(err error, name string) error {
	var f *weather.FileError
	if errors.As(err, &f) && f.File == "" {
		f.File = name
	}
	return err
}

// Run reads every source and writes the weather table in Out, in the order of
// the sources whatever the number of workers. Setting sources aside is no
// error, unless none is left: then the error is ErrNoSites. After any error, or
// when the context ends, nothing is left in Out; the summary then has what was
// done.
func Run(ctx context.Context, o Options) (Summary, error) {
	var sum Summary
	if len(o.Sources) == 0 {
		return sum, fmt.Errorf("%w: no inputs", ErrNoSites)
	}
	table, err := weather.Create(o.Out)
	if err != nil {
		return sum, err
	}
	defer table.Abort()
	ids := map[string]bool{}
	done := 0
	err = inOrder(ctx, o, func(d finished) error {
		if d.err == nil {
			d.site.ID = uniqueID(ids, d.site.ID, d.input.Name)
			err := table.Append(d.site, d.year)
			switch {
			case errors.Is(err, weather.ErrRefused): // this site alone
				d.err = &weather.FileError{File: d.input.Name, Err: err}
			case err != nil:
				return err
			}
		}
		if d.err == nil {
			d.input.SiteID, d.input.Status = d.site.ID, StatusOK
			sum.Sites++
		} else {
			d.input.Status, d.input.Reason = StatusSetAside, d.err.Error()
			sum.SetAside++
		}
		sum.Inputs = append(sum.Inputs, d.input)
		if done++; o.Progress != nil {
			o.Progress(done, len(o.Sources))
		}
		return nil
	})
	if err != nil {
		return sum, err
	}
	if sum.Sites == 0 {
		return sum, fmt.Errorf("%w: all %d inputs were set aside, the first: %s", ErrNoSites, sum.SetAside, sum.Inputs[0].Reason)
	}
	return sum, table.Close()
}

// finished is one source read and repaired, or the reason why not.
type finished struct {
	site  weather.Site
	year  *weather.Year
	input Input
	err   error
}

// inOrder reads and repairs the sources, several at a time, and hands them to
// use one by one in their order. No more than a few wait their turn, so memory
// does not grow with their number.
func inOrder(ctx context.Context, o Options, use func(finished) error) error {
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	g, ctx := errgroup.WithContext(ctx)
	turns := make(chan chan finished, 2*workers)
	g.Go(func() error {
		defer close(turns)
		var work errgroup.Group
		work.SetLimit(workers)
		defer func() { _ = work.Wait() }() // its functions give no error
		for _, s := range o.Sources {
			turn := make(chan finished, 1)
			select {
			case turns <- turn:
			case <-ctx.Done():
				return ctx.Err()
			}
			work.Go(func() error {
				turn <- finish(ctx, s, o.Clock)
				return nil
			})
		}
		return nil
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

// finish reads and repairs one source.
func finish(ctx context.Context, s Source, clock Clock) finished {
	d := finished{input: Input{Name: s.Name()}}
	raw, err := s.Read(ctx)
	if from, ok := s.(Digester); ok {
		d.input.Size, d.input.SHA256 = from.Digest()
	}
	if err == nil {
		d.site, d.year, d.input.Report, err = repair.Finish(raw, clock)
		// A file's name may be no UTF-8 and is part of these.
		for _, text := range []*string{&d.site.ID, &d.site.Name, &d.site.Country, &d.site.Source} {
			*text = row.Decode([]byte(*text))
		}
	}
	d.err = inFile(err, s.Name())
	return d
}

// uniqueID gives the id itself, or when it is taken, with the name of the
// source's file, and a number if need be.
func uniqueID(taken map[string]bool, id, name string) string {
	if taken[id] || id == "" {
		base := filepath.Base(name)
		id = strings.Trim(id+"-"+row.Slug(strings.TrimSuffix(base, filepath.Ext(base))), "-")
	}
	unique := id
	for n := 2; taken[unique]; n++ {
		unique = fmt.Sprintf("%s-%d", id, n)
	}
	taken[unique] = true
	return unique
}
