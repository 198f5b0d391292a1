package simulate

import (
	"slices"

	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
)

// A narrow is a group's field cut down to some of its lanes and to the rows
// that are looked up, so that the cache holds it. It has each lane twice: as it
// is, then the part that comes by the mirror.
type narrow struct {
	kernel.Field
	plan    *Plan
	group   *group
	lanes   []int   // of the group
	numbers []int32 // of the group's rows in Field, from 1; 0: not there yet
}

func newNarrow(p *Plan, g *group, lanes []int) *narrow {
	n := len(lanes)
	f := &narrow{
		Field: kernel.Field{Lanes: 2 * n, Sky: make([]float32, 2*n), Ground: make([]float32, 2*n)},
		plan:  p, group: g, lanes: lanes, numbers: make([]int32, collector.Rows),
	}
	for i, l := range lanes {
		f.Sky[i], f.Sky[n+i] = g.field.Sky[l], float32(p.Mirror.Rho()*g.heaters[l].Mirrored)
		f.Ground[i], f.Ground[n+i] = g.field.Ground[l], g.field.Ground[l]
	}
	return f
}

// row gives the number of a group's row in the narrow field.
func (f *narrow) row(row int32) int32 {
	if f.numbers[row] > 0 {
		return f.numbers[row] - 1
	}
	n, all, at := len(f.lanes), f.group.field.Lanes, len(f.Beam)
	f.Beam = slices.Grow(f.Beam, 2*n)[:at+2*n]
	whole, mirrored := f.Beam[at:][:n], f.Beam[at+n:][:n]
	from := f.group.field.Beam[int(row)*all:][:all]
	direct, gain := f.group.direct[int(row)/collector.S2Bins*all:][:all], f.plan.gain[row]
	for i, l := range f.lanes {
		whole[i] = from[l]
		mirrored[i] = max(0, from[l]-float32(gain*direct[l]))
	}
	f.numbers[row] = int32(len(f.Beam) / f.Lanes)
	return f.numbers[row] - 1
}
