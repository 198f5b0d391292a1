package area

import (
	"cmp"
	"slices"

	"github.com/paulmach/orb"
)

// polygons joins directed segments, which have the inside on their left, to
// rings and these to polygons. Those of less than least square steps are left
// out.
func polygons(edges [][2]point, least float64) orb.MultiPolygon {
	var shells, holes [][]point
	for _, ring := range rings(edges) {
		switch size := doubleArea(ring); {
		case float64(size) >= 2*least && size > 0:
			shells = append(shells, straight(ring))
		case size < 0:
			holes = append(holes, straight(ring))
		}
	}
	all := make(orb.MultiPolygon, len(shells))
	for i, s := range shells {
		all[i] = orb.Polygon{degrees(s)}
	}
	for _, h := range holes {
		best := -1
		for i, s := range shells {
			if encloses(s, h) && (best < 0 || doubleArea(s) < doubleArea(shells[best])) {
				best = i
			}
		}
		if best >= 0 { // else that of a shell left out
			all[best] = append(all[best], degrees(h))
		}
	}
	if len(all) == 0 {
		return nil
	}
	return all
}

// rings follows the segments. No ring meets itself; rings may touch.
func rings(edges [][2]point) (list [][]point) {
	from := make(map[point][]int)
	for i, e := range edges {
		from[e[0]] = append(from[e[0]], i)
	}
	used := make([]bool, len(edges))
	for first := range edges {
		var path []point
		at := make(map[point]int) // where on the path
		for i := first; i >= 0 && !used[i]; i = next(edges, from, used, i) {
			used[i] = true
			start := edges[i][0]
			if k, ok := at[start]; ok { // a loop is complete
				for _, p := range path[k:] {
					delete(at, p)
				}
				list = append(list, slices.Clone(path[k:]))
				path = path[:k]
			}
			at[start] = len(path)
			path = append(path, start)
		}
		if len(path) > 2 {
			list = append(list, path)
		}
	}
	return list
}

// next gives the segment that goes on from segment i around the same piece of
// the inside: the first one clockwise from the way back.
func next(edges [][2]point, from map[point][]int, used []bool, i int) int {
	back, at := edges[i][0], edges[i][1]
	best := -1
	for _, k := range from[at] {
		if !used[k] && (best < 0 || sooner(at, back, edges[k][1], edges[best][1])) {
			best = k
		}
	}
	return best
}

// sooner tells whether a turn clockwise around point at, from back on, meets p
// before q.
func sooner(at, back, p, q point) bool {
	half := func(to point) int { // 0 in the first half turn
		if c := cross(at, back, to); c < 0 || c == 0 && (to.x-at.x)*(back.x-at.x)+(to.y-at.y)*(back.y-at.y) < 0 {
			return 0
		}
		return 1
	}
	if hp, hq := half(p), half(q); hp != hq {
		return hp < hq
	}
	return cross(at, p, q) < 0
}

func doubleArea(ring []point) (sum int64) {
	for i := range ring {
		sum += cross(ring[0], ring[i], ring[(i+1)%len(ring)])
	}
	return sum
}

// straight leaves out points in line with their neighbours and begins with the
// least.
func straight(ring []point) []point {
	var kept []point
	for i, p := range ring {
		if cross(ring[(i+len(ring)-1)%len(ring)], p, ring[(i+1)%len(ring)]) != 0 {
			kept = append(kept, p)
		}
	}
	least := 0
	for i := range kept {
		if cmp.Or(cmp.Compare(kept[i].y, kept[least].y), cmp.Compare(kept[i].x, kept[least].x)) < 0 {
			least = i
		}
	}
	return append(kept[least:], kept[:least]...)
}

// encloses tells whether a shell has the middle of a hole's side inside.
func encloses(shell, hole []point) bool {
	odd := make(map[int]bool)
	var sides []segment
	for i := range shell {
		sides = append(sides, newSegment(shell[i], shell[(i+1)%len(shell)], 0))
	}
	count(odd, sides, point{hole[0].x + hole[1].x, hole[0].y + hole[1].y}, false)
	return odd[0]
}

func degrees(ring []point) orb.Ring {
	r := make(orb.Ring, 0, len(ring)+1)
	for _, p := range ring {
		r = append(r, orb.Point{float64(p.x) / scale, float64(p.y) / scale})
	}
	return append(r, r[0])
}
