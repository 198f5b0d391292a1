package geojson

import (
	"math"

	"github.com/paulmach/orb"
)

// An extent gathers the bounding box of many shapes. Longitudes lie on a
// circle, so it remembers which of its 360 degrees are taken, and in each the
// outermost values.
type extent struct {
	south, north float64
	some         bool
	degree       [360]struct {
		taken      bool
		west, east float64
	}
}

func (x *extent) add(g orb.Geometry) {
	if parts, ok := g.(orb.MultiPolygon); ok {
		for _, p := range parts { // a cut cell is near the antimeridian only, its bound is not
			x.add(p)
		}
		return
	}
	b := g.Bound()
	if !x.some {
		x.south, x.north, x.some = b.Bottom(), b.Top(), true
	}
	x.south, x.north = min(x.south, b.Bottom()), max(x.north, b.Top())
	for k := degreeOf(b.Left()); k <= degreeOf(b.Right()); k++ {
		d := &x.degree[k]
		west, east := max(b.Left(), float64(k-180)), min(b.Right(), float64(k-179))
		if !d.taken {
			d.taken, d.west, d.east = true, west, east
		}
		d.west, d.east = min(d.west, west), max(d.east, east)
	}
}

func degreeOf(lon float64) int { return min(359, int(math.Floor(lon))+180) }

// box returns the bounding box; not ok when nothing was added. It runs across
// the antimeridian, west above east (RFC 7946 section 5.2), where that makes it
// the narrower one and less than half the circle, and round the globe where it
// holds a pole (section 5.3).
func (x *extent) box() (west, south, east, north float64, ok bool) {
	if !x.some {
		return 0, 0, 0, 0, false
	}
	if x.south == -90 || x.north == 90 {
		return -180, x.south, 180, x.north, true
	}
	west, east = 180, -180
	gap, gapWest, gapEast := 0.0, 0.0, 0.0 // the widest stretch with nothing in it
	for _, d := range x.degree {
		if !d.taken {
			continue
		}
		if west <= east && d.west-east > gap {
			gap, gapWest, gapEast = d.west-east, east, d.west
		}
		west, east = min(west, d.west), max(east, d.east)
	}
	if across := 360 - gap; across < 180 && across < east-west {
		west, east = gapEast, gapWest
	}
	return west, x.south, east, x.north, true
}
