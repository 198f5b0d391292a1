// Package ingest turns open weather data into the weather table that simulate
// reads: it parses each source, repairs its year and writes one row of the site
// table and 8760 of hours for every place that can be trusted. What cannot is
// set aside with its reason, and the rest goes on.
//
//	row, epw, tmy3           text formats of typical years → weather.Raw
//	psm, power               text formats of satellite data → series.Series
//	netcdf, hdf5, cf         NetCDF grids → grid.File
//	geotiff, asciigrid       rasters → grid.File, told by package raster
//	climate                  monthly means → weather.Raw
//	grid                     grid files of a region → the series of its cells
//	series                   records of any step and years → weather.Raw
//	sky                      the physics of the atmosphere, value by value
//	day                      the sun's way over a place in one day
//	repair                   weather.Raw → finished site and year, with a report
//	weather                  the hand-over: Site, Year and the table
package ingest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"stillrow/ingest/grid"
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
	Update   bool   // add to the table that is there, replacing sites of the same id; else start afresh
	Clock    Clock
	Year     int                   // the calendar year to take of data of several; 0: a typical year
	Stamp    grid.Stamp            // where stamps lie in grids that do not say
	Within   Within                // which places to keep; nil: all
	Every    int                   // one of so many rows and columns of a grid; 0 and 1: all
	Memory   int64                 // bytes for the records of grids; 0: 1 GiB
	Workers  int                   // places finished at a time; 0: one for each processor
	Progress func(done, total int) // called in order after each place; may be nil

	// Key makes Run keep what it has finished in Out, and go on from what an earlier
	// run of the same options kept, so that a run that is ended loses little. It
	// stands for what else decides the table: the build of the program, Within. What
	// was kept stays after the table is complete, for a caller whose own work may be
	// ended after it, until DropJournal. Nil: nothing is kept.
	Key []byte
	// Resumed is told, before the first place, how many an earlier run left; may be nil.
	Resumed func(places int)
}

// A Within tells whether to keep a place: its centre and the degrees of latitude
// and longitude of its grid cell, 0 for a station.
type Within = func(lat, lon, cellLat, cellLon float64) bool

// ErrNoSites means that no source was left to make a site of.
var ErrNoSites = errors.New("no usable weather")

// One finishes a single raw year, which it uses up, and rounds it as the weather
// table does. An error is a *weather.FileError that names the site's source.
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

// Run reads every source and writes the weather table in Out: first the places
// that are a source of their own, in the order of the sources, then those of
// tables and grids, whatever the number of workers. Setting sources aside is no
// error, unless none is left: then the error is ErrNoSites. A grid that turns out
// to be damaged while its cells are made is set aside as a whole, with those that
// are made: half a region would pass for a whole one. Of two grids that give the
// same cell the first is taken. After any error, or when
// the context ends, the table in Out is as it was, and an Out that was not there
// is not there again unless something is kept in it; the summary then has the
// sources that were done with.
func Run(ctx context.Context, o Options) (sum Summary, err error) {
	if len(o.Sources) == 0 {
		return sum, fmt.Errorf("%w: no inputs", ErrNoSites)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	p := newPlan(ctx, &o)
	defer p.close()
	create := weather.Create
	if o.Update {
		create = weather.Update
	}
	if _, there := os.Stat(o.Out); errors.Is(there, os.ErrNotExist) {
		defer func() {
			if err != nil {
				os.Remove(o.Out) // if nothing is in it
			}
		}()
	}
	table, err := create(o.Out)
	if err != nil {
		return sum, err
	}
	defer table.Abort()
	journal, err := newJournal(ctx, &o, table)
	if err != nil {
		return sum, err
	}
	if n := len(journal.replay); n > 0 && o.Resumed != nil {
		o.Resumed(n)
	}
	p.journal = journal
	ids := map[string]string{} // source of each identifier taken
	done := 0
	err = inOrder(ctx, o.Workers, p.feed, func(d finished) error {
		in := &p.inputs[d.input]
		if from, ok := o.Sources[d.input].(Digester); ok && in.Cells == nil && !d.again {
			d.size, d.sum = from.Digest()
		}
		switch {
		case in.Cells != nil && in.Status == StatusSetAside: // lost before
			return nil
		case d.lost != nil:
			table.Forget(p.made[d.input])
			for _, id := range p.made[d.input] {
				delete(ids, id)
			}
			p.made[d.input] = nil
			in.lose(d.lost)
			journal.off = true // a run that goes on finds out for itself
			return nil
		}
		site, before, added := d.site, d.err, false
		if first := ids[d.site.ID]; d.err == nil && first != "" && d.site.Kind == weather.KindGrid {
			d.err = &weather.FileError{File: d.name, Err: fmt.Errorf("%s gives the same cell", first)}
		}
		if d.err == nil && !d.empty && !d.outside {
			d.site.ID = uniqueID(ids, d.site.ID, d.name)
			err := d.refusal()
			if err == nil {
				err = table.Append(d.site, d.year)
			}
			switch {
			case errors.Is(err, weather.ErrRefused): // this site alone
				d.refused = err.Error()
				d.err = &weather.FileError{File: d.name, Err: err}
			case err != nil:
				return err
			default:
				added = true
				if in.Cells != nil {
					p.made[d.input] = append(p.made[d.input], d.site.ID)
				}
			}
		}
		in.add(&d)
		if in.Cells == nil {
			in.Size, in.SHA256 = d.size, d.sum
		}
		journal.add(&d, site, before, added)
		if err := journal.save(table, table.Parts()); err != nil {
			return err
		}
		if done++; o.Progress != nil {
			o.Progress(done, p.total)
		}
		return nil
	})
	if err != nil {
		cancel() // digests of grids would be waited for
	}
	sum = p.summary(err == nil)
	if err != nil {
		return sum, err
	}
	if sum.Sites == 0 {
		return sum, fmt.Errorf("%w: %s", ErrNoSites, sum.whyNone())
	}
	table.Fingerprint = o.fingerprint(&sum)
	if err := table.Close(); err != nil {
		return sum, err
	}
	return sum, journal.end(&o, table)
}

// fingerprint is the digest of what the places of a run came from, and how; of a
// table that is added to, that of the last run.
func (o *Options) fingerprint(sum *Summary) string {
	h := sha256.New()
	fmt.Fprintln(h, o.Clock, o.Year, o.Stamp, o.Every)
	for i := range sum.Inputs {
		in := &sum.Inputs[i]
		fmt.Fprintf(h, "%q %s %q %d\n", in.Name, in.SHA256, in.Status, in.Sites)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// uniqueID gives the id itself, or when it is taken, with the name of the
// source's file, and a number if need be.
func uniqueID(taken map[string]string, id, name string) string {
	if taken[id] != "" || id == "" {
		base := filepath.Base(name)
		id = strings.Trim(id+"-"+row.Slug(strings.TrimSuffix(base, filepath.Ext(base))), "-")
	}
	unique := id
	for n := 2; taken[unique] != ""; n++ {
		unique = fmt.Sprintf("%s-%d", id, n)
	}
	taken[unique] = name
	return unique
}
