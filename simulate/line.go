package simulate

import (
	"math"
	"slices"

	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
)

// kernelLines writes the linear losses of a year at each outlet.
func (sy *siteYear) kernelLines(dst [][]kernel.Line, outlets []collector.Outlet, r *collector.Receiver) {
	wet, dry := r.Capacity(), r.C5
	if r.Night == collector.Hold && !slices.Contains(sy.lockedDays, true) {
		dry = 0 // it never is: its exponentials are spared
	}
	wets, dries := newFalls(wet, outlets, r), newFalls(dry, outlets, r)
	for h := range sy.events {
		loss := r.LossIn(sy.air(h))
		for o, out := range outlets {
			l := loss.Linear(out)
			k := &dst[o][h]
			inv := 1 / l.U
			k.Base, k.InvU, k.U = float32(l.Run-l.At*inv), float32(inv), float32(l.U)
			k.Wet = wets.decay(o, l.U, inv)
			k.Dry = dries.decay(o, l.U, inv)
		}
	}
}

// falls give, outlet by outlet, how a receiver of one capacity falls in an hour.
// Outlets differ in the slope of the loss by the same in every hour, unless a
// slope is kept positive: an exponential of the first makes those of all others.
type falls struct {
	capacity float64   // J/m²K
	more     []float64 // slope of each outlet less that of the first, W/m²K
	times    []float64 // and what that makes of the first one's exponential

	u, hour float64 // of the first at hand
}

func newFalls(capacity float64, outlets []collector.Outlet, r *collector.Receiver) *falls {
	f := &falls{capacity: capacity}
	first := outlets[0]
	for _, o := range outlets {
		more := r.C2 * ((o.In + o.Out) - (first.In + first.Out)) / 2
		f.more, f.times = append(f.more, more), append(f.times, fallen(more, capacity))
	}
	return f
}

// fallen is the share of a distance that is left after an hour.
func fallen(u, capacity float64) float64 {
	if capacity == 0 {
		return 0
	}
	return math.Exp(-u * 3600 / capacity)
}

// decay is that at an outlet, to be asked for in their order; inv is 1/u.
func (f *falls) decay(outlet int, u, inv float64) kernel.Decay {
	if f.capacity == 0 {
		return kernel.Decay{}
	}
	time := f.capacity * inv / 3600
	hour := f.hour * f.times[outlet]
	// Very small or great numbers lose digits or are none.
	if outlet == 0 || math.Abs(u-f.u-f.more[outlet]) > 1e-12*u || !(f.hour > 1e-200 && hour > 1e-200) {
		hour = math.Exp(-1 / time)
	}
	if outlet == 0 {
		f.u, f.hour = u, hour
	}
	return kernel.Decay{Hour: float32(hour), Time: float32(time)}
}
