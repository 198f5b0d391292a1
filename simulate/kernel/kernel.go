// Package kernel marches many designs at once through the hours of a year. Its
// lanes are designs: what an hour has in common for all of them is worked out
// before and handed in, and the inner loops run over designs only.
//
// Everything is float32 in the hour as unit of time: heat in Wh/m², capacities
// in Wh/m²K. The plain Go code here is the definition of the arithmetic; the
// explicit float32(x*y) keep a compiler from fusing multiply and add, so that
// every machine gives the same bits. NaN is not looked for: callers hand in
// finished weather.
package kernel

// A Field is the optics of a group of designs with one row azimuth.
type Field struct {
	Lanes int // designs
	// Beam holds a row of Lanes values for each bin of the sun's direction:
	// absorbed beam per unit of weight.
	Beam []float32
	// Sky and Ground hold, per design, what weights the isotropic light and
	// the light of the ground.
	Sky, Ground []float32
}

// Samples is the most instants an hour's sun is sampled at.
const Samples = 8

// An Hour is what an hour of a site has in common for all designs of a field.
type Hour struct {
	Row    [Samples]int32   // rows of Field.Beam
	Weight [Samples]float32 // W/m² on them
	N      int32            // samples in use; 0 with the sun down
	Sky    float32          // W/m² isotropic, times the receiver's efficiency for it
	Ground float32          // W/m² from the ground, likewise
	Event
}

// An Event says what happens to the water at the start of an hour and in it.
type Event uint8

// Events; they combine.
const (
	Leave  Event = 1 << iota // the water leaves into the store
	Return                   // the water comes back at once and mixes
	Refill                   // water that is out may come back once the dry receiver is warm
)

// A Line is the linear loss of an hour at one outlet: the steady temperature
// at absorbed light S is Base + S·InvU.
type Line struct {
	Base, InvU, U float32 // °C, m²K/W, W/m²K
	Wet, Dry      Decay
}

// A Decay is how a receiver falls towards its steady temperature.
type Decay struct {
	Hour float32 // share of the distance left after an hour
	Time float32 // time constant, h
}

// A Regime is one outlet's running condition with the receiver's capacities.
type Regime struct {
	In, Out   float32 // °C
	Run       float32 // °C, their mean
	Dry, Wet  float32 // heat capacity without and with the water, Wh/m²K
	StartDry  bool    // the year begins with the water in the store, at In
	FirstAirC float32 // °C, temperature the receiver starts at
}

// A Bank is the state of all lanes at one outlet.
type Bank struct {
	T     []float32 // receiver, °C
	Store []float32 // water that is out, °C
	Out   []bool    // the water is out
	Heat  []float32 // delivered since last taken, Wh/m²
	out   int       // lanes whose water is out
}

// NewBank makes a bank of n lanes.
func NewBank(n int) *Bank {
	f := make([]float32, 3*n)
	return &Bank{T: f[:n:n], Store: f[n : 2*n : 2*n], Heat: f[2*n:], Out: make([]bool, n)}
}

// Start puts all lanes to the beginning of a year.
func (b *Bank) Start(r *Regime) {
	b.out = 0
	for i := range b.T {
		b.T[i], b.Store[i], b.Heat[i], b.Out[i] = r.FirstAirC, r.In, 0, r.StartDry
	}
	if r.StartDry {
		b.out = len(b.T)
	}
}

// Light works out the absorbed light of lanes lo to lo+len(s), W/m².
func (f *Field) Light(s []float32, lo int, h *Hour) {
	sky, ground := f.Sky[lo:lo+len(s)], f.Ground[lo:lo+len(s)]
	for i := range s {
		s[i] = float32(h.Sky*sky[i]) + float32(h.Ground*ground[i])
	}
	for k := range h.N {
		w := h.Weight[k]
		row := f.Beam[int(h.Row[k])*f.Lanes+lo:][:len(s)]
		for i := range s {
			s[i] += float32(w * row[i])
		}
	}
}

