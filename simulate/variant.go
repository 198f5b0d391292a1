package simulate

import (
	"slices"

	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
)

// A variant is one of the years a pick goes through again: its lane of the fleet
// absorbs times one of the lights of all picked lanes, and extra times another.
type variant struct {
	lane, of, more uint32
	times, extra   float32
}

// variants are the years of all picks of a group. A bank of the fleet is those at
// an outlet whose loss is the same.
type variants struct {
	at     *replay
	fleet  *kernel.Fleet
	scaled []variant // without extra
	mixed  []variant // with
	banks  []bank
	lines  []*kernel.Line // of the hour, of each bank
	s      []float32      // of the hour, of the fleet's lanes
}

type bank struct {
	outlet int
	to     []*[12]float32
	loss   loss        // nil: the plain one
	line   kernel.Line // of the hour, unless plain
}

// A loss makes of the plain line of an hour that under a changed input.
type loss interface {
	line(dst, was *kernel.Line, w collector.Weather)
}

// variants lists the years of the picks at hand.
func (at *replay) variants() *variants {
	v := &variants{at: at}
	var sizes []int
	var regimes []*kernel.Regime
	var made []variant // lanes within their banks
	for lo := 0; lo < len(at.picks); {
		o, hi := at.picks[lo].Outlet, lo+1
		for hi < len(at.picks) && at.picks[hi].Outlet == o {
			hi++
		}
		for _, l := range at.losses(o) {
			b := bank{outlet: o, loss: l.loss}
			for _, pick := range at.picks[lo:hi] {
				for _, c := range l.changes {
					made = append(made, at.variant(pick, c))
					b.to = append(b.to, c.of(pick))
				}
			}
			v.banks = append(v.banks, b)
			sizes, regimes = append(sizes, len(b.to)), append(regimes, &at.regimes[o])
		}
		lo = hi
	}
	v.fleet = kernel.NewFleet(sizes, regimes)
	v.s, v.lines = make([]float32, v.fleet.Lanes()), make([]*kernel.Line, len(v.banks))
	for i, b := range v.banks {
		if b.loss != nil {
			v.lines[i] = &v.banks[i].line
		}
		for k := range b.to {
			one := made[0]
			made = made[1:]
			one.lane = uint32(v.fleet.From(i) + k)
			if one.extra == 0 {
				v.scaled = append(v.scaled, one)
			} else {
				v.mixed = append(v.mixed, one)
			}
		}
	}
	return v
}

// A change is of one input.
type change struct {
	param        result.Param
	high         bool
	light        int
	times, extra float32
}

// of is where the heat of a pick under the change goes.
func (c *change) of(s *result.Sensitivity) *[12]float32 {
	if c.high {
		return &s.High[c.param]
	}
	return &s.Low[c.param]
}

type lossChanges struct {
	loss    loss
	changes []change
}

// losses lists the changes by the loss that a receiver has under them at an
// outlet.
func (at *replay) losses(outlet int) []lossChanges {
	r, o := &at.plan.Receiver, at.plan.Outlets[outlet]
	eta, rho := float32(result.Steps[result.Eta0b]), float32(result.Steps[result.Reflectance])
	unchanged := lossChanges{changes: []change{
		{result.Eta0b, false, plain, 1 - eta, 0}, {result.Eta0b, true, plain, 1 + eta, 0},
		{result.Reflectance, false, plain, 1, -rho}, {result.Reflectance, true, plain, 1, rho},
	}}
	list := []lossChanges{
		{newLeak(r, o, -result.Steps[result.C1]), []change{{result.C1, false, plain, 1, 0}}},
		{newLeak(r, o, result.Steps[result.C1]), []change{{result.C1, true, plain, 1, 0}}},
	}
	dimmer, brighter := change{result.Irradiance, false, dim, 1, 0}, change{result.Irradiance, true, bright, 1, 0}
	if r.C6 == 0 { // the sun has no part in the loss
		unchanged.changes = append(unchanged.changes, dimmer, brighter)
	} else {
		step := result.Steps[result.Irradiance]
		list = append(list, lossChanges{shade{r, -step}, []change{dimmer}}, lossChanges{shade{r, step}, []change{brighter}})
	}
	return append(list, unchanged)
}

