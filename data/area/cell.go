package area

import (
	"math"

	"github.com/paulmach/orb"
)

// Cell gives the rectangle of a grid cell of so many degrees of latitude and
// longitude (0: as many as of latitude) around a centre, or both of them where
// it crosses the antimeridian. It ends at the poles.
func Cell(lat, lon, cellLat, cellLon float64) []orb.Bound {
	half := cellLat / 2
	south, north := max(edge(lat-half), -90), min(edge(lat+half), 90)
	if cellLon > 0 {
		half = cellLon / 2
	}
	west, east := edge(lon-half), edge(lon+half)
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

// Overlaps tells whether a place lies in the area: a station, of cellLat 0,
// where its point does, a grid cell as Cell takes it where part of it does.
func (a *Area) Overlaps(lat, lon, cellLat, cellLon float64) bool {
	if a.Contains(lat, lon) {
		return true
	}
	if cellLat > 0 {
		for _, b := range Cell(lat, lon, cellLat, cellLon) {
			if len(a.Clip(b)) > 0 {
				return true
			}
		}
	}
	return false
}
