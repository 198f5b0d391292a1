package main

import (
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"stillrow/rank"
	"stillrow/simulate/result"
)

func TestWindow(t *testing.T) {
	b := func(west, south, east, north float64) orb.Bound {
		return orb.Bound{Min: orb.Point{west, south}, Max: orb.Point{east, north}}
	}
	for _, tt := range []struct {
		name    string
		sites   []result.Site
		in, out []orb.Bound
	}{
		{"one site", []result.Site{{Lat: 40, Lon: -4}}, []orb.Bound{b(-10, 36, 3, 44), b(5, 30, 90, 31), b(-180, -90, 180, 90)}, []orb.Bound{b(7, 36, 20, 44), b(-4, 51, -3, 60)}},
		{"across the antimeridian", []result.Site{{Lat: -17, Lon: 178}, {Lat: -18, Lon: -179}},
			[]orb.Bound{b(170, -20, 175, -10), b(-180, -20, -172, -10)}, []orb.Bound{b(160, -20, 167, -10), b(-168, -20, 0, -10)}},
		{"round the earth", []result.Site{{Lon: -170}, {Lon: -80}, {Lon: 10}, {Lon: 100}}, []orb.Bound{b(-169, 0, -168, 1), b(55, 0, 56, 1), b(179, 0, 180, 1)}, nil},
	} {
		w := newWindow(tt.sites)
		for _, in := range tt.in {
			if !w.touches(in) {
				t.Errorf("%s: %v is out of %v", tt.name, in, w)
			}
		}
		for _, out := range tt.out {
			if w.touches(out) {
				t.Errorf("%s: %v is in %v", tt.name, out, w)
			}
		}
	}
}

// The demo's sites have its island around them, others the countries they lie
// in; the source line names both and the data sets.
func TestFrame(t *testing.T) {
	demo := result.Site{ID: "d", Country: "Halvane", Lat: 40, Lon: -41, Source: "monthly means, halvane/climate.csv"}
	spain := madrid
	spain.Source = "EPW (SWERA), madrid.epw"
	holds := func(rings []orb.Ring, lat, lon float64) bool {
		return slices.ContainsFunc(rings, func(r orb.Ring) bool { return r.Bound().Contains(orb.Point{lon, lat}) })
	}
	for _, tt := range []struct {
		sites       []result.Site
		demo, spain bool
		source      string
	}{
		{[]result.Site{demo}, true, false, "Weather: monthly means. Outlines: the invented island Halvane. Computed with stillrow "},
		{[]result.Site{spain}, false, true, "Weather: EPW (SWERA). Outlines: Natural Earth 1:50 million. Computed with stillrow "},
		{[]result.Site{demo, spain}, true, true, "Weather: monthly means, EPW (SWERA). "},
	} {
		m, err := studyFlag{}.markets(tt.sites)
		if err != nil {
			t.Fatal(err)
		}
		var o rank.Options
		if err := m.frame(&o, tt.sites); err != nil {
			t.Fatal(err)
		}
		if holds(o.Outline, 40, -41) != tt.demo || holds(o.Outline, 40.4, -3.7) != tt.spain || holds(o.Outline, -30, 25) {
			t.Errorf("%d rings for %d sites", len(o.Outline), len(tt.sites))
		}
		if !strings.HasPrefix(o.Source, tt.source) || o.Title != m.study().Name {
			t.Errorf("source %q, title %q", o.Source, o.Title)
		}
	}
}
