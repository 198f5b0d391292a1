// Package kernel marches many designs at once through the hours of a year. Its
// lanes are designs: what an hour has in common for all of them is worked out
// before and handed in, and the inner loops run over designs only.
//
// Everything is float32 in the hour as unit of time: heat in Wh/m², capacities
// in Wh/m²K. The plain Go code here is the definition of the arithmetic; the
// explicit float32(x*y) keep a compiler from fusing multiply and add, so that
// every machine gives the same bits. Assembly for AVX2 and AVX-512, which folder
// gen writes, gives them as well. NaN is not looked for: callers hand in
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
	Time float32 // time constant, h; not negative
}

// A Regime is one outlet's running condition with the receiver's capacities. The
// assembly knows the order of its fields.
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
	Heat  []float32 // delivered since last taken, Wh/m²; set to 0 when taken
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
	if !f.lightVector(s, lo, h) {
		f.light(s, lo, h)
	}
}

// Advance takes all lanes through an hour with absorbed light s, a value a
// lane, adding what they deliver to Heat.
func (b *Bank) Advance(s []float32, r *Regime, h *Hour, l *Line) {
	s = s[:len(b.T)]
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
	refill := h.Event&Refill != 0
	switch {
	case b.out == 0:
		if !b.flowVector(s, r, l) {
			b.flow(s, r, l)
		}
	case !refill && b.out == len(b.T):
		if !b.dryVector(s, l) {
			b.dry(s, l)
		}
	default:
		if !b.morningVector(s, r, refill, l) {
			b.morning(s, r, refill, l)
		}
	}
}

// mix brings the water of a lane back.
func (b *Bank) mix(i int, r *Regime) {
	b.T[i] = (float32(r.Dry*b.T[i]) + float32((r.Wet-r.Dry)*b.Store[i])) / r.Wet
	b.Out[i] = false
	b.out--
}
