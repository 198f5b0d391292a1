package picture

import (
	"math"

	"github.com/paulmach/orb"
	"gonum.org/v1/plot/vg"
)

// leastCell is the side of the smallest cell that is seen, points.
const leastCell = 3.6

// lone tells which cells would be too small to see and have few neighbours that
// would make them seen: they are drawn as marks, like stations.
func (v *scene) lone(f *frame) map[int]bool {
	at := func(i int) [2]int {
		p := v.s.Place(i)
		q := f.at(orb.Point{p.Lon + f.turn(p.Lon), p.Lat})
		return [2]int{int(math.Floor(float64(q.X / leastCell))), int(math.Floor(float64(q.Y / leastCell)))}
	}
	size := func(i int) (wide, high vg.Length) {
		p := v.s.Place(i)
		lon := p.CellLonDeg
		if lon == 0 {
			lon = p.CellDeg
		}
		return f.perLon * vg.Length(lon), f.perLat * vg.Length(p.CellDeg)
	}
	covered := make(map[[2]int]vg.Length) // by squares of the smallest cell, square points
	for i := range v.marks {
		wide, high := size(i)
		covered[at(i)] += wide * high
	}
	list := make(map[int]bool)
	for i := range v.marks {
		if wide, high := size(i); v.s.Place(i).CellDeg == 0 || max(wide, high) >= leastCell {
			continue
		}
		var around vg.Length
		c := at(i)
		for dx := -1; dx <= 1; dx++ {
			for dy := -1; dy <= 1; dy++ {
				around += covered[[2]int{c[0] + dx, c[1] + dy}]
			}
		}
		if around < 0.08*9*leastCell*leastCell {
			list[i] = true
		}
	}
	return list
}