// A leak is the loss at an outlet with c1 changed.
type leak struct {
	receiver      collector.Receiver // with it changed
	outlet        collector.Outlet
	run           float64 // °C
	more          float64 // W/m²K
	wet, dry      float64 // heat capacities, Wh/m²K
	wetter, drier float32 // exp(−(U+more)/C) is the known exp(−U/C) times this
}

func newLeak(r *collector.Receiver, o collector.Outlet, share float64) *leak {
	l := &leak{receiver: *r, outlet: o, run: (o.In + o.Out) / 2, more: r.C1 * share, wet: r.Capacity() / 3600, dry: r.C5 / 3600}
	l.receiver.C1 += l.more
	l.wetter, l.drier = float32(fallen(l.more, r.Capacity())), float32(fallen(l.more, r.C5))
	return l
}

func (l *leak) line(dst, was *kernel.Line, w collector.Weather) {
	u := float64(was.U) + l.more
	lost := (l.run-float64(was.Base))*float64(was.U) + l.more*(l.run-w.AirTemperature) // at run
	wetter, drier := was.Wet.Hour*l.wetter, was.Dry.Hour*l.drier
	const low = 0.1 // W/m²K: slopes below may be ones that are kept positive
	if was.U < low || u < low {
		linear := l.receiver.Linear(w, l.outlet)
		u, lost = linear.U, linear.At
		wetter, drier = float32(fallen(u, l.receiver.Capacity())), float32(fallen(u, l.receiver.C5))
	}
	inv := 1 / u
	dst.Base, dst.InvU, dst.U = float32(l.run-lost*inv), float32(inv), float32(u)
	dst.Wet, dst.Dry = kernel.Decay{Hour: wetter, Time: float32(l.wet * inv)}, kernel.Decay{Hour: drier, Time: float32(l.dry * inv)}
}

// A shade is the loss with the irradiance changed by a share: only the part c6
// follows it.
type shade struct {
	receiver *collector.Receiver
	change   float64
}

func (s shade) line(dst, was *kernel.Line, w collector.Weather) {
	r := s.receiver
	*dst = *was
	dst.Base -= float32(s.change*r.C6*r.WindFactor*w.Wind*w.GHI) * was.InvU
}

// variant is a pick under a change, in no lane yet.
func (at *replay) variant(s *result.Sensitivity, c change) variant {
	n, lane := len(at.lanes), slices.Index(at.lanes, at.plan.lanes[s.Design].lane)
	return variant{of: uint32(c.light*n + lane), times: c.times, more: uint32(mirrored*n + lane), extra: c.extra}
}

// light makes of the lights of all picked lanes what the variants absorb.
func (v *variants) light(shine []float32) {
	s := v.s
	for i := range v.scaled {
		one := &v.scaled[i]
		s[one.lane] = one.times * shine[one.of]
	}
	for i := range v.mixed {
		one := &v.mixed[i]
		s[one.lane] = float32(one.times*shine[one.of]) + float32(one.extra*shine[one.more])
	}
}

// hour takes all variants through an hour in the light that was worked out last.
func (v *variants) hour(h int) {
	at := v.at
	w := at.air(h)
	for i := range v.banks {
		b := &v.banks[i]
		was := &at.run.lines[b.outlet][h]
		if b.loss == nil {
			v.lines[i] = was
		} else {
			b.loss.line(&b.line, was, w)
		}
	}
	v.fleet.Advance(v.s, &at.hours[h], v.lines)
	month := at.month[h]
	if h < len(at.hours)-1 && at.month[h+1] == month {
		return
	}
	for i, b := range v.fleet.Banks {
		for k, q := range b.Heat {
			v.banks[i].to[k][month] = q / 1000
			b.Heat[k] = 0
		}
	}
}
