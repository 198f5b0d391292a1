package area

import (
	"cmp"
	"math"
	"slices"
)

// A point lies on the grid of 1/scale degrees. Coordinates stay below 2³⁰, so
// that cross products of their differences are exact.
type point struct{ x, y int64 }

func (p point) compare(q point) int { return cmp.Or(cmp.Compare(p.x, q.x), cmp.Compare(p.y, q.y)) }

// A segment is a straight side of polygon number of, from the lesser point to
// the greater.
type segment struct {
	a, b point
	of   int
}

func newSegment(a, b point, of int) segment {
	if a.compare(b) > 0 {
		a, b = b, a
	}
	return segment{a, b, of}
}

// cross is twice the area of the triangle a b c, above 0 where it runs
// counter-clockwise.
func cross(a, b, c point) int64 { return (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x) }

// maxRounds ends the splitting of segments, whatever they are; two or three
// rounds are usual.
const maxRounds = 30

// arrange splits segments where they meet, until they do so at their ends
// alone. Where they cross is rounded to the grid, which may make new crossings:
// hence rounds.
func arrange(list []segment) []segment {
	for range maxRounds {
		slices.SortFunc(list, func(s, t segment) int {
			return cmp.Or(s.a.compare(t.a), s.b.compare(t.b), cmp.Compare(s.of, t.of))
		})
		cuts := make(map[int][]point)
		for i := range list {
			for k := i + 1; k < len(list) && list[k].a.x <= list[i].b.x; k++ {
				meet(list, i, k, cuts)
			}
		}
		if len(cuts) == 0 {
			break
		}
		var split []segment
		for i, s := range list {
			at := append([]point{s.a, s.b}, cuts[i]...)
			slices.SortFunc(at, point.compare)
			for k := 1; k < len(at); k++ {
				if at[k-1] != at[k] {
					split = append(split, newSegment(at[k-1], at[k], s.of))
				}
			}
		}
		list = split
	}
	return list
}

// meet adds where segments i and k must be cut.
func meet(list []segment, i, k int, cuts map[int][]point) {
	s, t := &list[i], &list[k]
	if s.a == t.a && s.b == t.b || min(s.a.y, s.b.y) > max(t.a.y, t.b.y) || max(s.a.y, s.b.y) < min(t.a.y, t.b.y) {
		return
	}
	cut := func(n int, at point) {
		if at != list[n].a && at != list[n].b {
			cuts[n] = append(cuts[n], at)
		}
	}
	ta, tb := cross(s.a, s.b, t.a), cross(s.a, s.b, t.b)
	sa, sb := cross(t.a, t.b, s.a), cross(t.a, t.b, s.b)
	if ta == 0 && s.spans(t.a) {
		cut(i, t.a)
	}
	if tb == 0 && s.spans(t.b) {
		cut(i, t.b)
	}
	if sa == 0 && t.spans(s.a) {
		cut(k, s.a)
	}
	if sb == 0 && t.spans(s.b) {
		cut(k, s.b)
	}
	if (ta > 0) != (tb > 0) && (sa > 0) != (sb > 0) && ta != 0 && tb != 0 && sa != 0 && sb != 0 {
		part := float64(sa) / (float64(sa) - float64(sb))
		at := point{s.a.x + round(part*float64(s.b.x-s.a.x)), s.a.y + round(part*float64(s.b.y-s.a.y))}
		cut(i, at)
		cut(k, at)
	}
}

func round(v float64) int64 { return int64(math.Round(v)) }

// spans tells whether a point in line with the segment lies in its box.
func (s *segment) spans(p point) bool {
	return s.a.x <= p.x && p.x <= s.b.x && min(s.a.y, s.b.y) <= p.y && p.y <= max(s.a.y, s.b.y)
}

// border gives the directed segments that have the rectangle's part of the area
// on their left and none of it on their right. Segments of list meet at their
// ends alone; those of right, east of the rectangle, bound the same polygons.
func border(list, right []segment) (edges [][2]point) {
	odd := make(map[int]bool) // polygons that an odd number of sides parts from the east
	for i := 0; i < len(list); {
		n := i + 1 // list is sorted
		for n < len(list) && list[n].a == list[i].a && list[n].b == list[i].b {
			n++
		}
		s := list[i]
		// Ray to the east from the middle of the segment, a little above it; in
		// coordinates of half a step. Only a horizontal one has another side below.
		mid := point{s.a.x + s.b.x, s.a.y + s.b.y}
		level := s.a.y == s.b.y
		clear(odd)
		count(odd, list[:i], mid, false)
		count(odd, list[n:], mid, false)
		count(odd, right, mid, false)
		one := inside(odd)
		if level {
			clear(odd)
			count(odd, list[:i], mid, true)
			count(odd, list[n:], mid, true)
			count(odd, right, mid, true)
		} else {
			for _, t := range list[i:n] {
				odd[t.of] = !odd[t.of]
			}
		}
		other := inside(odd)
		// one lies above a level segment or else east of it, other on the other side.
		if one != other {
			// Left of a→b is above where it runs east, and west where it runs north.
			left := one
			if !level && s.b.y > s.a.y {
				left = other
			}
			if left {
				edges = append(edges, [2]point{s.a, s.b})
			} else {
				edges = append(edges, [2]point{s.b, s.a})
			}
		}
		i = n
	}
	return edges
}

// count turns odd for every segment that the ray to the east meets a little
// above, or below, point mid, which is in half steps.
func count(odd map[int]bool, list []segment, mid point, below bool) {
	for i := range list {
		s := &list[i]
		low, high := s.a, s.b
		if low.y > high.y {
			low, high = high, low
		}
		if low.y == high.y || !below && !(2*low.y <= mid.y && mid.y < 2*high.y) || below && !(2*low.y < mid.y && mid.y <= 2*high.y) {
			continue
		}
		// West of the upward side: on its left.
		if (high.x-low.x)*(mid.y-2*low.y)-(high.y-low.y)*(mid.x-2*low.x) > 0 {
			odd[s.of] = !odd[s.of]
		}
	}
}

// inside tells whether a place lies in the rectangle, number 0, and in any
// other polygon.
func inside(odd map[int]bool) bool {
	if !odd[0] {
		return false
	}
	for of, is := range odd {
		if is && of != 0 {
			return true
		}
	}
	return false
}
