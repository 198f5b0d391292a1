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

func (p *Place) cell() []orb.Bound { return area.Cell(p.Lat, p.Lon, p.CellDeg, p.CellLonDeg) }

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