// Advance takes all lanes through an hour with absorbed light s, adding what
// they deliver to Heat.
func (b *Bank) Advance(s []float32, r *Regime, h *Hour, l *Line) {
	if h.Event&Leave != 0 && b.out < len(b.T) {
		for i := range b.T {
			if !b.Out[i] {
				b.Out[i], b.Store[i] = true, b.T[i]
			}
		}
		b.out = len(b.T)
	}
	if h.Event&Return != 0 && b.out > 0 {
		for i := range b.T {
			if b.Out[i] {
				b.mix(i, r)
			}
		}
	}
	switch {
	case b.out == 0:
		b.flow(s, r, l)
	case h.Event&Refill == 0 && b.out == len(b.T):
		for i, s := range s {
			ts := l.Base + float32(s*l.InvU)
			b.T[i] = ts - float32((ts-b.T[i])*l.Dry.Hour)
		}
	default:
		b.morning(s, r, h, l)
	}
}

// mix brings the water of a lane back.
func (b *Bank) mix(i int, r *Regime) {
	b.T[i] = (float32(r.Dry*b.T[i]) + float32((r.Wet-r.Dry)*b.Store[i])) / r.Wet
	b.Out[i] = false
	b.out--
}

// flow is an hour with the water in, in every lane.
func (b *Bank) flow(s []float32, r *Regime, l *Line) {
	t, heat := b.T[:len(s)], b.Heat[:len(s)]
	for i, s := range s {
		ts := l.Base + float32(s*l.InvU)
		gap := ts - t[i]
		if d := ts - r.Out; d > tiny {
			end, q := plug(d, gap, 1, l.Wet.Hour, r, l)
			t[i] = ts - end
			heat[i] += q
		} else {
			t[i] = ts - float32(gap*l.Wet.Hour)
		}
	}
}

// plug is a part of an hour, or all of it, with water in and the steady
// temperature d above the outlet: from a receiver that is gap below steady to
// the gap it ends with and the heat delivered. decay is what is left of a
// distance after the part.
func plug(d, gap, part, decay float32, r *Regime, l *Line) (end, heat float32) {
	if span := r.Out - r.In; span > 0 {
		d = span / lnRatio(d+span, d)
	}
	switch {
	case gap <= d: // at or above the plug-flow mean: the excess leaves at once
		return d, float32(r.Wet*(d-gap)) + float32(float32(l.U*d)*part)
	case float32(gap*decay) <= d: // reached within the time
		left := part - float32(l.Wet.Time*lnRatio(gap, d))
		return d, float32(float32(l.U*d) * max(left, 0))
	}
	return float32(gap * decay), 0
}

// morning is an hour in which some lanes have their water and some do not.
func (b *Bank) morning(s []float32, r *Regime, h *Hour, l *Line) {
	for i, s := range s {
		ts := l.Base + float32(s*l.InvU)
		part, decay := float32(1), l.Wet.Hour
		if b.Out[i] {
			back, ok := float32(0), false
			if h.Event&Refill != 0 {
				back, ok = b.warm(i, ts, r, l)
			}
			if !ok {
				b.T[i] = ts - float32((ts-b.T[i])*l.Dry.Hour)
				continue
			}
			b.mix(i, r)
			part = 1 - back
			decay = expNeg(part / l.Wet.Time)
		}
		gap := ts - b.T[i]
		if d := ts - r.Out; d > tiny {
			end, q := plug(d, gap, part, decay, r, l)
			b.T[i] = ts - end
			b.Heat[i] += q
		} else {
			b.T[i] = ts - float32(gap*decay)
		}
	}
}

// warm says whether a dry lane becomes warm enough for its water within the
// hour and after what time; the receiver is then left at that temperature.
func (b *Bank) warm(i int, ts float32, r *Regime, l *Line) (after float32, ok bool) {
	need := min(b.Store[i], r.Run)
	if b.T[i] >= need {
		return 0, true
	}
	gap, d := ts-b.T[i], ts-need
	if d <= tiny || float32(gap*l.Dry.Hour) > d {
		return 0, false
	}
	b.T[i] = need
	return min(1, float32(l.Dry.Time*lnRatio(gap, d))), true
}
