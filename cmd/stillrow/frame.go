package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"stillrow/data"
	"stillrow/rank"
	"stillrow/simulate/result"
)

// demoOutline is the coast of the demo's island.
const demoOutline = "halvane/outline.geojson"

// frame puts in what pictures and pages of a ranking show besides its figures:
// the study's name, where the weather and the outlines come from, and the coasts
// and borders around the sites.
func (m *markets) frame(o *rank.Options, sites []result.Site) error {
	o.Pictures, o.Title = true, m.study().Name
	var real, invented []result.Site
	for _, s := range sites {
		if strings.EqualFold(s.Country, demoBook) {
			invented = append(invented, s)
		} else {
			real = append(real, s)
		}
	}
	var outlines []string
	if len(invented) > 0 {
		rings, err := demoCoast()
		if err != nil {
			return err
		}
		o.Outline, outlines = rings, append(outlines, "the invented island Halvane")
	}
	if len(real) > 0 {
		near := newWindow(real)
		for _, c := range m.world.Countries {
			for _, p := range c.Outline {
				if near.touches(p.Bound()) {
					o.Outline = append(o.Outline, p...)
				}
			}
		}
		outlines = append(outlines, "Natural Earth 1:50 million")
	}
	o.Source = fmt.Sprintf("Weather: %s. Outlines: %s. Computed with stillrow %s.", strings.Join(dataSets(sites), ", "), strings.Join(outlines, ", "), version)
	return nil
}

// demoCoast reads the demo's outline.
func demoCoast() ([]orb.Ring, error) {
	text, err := data.FS.ReadFile(demoOutline)
	if err != nil {
		return nil, err
	}
	f, err := geojson.UnmarshalFeature(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", demoOutline, err)
	}
	p, ok := f.Geometry.(orb.Polygon)
	if !ok {
		return nil, fmt.Errorf("%s: %T, want a polygon", demoOutline, f.Geometry)
	}
	return p, nil
}

// dataSets names those of the sites' weather, without the files, in the order in
// which they turn up; of many the first.
func dataSets(sites []result.Site) (list []string) {
	const most = 4
	seen := make(map[string]bool)
	for _, s := range sites {
		name, _, _ := strings.Cut(s.Source, ", ")
		if name != "" && !seen[name] {
			seen[name] = true
			list = append(list, name)
		}
	}
	if more := len(list) - most; more > 0 {
		list = append(list[:most], fmt.Sprintf("%d more", more))
	}
	if list == nil {
		list = []string{"not stated"}
	}
	return list
}

// A window is the part of the globe around sites.
type window struct{ west, south, width, height float64 }

// margin is how far a window goes beyond the sites, degrees.
const margin = 10

// newWindow leaves out the widest stretch of longitude without a site.
func newWindow(sites []result.Site) window {
	south, north := 90.0, -90.0
	var lons []float64
	for _, s := range sites {
		south, north = min(south, s.Lat), max(north, s.Lat)
		lons = append(lons, s.Lon)
	}
	slices.Sort(lons)
	west, gap := lons[0], lons[0]+360-lons[len(lons)-1]
	for i := 1; i < len(lons); i++ {
		if d := lons[i] - lons[i-1]; d > gap {
			west, gap = lons[i], d
		}
	}
	return window{west - margin, south - margin, 360 - gap + 2*margin, north - south + 2*margin}
}

func (w window) touches(b orb.Bound) bool {
	if b.Top() < w.south || b.Bottom() > w.south+w.height {
		return false
	}
	from := math.Mod(b.Left()-w.west+720, 360) // east of the window's edge
	return from <= w.width || from+b.Right()-b.Left() >= 360
}
