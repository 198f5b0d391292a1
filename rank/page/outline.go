package page

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"
)

// lines are the rings that reach into the view, simplified to what the eye can
// tell at a zoom of some ten times.
func lines(rings []orb.Ring, view orb.Bound) [][]int {
	tolerance := max(view.Max[0]-view.Min[0], view.Max[1]-view.Min[1]) / 8000
	out := [][]int{}
	for _, r := range rings {
		if !r.Bound().Intersects(view) {
			continue
		}
		// Simplifying works in place.
		r = simplify.DouglasPeucker(tolerance).Ring(r.Clone())
		if len(r) > 3 {
			out = append(out, line(r))
		}
	}
	return out
}
