package survey

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"stillrow/data/area"
)

// Shape is where the i-th place lies, in degrees of longitude and latitude: an
// orb.Point for a station; for a grid cell its outline as an orb.Polygon or
// orb.MultiPolygon, cut in two where it crosses the antimeridian and clipped to
// Within. Outlines run counter-clockwise, holes clockwise. It is not to be
// changed.
func (s *Survey) Shape(i int) orb.Geometry {
	if g, ok := s.clipped[i]; ok {
		return g
	}
	p := &s.places[i]
	if p.CellDeg == 0 {
		return orb.Point{p.Lon, p.Lat}
	}
	return geometry(rectangles(p.cell()))
}

// clip files the shape of the next place where it is less than its cell. A cell
// of whose outline nothing is left, though it was taken for inside, stays whole.
func (s *Survey) clip(p *Place) {
	if s.Within == nil || p.CellDeg == 0 {
		return
	}
	var all orb.MultiPolygon
	cell := p.cell()
	whole := rectangles(cell)
	for _, b := range cell {
		all = append(all, s.Within.Clip(b)...)
	}
	if len(all) == 0 || all.Equal(whole) {
		return
	}
	if s.clipped == nil {
		s.clipped = make(map[int]orb.Geometry)
	}
	s.clipped[len(s.places)] = geometry(all)
}

// Overlaps tells whether a place lies in an area: a station where its point
// does, a grid cell where part of it does.
func (p *Place) Overlaps(a *area.Area) bool {
	if a.Contains(p.Lat, p.Lon) {
		return true
	}
	if p.CellDeg > 0 {
		for _, b := range p.cell() {
			if len(a.Clip(b)) > 0 {
				return true
			}
		}
	}
	return false
}

// Check refuses a place that is not on the globe.
func (p *Place) Check() error {
	// The comparisons fail for NaN, too.
	if !(math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 180) {
		return fmt.Errorf("site %s: lat = %g, lon = %g, want -90 to 90 and -180 to 180", p.ID, p.Lat, p.Lon)
	}
	for _, c := range []struct {
		name string
		deg  float64
	}{{"cell_deg", p.CellDeg}, {"cell_lon_deg", p.CellLonDeg}} {
		if !(c.deg >= 0 && c.deg <= 90) {
			return fmt.Errorf("site %s: %s = %g, want 0 to 90", p.ID, c.name, c.deg)
		}
	}
	return nil
}

// cell gives the rectangle of a grid cell, or both of them where it crosses the
// antimeridian.
func (p *Place) cell() []orb.Bound {
	half := p.CellDeg / 2
	south, north := max(edge(p.Lat-half), -90), min(edge(p.Lat+half), 90)
	if p.CellLonDeg > 0 {
		half = p.CellLonDeg / 2
	}
	west, east := edge(p.Lon-half), edge(p.Lon+half)
	bound := func(west, east float64) orb.Bound {
		return orb.Bound{Min: orb.Point{west, south}, Max: orb.Point{east, north}}
	}
	switch {
	case west < -180:
		return []orb.Bound{bound(edge(west+360), 180), bound(-180, east)}
	case east > 180:
		return []orb.Bound{bound(west, 180), bound(-180, edge(east-360))}
	}
	return []orb.Bound{bound(west, east)}
}

// edge rounds to 1e-9 degrees, so that two neighbours share one edge whichever
// centre it is computed from.
func edge(deg float64) float64 { return math.Round(deg*1e9) / 1e9 }

func rectangles(list []orb.Bound) (m orb.MultiPolygon) {
	for _, b := range list {
		m = append(m, b.ToPolygon())
	}
	return m
}

// geometry is the polygon where there is one alone.
func geometry(m orb.MultiPolygon) orb.Geometry {
	if len(m) == 1 {
		return m[0]
	}
	return m
}
