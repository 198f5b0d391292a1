package collector

import (
	"math"
)

// A State is a receiver at the start of an hour.
type State struct {
	T     float64 // °C
	Store float64 // temperature of the water that is out, °C
	Out   bool    // the water is out
}

// An Event says what happens to the water in an hour.
type Event struct {
	Leave  bool // at the start of the hour the water leaves into the store
	Return bool // at the start of the hour the water comes back at once and mixes
	Refill bool // water that is out comes back when the dry receiver is warm
}

// A Ledger is the energy of an hour, Wh/m²: absorbed = delivered + lost +
// stored. Lost is the integral of the linear loss along the solution, not the
// remainder of the others.
type Ledger struct {
	Absorbed, Delivered, Lost, Stored float64
}

// Balance gives what the ledger fails to account for.
func (l Ledger) Balance() float64 { return l.Absorbed - l.Delivered - l.Lost - l.Stored }

// Start is the receiver at the start of a year: at air temperature, the water
// in, or, for drained nights, in the store at the inlet's temperature.
func (r *Receiver) Start(firstAir float64, o Outlet) State {
	return State{T: firstAir, Store: o.In, Out: r.Night == Drain}
}

// stored is the heat in receiver and store above 0 °C, J/m².
func (r *Receiver) stored(s State) float64 {
	if s.Out {
		return r.C5*s.T + r.waterCapacity()*s.Store
	}
	return r.Capacity() * s.T
}

// Hour takes the receiver through an hour with constant absorbed light. Within
// the hour the solution of the linear balance is exact, the moments of
// reaching the outlet temperature and of the water's return included.
// Source: plug flow after Hottel and Whillier 1958.
func (r *Receiver) Hour(s State, absorbed float64, l Line, o Outlet, e Event) (State, Ledger) {
	before := r.stored(s)
	if e.Leave && !s.Out {
		s.Store, s.Out = s.T, true
	}
	if e.Return && s.Out {
		s = r.mix(s)
	}
	m := march{line: l, steady: l.Steady(absorbed), left: secondsOfHour}
	if s.Out {
		need := math.Inf(1)
		if e.Refill {
			need = min(s.Store, l.Run)
		}
		if s.T = m.warm(s.T, need, r.C5); m.left > 0 || s.T >= need {
			s = r.mix(s)
		}
	}
	if !s.Out {
		s.T = m.run(s.T, r.Capacity(), o)
	}
	const toWh = 1.0 / secondsOfHour
	return s, Ledger{
		Absorbed:  absorbed,
		Delivered: m.delivered * toWh,
		Lost:      m.lost * toWh,
		Stored:    (r.stored(s) - before) * toWh,
	}
}

// mix brings the water back into the receiver.
func (r *Receiver) mix(s State) State {
	w := r.waterCapacity()
	return State{T: (r.C5*s.T + w*s.Store) / (r.C5 + w), Store: s.Store}
}

// A march is the rest of an hour and what has come of it, in s and J/m².
type march struct {
	line            Line
	steady          float64 // °C
	left            float64 // s
	delivered, lost float64 // J/m²
}

// relax lets a receiver of capacity c fall towards steady for a time.
func (m *march) relax(t, c, seconds float64) float64 {
	m.left -= seconds
	if c == 0 {
		m.lost += m.line.Loss(m.steady) * seconds
		return m.steady
	}
	rise := -math.Expm1(-m.line.U * seconds / c) // share of the distance gone
	// ∫T dt along the exponential.
	area := m.steady*seconds + (t-m.steady)*c/m.line.U*rise
	m.lost += m.line.At*seconds + m.line.U*(area-m.line.Run*seconds)
	return t + (m.steady-t)*rise
}

// reach gives the time a receiver of capacity c takes from t up to want, +Inf
// if it does not come there.
func (m *march) reach(t, want, c float64) float64 {
	switch {
	case t >= want:
		return 0
	case m.steady <= want:
		return math.Inf(1)
	case c == 0:
		return 0
	}
	return c / m.line.U * math.Log((m.steady-t)/(m.steady-want))
}

// warm lets the dry receiver warm until it is at need or the hour is over.
func (m *march) warm(t, need, c float64) float64 {
	after := m.reach(t, need, c)
	if after >= m.left {
		return m.relax(t, c, m.left)
	}
	if after > 0 {
		m.relax(t, c, after)
		return need
	}
	return max(t, min(need, m.steady))
}

// run is the rest of the hour with the water in: warming without flow, then
// plug flow at the outlet temperature.
func (m *march) run(t, c float64, o Outlet) float64 {
	above := m.steady - o.Out
	if above <= 0 {
		return m.relax(t, c, m.left)
	}
	mean := m.steady - PlugMean(above, o.Out-o.In)
	if t > mean {
		m.delivered += c * (t - mean)
		t = mean
	}
	if after := m.reach(t, mean, c); after >= m.left {
		return m.relax(t, c, m.left)
	} else if after > 0 {
		m.relax(t, c, after)
	}
	m.delivered += m.line.U * (m.steady - mean) * m.left
	m.lost += m.line.Loss(mean) * m.left
	m.left = 0
	return mean
}

// PlugMean gives how far the mean of the plug-flow profile lies below the
// steady temperature, which is above the outlet by above > 0; span is outlet
// minus inlet, ≥ 0. It is the logarithmic mean of the distances at both ends.
func PlugMean(above, span float64) float64 {
	if span == 0 {
		return above
	}
	return span / math.Log1p(span/above)
}
