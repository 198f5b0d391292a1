package area

import (
	"math"

	"github.com/paulmach/orb"
)

// scale is the number of steps to a degree of the grid on which clipping is
// exact: GeoJSON is written with as many decimals, so that what is valid here
// stays so there.
const scale = 1_000_000

// leastPart is the share of a rectangle below which a part of it is dropped.
const leastPart = 1e-6

// Clip gives the part of a rectangle, which must not cross the antimeridian,
// that lies in the area: polygons with their holes, outlines counter-clockwise
// and holes clockwise, on coordinates of six decimals. Polygons of the area that
// overlap or share a border are taken as one. Where all of it lies inside, the
// answer is the rectangle as it came, and nil where none does; parts of less
// than a millionth of the rectangle do not count.
func (a *Area) Clip(b orb.Bound) orb.MultiPolygon {
	near, right := a.around(b)
	if len(near) == 0 {
		c := b.Center()
		if a.Contains(c.Lat(), c.Lon()) {
			return orb.MultiPolygon{b.ToPolygon()}
		}
		return nil
	}
	box := rectangle(b)
	for i := range box {
		near = append(near, box[i])
	}
	least := leastPart * (b.Right() - b.Left()) * (b.Top() - b.Bottom()) * scale * scale
	part := polygons(border(arrange(near), right), least)
	if whole := (orb.MultiPolygon{orb.Polygon{snapped(b)}}); part.Equal(whole) {
		return orb.MultiPolygon{b.ToPolygon()}
	}
	return part
}

// Border gives the rings of all polygons for drawing, longitudes −180 to 180:
// what crosses the antimeridian is cut there, with the cut as a side.
func (a *Area) Border() (list []orb.Ring) {
	for _, p := range a.polygons {
		if p.bound.Left() >= -180 && p.bound.Right() <= 180 {
			list = append(list, p.rings...)
			continue
		}
		one := &Area{polygons: []polygon{p}}
		for turn := -360.0; turn <= 360; turn += 360 {
			box := p.bound
			box.Min[0], box.Max[0] = max(box.Min[0]+turn, -180), min(box.Max[0]+turn, 180)
			if box.Min[0] >= box.Max[0] {
				continue
			}
			for _, part := range one.Clip(box) {
				list = append(list, part...)
			}
		}
	}
	return list
}

// snapped is the rectangle's outline on the grid.
func snapped(b orb.Bound) (r orb.Ring) {
	var ring []point
	for _, p := range b.ToRing()[:4] {
		ring = append(ring, snap(p))
	}
	return degrees(ring)
}

// around gives the sides of the area's polygons that come near a rectangle, and
// those beside it to the east, which tell its inside from its outside. Each
// polygon and whole turn of it has a number of its own from 1.
func (a *Area) around(b orb.Bound) (near, right []segment) {
	wide := orb.Bound{Min: orb.Point{b.Left() - 2.0/scale, b.Bottom() - 2.0/scale}, Max: orb.Point{b.Right() + 2.0/scale, b.Top() + 2.0/scale}}
	for i := range a.polygons {
		p := &a.polygons[i]
		for turn := -1; turn <= 1; turn++ {
			shift := 360 * float64(turn)
			of := 3*i + turn + 2
			if p.bound.Max[1] < wide.Min[1] || p.bound.Min[1] > wide.Max[1] || p.bound.Max[0]+shift < wide.Min[0] {
				continue
			}
			p.sides(wide.Min[1], wide.Max[1], func(_ int, from, to orb.Point) {
				from[0], to[0] = from[0]+shift, to[0]+shift
				if max(from[1], to[1]) < wide.Min[1] || min(from[1], to[1]) > wide.Max[1] || max(from[0], to[0]) < wide.Min[0] {
					return
				}
				s := newSegment(snap(from), snap(to), of)
				switch {
				case s.a == s.b:
				case min(from[0], to[0]) > wide.Max[0]:
					right = append(right, s)
				default:
					near = append(near, s)
				}
			})
		}
	}
	return near, right
}

// rows is the number of strips of latitude by which the sides of a polygon are
// filed.
const rows = 512

// file puts every side of the polygon under the strips of latitude it is in.
func (p *polygon) file() {
	p.rows = make([][]side, rows)
	for r, ring := range p.rings {
		for k := 1; k < len(ring); k++ {
			from, to := p.row(min(ring[k-1][1], ring[k][1])), p.row(max(ring[k-1][1], ring[k][1]))
			for i := from; i <= to; i++ {
				p.rows[i] = append(p.rows[i], side{int32(r), int32(k)})
			}
		}
	}
}

// A side ends at point k of a ring.
type side struct{ ring, k int32 }

func (p *polygon) row(lat float64) int {
	height := p.bound.Max[1] - p.bound.Min[1]
	if height == 0 {
		return 0
	}
	return int(max(0, min(rows-1, math.Floor((lat-p.bound.Min[1])/height*rows))))
}

// sides visits every side that may lie between two latitudes, once.
func (p *polygon) sides(south, north float64, visit func(ring int, from, to orb.Point)) {
	first, last := p.row(south), p.row(north)
	for i := first; i <= last; i++ {
		for _, s := range p.rows[i] {
			from, to := p.rings[s.ring][s.k-1], p.rings[s.ring][s.k]
			if i > first && p.row(min(from[1], to[1])) < i {
				continue // visited in the row before
			}
			visit(int(s.ring), from, to)
		}
	}
}

func snap(p orb.Point) point {
	return point{int64(math.Round(p[0] * scale)), int64(math.Round(p[1] * scale))}
}

// rectangle gives the sides of the rectangle, number 0.
func rectangle(b orb.Bound) (list [4]segment) {
	ring := b.ToRing()
	for i := range list {
		list[i] = newSegment(snap(ring[i]), snap(ring[i+1]), 0)
	}
	return list
}
