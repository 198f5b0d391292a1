package page

import (
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"
)

// lines are the rings that reach into the view, simplified to what the eye can
// tell at a zoom of some ten times. The view may run past the antimeridian: a
// ring is there as often as it comes by.
func lines(rings []orb.Ring, view orb.Bound) [][]int {
	tolerance := max(view.Max[0]-view.Min[0], view.Max[1]-view.Min[1]) / 8000
	out := [][]int{}
	for _, r := range rings {
		for _, east := range []float64{-360, 0, 360} {
			part := moved(orb.Polygon{r}, east)[0]
			if !part.Bound().Intersects(view) {
				continue
			}
			// Simplifying works in place.
			part = simplify.DouglasPeucker(tolerance).Ring(part.Clone())
			if len(part) > 3 {
				out = append(out, line(part))
			}
		}
	}
	return out
}
