package page

import (
	"math"

	"github.com/paulmach/orb"

	"stillrow/rank/survey"
)

// seam is the longitude at which the map is cut: where the widest gap between
// places ends, so that those on both sides of the antimeridian stay together.
// Where places go all round it is the antimeridian.
func seam(s *survey.Survey) float64 {
	const slots = 720 // of half a degree
	var taken [slots]bool
	for i := range s.Len() {
		for _, part := range parts(s.Shape(i)) {
			b := part.Bound()
			for k := int(math.Floor((b.Left() + 180) * 2)); float64(k) <= (b.Right()+180)*2; k++ {
				taken[(k+slots)%slots] = true
			}
		}
	}
	best, end, run := 0, 0, 0
	for k := range 2 * slots { // twice round, as the gap may lie over the antimeridian
		if taken[k%slots] {
			run = 0
			continue
		}
		if run++; run > best {
			best, end = run, k
		}
	}
	if best >= slots || best == 0 {
		return -180
	}
	return float64((end+1)%slots)/2 - 180
}

func parts(g orb.Geometry) []orb.Geometry {
	m, ok := g.(orb.MultiPolygon)
	if !ok {
		return []orb.Geometry{g}
	}
	list := make([]orb.Geometry, len(m))
	for i := range m {
		list[i] = m[i]
	}
	return list
}

// unroll brings what lies west of the seam to its east, a turn on.
func unroll(g orb.Geometry, west float64) orb.Geometry {
	if west == -180 {
		return g
	}
	turned := func(b orb.Bound) float64 {
		if b.Center().Lon() < west {
			return 360
		}
		return 0
	}
	switch g := g.(type) {
	case orb.Point:
		return orb.Point{g.Lon() + turned(g.Bound()), g.Lat()}
	case orb.Polygon:
		return moved(g, turned(g.Bound()))
	case orb.MultiPolygon:
		out := make(orb.MultiPolygon, len(g))
		for i, p := range g {
			out[i] = moved(p, turned(p.Bound()))
		}
		return out
	}
	return g
}

func moved(p orb.Polygon, east float64) orb.Polygon {
	if east == 0 {
		return p
	}
	out := p.Clone()
	for _, r := range out {
		for i := range r {
			r[i][0] += east
		}
	}
	return out
}
