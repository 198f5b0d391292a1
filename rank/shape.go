package rank

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"stillrow/simulate/result"
)

// shape is the place of a site: a point, or the outline of its grid cell,
// counter-clockwise, cut in two where the cell crosses the antimeridian.
func shape(s *result.Site) (orb.Geometry, error) {
	// The comparisons fail for NaN, too.
	if !(math.Abs(s.Lat) <= 90 && math.Abs(s.Lon) <= 180) {
		return nil, fmt.Errorf("site %s: lat = %g, lon = %g, want -90 to 90 and -180 to 180", s.ID, s.Lat, s.Lon)
	}
	for _, c := range []struct {
		name string
		deg  float64
	}{{"cell_deg", s.CellDeg}, {"cell_lon_deg", s.CellLonDeg}} {
		if !(c.deg >= 0 && c.deg <= 90) {
			return nil, fmt.Errorf("site %s: %s = %g, want 0 to 90", s.ID, c.name, c.deg)
		}
	}
	if s.CellDeg == 0 {
		return orb.Point{s.Lon, s.Lat}, nil
	}
	half := s.CellDeg / 2
	south, north := max(edge(s.Lat-half), -90), min(edge(s.Lat+half), 90)
	if s.CellLonDeg > 0 {
		half = s.CellLonDeg / 2
	}
	west, east := edge(s.Lon-half), edge(s.Lon+half)
	switch {
	case west < -180:
		return orb.MultiPolygon{outline(edge(west+360), south, 180, north), outline(-180, south, east, north)}, nil
	case east > 180:
		return orb.MultiPolygon{outline(west, south, 180, north), outline(-180, south, edge(east-360), north)}, nil
	}
	return outline(west, south, east, north), nil
}

// edge rounds to 1e-9 degrees, so that two neighbours share one edge whichever
// centre it is computed from.
func edge(deg float64) float64 { return math.Round(deg*1e9) / 1e9 }

func outline(west, south, east, north float64) orb.Polygon {
	return orb.Polygon{{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}}
}
