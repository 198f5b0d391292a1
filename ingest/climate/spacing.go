package climate

import (
	"math"
	"slices"
)

// spacing gives the steps of the regular grid that places lie on, degrees, east
// being 0 where it is like north; both are 0 where they lie on none. Every place
// must have a neighbour one step away, and none may lie between.
func spacing(list []place) (north, east float64) {
	if len(list) == 0 {
		return 0, 0
	}
	lats, lons := make([]float64, len(list)), make([]float64, len(list))
	for i := range list {
		lats[i], lons[i] = list[i].cell.Lat, list[i].cell.Lon
	}
	const slack = 0.01 // of a step
	north, east = least(lats), least(lons)
	if north == 0 || east == 0 {
		return 0, 0
	}
	south, west := slices.Min(lats), slices.Min(lons)
	type node struct{ y, x int }
	at := make(map[node]bool, len(list))
	for i := range lats {
		y, x := (lats[i]-south)/north, (lons[i]-west)/east
		n := node{int(math.Round(y)), int(math.Round(x))}
		// Rounded coordinates drift from the multiples of a rounded step.
		drift := min(slack*(1+max(y, x)), 0.25)
		if math.Abs(y-float64(n.y)) > drift || math.Abs(x-float64(n.x)) > drift {
			return 0, 0
		}
		at[n] = true
	}
	for n := range at {
		if !at[node{n.y + 1, n.x}] && !at[node{n.y - 1, n.x}] && !at[node{n.y, n.x + 1}] && !at[node{n.y, n.x - 1}] {
			return 0, 0
		}
	}
	north, east = math.Round(north*1e6)/1e6, math.Round(east*1e6)/1e6
	if math.Abs(east-north) <= slack*north {
		east = 0
	}
	return north, east
}

// least gives the least distance of two different values, 0 where all are one.
func least(v []float64) float64 {
	v = slices.Clone(v)
	slices.Sort(v)
	step := 0.0
	for i := 1; i < len(v); i++ {
		if d := v[i] - v[i-1]; d > 1e-6 && (step == 0 || d < step) {
			step = d
		}
	}
	return step
}
