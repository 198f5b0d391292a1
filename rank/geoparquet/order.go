package geoparquet

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// Order gives the numbers of n places along a Hilbert curve over the globe's
// longitudes and latitudes: rows written in that order, row groups hold
// neighbours and readers can leave most of them out by their boxes. Places at
// one point keep the order of their numbers.
func Order(n int, at func(i int) orb.Point) []int32 {
	type key struct {
		along uint64
		i     int32
	}
	keys := make([]key, n)
	for i := range keys {
		p := at(i)
		keys[i] = key{hilbert(step(p.Lon(), -180, 360), step(p.Lat(), -90, 180)), int32(i)}
	}
	slices.SortFunc(keys, func(a, b key) int { return cmp.Or(cmp.Compare(a.along, b.along), cmp.Compare(a.i, b.i)) })
	order := make([]int32, n)
	for k := range keys {
		order[k] = keys[k].i
	}
	return order
}

// levels is how often the curve halves each side; its steps are 40 m at most.
const levels = 20

func step(v, from, width float64) uint32 {
	const most = 1<<levels - 1
	return uint32(max(0, min(most, math.Floor((v-from)/width*(1<<levels)))))
}

// hilbert is how far along the curve the cell x, y lies. In each halving the
// quadrants follow each other in a U, and the curve inside the first and the
// last is mirrored on a diagonal so that the ends meet (D. Hilbert, Math. Ann.
// 38, 1891).
func hilbert(x, y uint32) (along uint64) {
	for side := uint32(1) << (levels - 1); side > 0; side >>= 1 {
		right, upper := x&side != 0, y&side != 0
		var quadrant uint64
		switch {
		case !right && !upper:
			x, y = y, x
		case !right && upper:
			quadrant = 1
		case right && upper:
			quadrant = 2
		default:
			quadrant = 3
			x, y = ^y, ^x
		}
		along = along<<2 | quadrant
	}
	return along
}
