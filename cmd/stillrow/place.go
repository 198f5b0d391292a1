package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

	"stillrow/ingest"
	"stillrow/ingest/weather"
)

// placeFlags say which place a command is about.
type placeFlags struct {
	At      string `help:"The site nearest to latitude and longitude, degrees." placeholder:"LAT,LON"`
	ID      string `name:"id" help:"The site of this site_id." placeholder:"ID"`
	Weather string `help:"Weather table (folder) or one weather file; without it weather/ in the output folder, else the embedded demo." placeholder:"F"`
	clockFlag
}

// A place is a site with its year.
type place struct {
	site weather.Site
	year *weather.Year
}

// find reads the weather of the place asked for. out is the folder an earlier
// run may have left its weather table in; notes say which place it became.
func (p *placeFlags) find(e *env, out string, notes io.Writer) (*place, error) {
	var near *at
	if p.At != "" {
		a, err := parseAt(p.At)
		if err != nil {
			return nil, err
		}
		near = &a
	}
	if near != nil && p.ID != "" {
		return nil, usagef("--at beside --id, want one of them")
	}
	from := p.Weather
	if from == "" {
		left := filepath.Join(out, "weather")
		if inside, err := os.ReadDir(left); err == nil && len(inside) > 0 { // a run that was killed may leave the bare folder
			from = left
		}
	}
	if from == "" {
		return p.demo(e, near, notes)
	}
	info, err := os.Stat(from)
	if err != nil {
		return nil, usageError{fmt.Errorf("--weather: %w", err)}
	}
	if info.IsDir() {
		return p.table(from, near, notes)
	}
	return p.file(e, notes, from, near)
}

func (p *placeFlags) file(e *env, notes io.Writer, path string, near *at) (*place, error) {
	sources, err := ingest.Files([]string{path})
	if err != nil {
		return nil, usageError{err}
	}
	wish := ingest.Wish{ID: p.ID, Lat: math.NaN(), Lon: math.NaN()}
	if near != nil {
		wish.Lat, wish.Lon = near.lat, near.lon
	}
	o := ingest.Options{Sources: sources, Clock: p.clock(), Out: os.TempDir()}
	found := &place{}
	found.site, found.year, _, err = ingest.Find(e.ctx, o, wish)
	switch {
	case errors.Is(err, ingest.ErrManyPlaces):
		return nil, usagef("%v: by --at or --id", err)
	case errors.Is(err, ingest.ErrNoPlace):
		return nil, usagef("--id: %v", err)
	case err != nil:
		return nil, err
	case p.ID != "" && p.ID != found.site.ID:
		return nil, usagef("--id=%s: %s is the weather of %s", p.ID, path, found.site.ID)
	}
	if near != nil {
		tellDistance(notes, found.site, weather.Distance(near.lat, near.lon, found.site.Lat, found.site.Lon))
	}
	return found, nil
}

// table reads the place from the weather table in dir, and no more of it than
// that takes.
func (p *placeFlags) table(dir string, near *at, notes io.Writer) (*place, error) {
	found := &place{}
	var km float64
	var err error
	switch {
	case near != nil:
		found.site, found.year, km, err = weather.Near(dir, near.lat, near.lon)
	case p.ID != "":
		found.site, found.year, err = weather.Lookup(dir, p.ID)
	default:
		found.site, found.year, err = onlySite(dir)
	}
	switch {
	case errors.Is(err, weather.ErrNoSite) && p.ID != "":
		return nil, usagef("--id=%s: no such site in %s", p.ID, dir)
	case errors.Is(err, weather.ErrNoSite):
		return nil, fmt.Errorf("%s holds no sites", dir)
	case err != nil:
		return nil, err
	}
	if near != nil {
		tellDistance(notes, found.site, km)
	}
	return found, nil
}

// onlySite reads the site of a table that has no other.
func onlySite(dir string) (weather.Site, *weather.Year, error) {
	t, err := weather.Open(dir)
	if err != nil {
		return weather.Site{}, nil, err
	}
	defer t.Close()
	if len(t.Sites) != 1 {
		return weather.Site{}, nil, usagef("%s holds %d sites: choose one by --at or --id", dir, len(t.Sites))
	}
	return weather.Lookup(dir, t.Sites[0].ID)
}

func (p *placeFlags) demo(e *env, near *at, notes io.Writer) (*place, error) {
	if near == nil && p.ID == "" {
		return nil, usagef("choose a place by --at, --id or --weather")
	}
	cells, err := demoCells()
	if err != nil {
		return nil, err
	}
	best, least := -1, math.Inf(1)
	for i, c := range cells {
		switch {
		case p.ID == c.ID:
			best, least = i, 0
		case near != nil:
			if km := weather.Distance(near.lat, near.lon, c.Lat, c.Lon); km < least {
				best, least = i, km
			}
		}
	}
	if best < 0 {
		return nil, usagef("--id=%s: no such cell on the demo's island", p.ID)
	}
	site, year, _, err := ingest.One(cells[best].Raw(), p.clock())
	if err != nil {
		return nil, err
	}
	fmt.Fprintln(notes, "no --weather: the place is on Halvane, the invented island of the demo")
	if near != nil {
		tellDistance(notes, site, least)
	}
	return &place{site, year}, nil
}

func tellDistance(w io.Writer, s weather.Site, km float64) {
	fmt.Fprintf(w, "nearest site %s, %s, %.0f km away\n", s.ID, s.Name, km)
}

// studyFor reads the study with the prices of a place, with --design as the only
// candidate where it is given.
func studyFor(f studyFlag, d designFlag, p *place) (*markets, error) {
	m, err := f.markets(resultSites([]weather.Site{p.site}))
	if err != nil {
		return nil, err
	}
	s := m.study()
	if d.Design != "" {
		one, err := d.pick(s)
		if err != nil {
			return nil, err
		}
		s.Designs = s.Designs[:1]
		s.Designs[0] = one
	}
	return m, nil
}
