//go:build gen

package main

import (
	. "github.com/mmcloughlin/avo/build"
	"github.com/mmcloughlin/avo/operand"
	"github.com/mmcloughlin/avo/reg"
)

// An hour is the hour at hand for the vectors at hand. What does not fit into
// registers lies in slots, or is worked out once more.
type hour struct {
	line, regime   reg.GPVirtual
	t, heat, s, at reg.GPVirtual
	gap, d         slots
	ts             slots
	gapEnd, part   slots // of morning
}

// hourSlots is how many slots a vector an hour has.
const hourSlots = 6

func (m *machine) hour() *hour {
	h := &hour{line: pointer("line"), regime: pointer("regime"), t: pointer("t"), heat: pointer("heat"), s: pointer("s")}
	m.prepare(hourSlots)
	for _, s := range []*slots{&h.gap, &h.d, &h.ts, &h.gapEnd, &h.part} {
		*s = m.room()
	}
	return h
}

// A source gives, for a vector, what plug works on.
type source interface {
	// begin reads what follows for all vectors.
	begin()
	steady(v int) (ts reg.VecVirtual)
	gaps(v int) (ts, gap, gapEnd reg.VecVirtual) // the last is gap·decay
	// above is the distance to the outlet, NaN in lanes that do not flow.
	above(v int) (d reg.VecVirtual)
	// again gives gapEnd once more.
	again(v int, gap reg.VecVirtual) (gapEnd reg.VecVirtual)
	whole() bool // hours
}

// flowing gives the distance above the outlet and the lanes where it counts.
func (m *machine) flowing(ts reg.VecVirtual, out any) (d reg.VecVirtual, flow reg.Register) {
	d = m.sub(ts, out)
	return d, m.compare(d, greater, number(tiny))
}

// plug is the plain plug for the lanes of the source that flow, with the sums
// and the temperatures it leaves.
func (h *hour) plug(m *machine, vectors int, from source) {
	flat, mean := m.label("flat"), m.label("mean")
	unlessSet("spanned", flat)
	span := m.sub(m.all(field(h.regime, outlet)), field(h.regime, inlet))
	from.begin()
	ln := newLogarithm()
	inStep(vectors, func(lo, n int) {
		var spans []any
		var a, b []reg.VecVirtual
		for v := range n {
			d := from.above(lo + v)
			spans, a, b = append(spans, span), append(a, m.add(d, span)), append(b, d)
		}
		num, den := ln.ratios(m, spans, a, b)
		for v := range n {
			h.d.put(lo+v, m.div(m.mul(den[v], span), num[v]))
		}
	})
	JMP(operand.LabelRef(mean))
	Label(flat)
	from.begin()
	for v := range vectors {
		h.d.put(v, from.above(v))
	}
	Label(mean)

	// Lanes above the mean deliver, all others decay; then those that reach it
	// within the hour, if any, are put right.
	some := m.mask()
	wet, u := m.hold(field(h.regime, wetCapacity), vectors), m.hold(field(h.line, lossU), vectors)
	from.begin()
	for v := range vectors {
		ts, gap, gapEnd := from.gaps(v)
		d := h.d.get(v)
		above, within := h.cases(m, d, gap, gapEnd)
		m.include(some, within, v == 0)
		loss := m.mul(d, u)
		if !from.whole() {
			loss = m.mul(loss, h.part.of(v))
		}
		sum := m.column(h.heat, h.at, v)
		// Sums of heat are never −0, so adding +0 changes nothing.
		m.store(v, m.add(m.load(v, sum), m.only(above, m.add(m.mul(m.sub(d, gap), wet), loss))), sum)
		m.put(gapEnd, above, d)
		m.store(v, m.sub(ts, gapEnd), m.column(h.t, h.at, v))
	}
	reached := m.label("reached")
	m.unlessAny(some, reached)
	time := m.hold(field(h.line, wetTime), vectors)
	from.begin()
	inStep(vectors, func(lo, n int) {
		var diff []any
		var gap, d []reg.VecVirtual
		for v := range n {
			gap, d = append(gap, h.gap.get(lo+v)), append(d, h.d.get(lo+v))
			diff = append(diff, m.sub(gap[v], d[v]))
		}
		num, den := ln.ratios(m, diff, gap, d)
		for v := range n {
			num[v] = m.mul(m.div(num[v], den[v]), time)
		}
		for v, ln := range num {
			v += lo
			var part reg.VecVirtual
			if from.whole() {
				part = m.all(number(1))
			} else {
				part = h.part.get(v)
			}
			// part is 1, or 1 less something: no difference from it is −0.
			left := m.atLeastZero(m.sub(part, ln))
			d, gap := h.d.get(v), h.gap.get(v)
			_, within := h.cases(m, d, gap, from.again(v, gap))
			sum, t := m.column(h.heat, h.at, v), m.column(h.t, h.at, v)
			heat, temp := m.load(v, sum), m.load(v, t)
			m.put(heat, within, m.add(heat, m.mul(m.mul(d, field(h.line, lossU)), left)))
			m.store(v, heat, sum)
			m.put(temp, within, m.sub(from.steady(v), d))
			m.store(v, temp, t)
		}
	})
	Label(reached)
}

// inStep calls body for so many vectors at a time as go in step.
func inStep(vectors int, body func(lo, n int)) {
	for lo := 0; lo < vectors; lo += abreast {
		body(lo, min(abreast, vectors-lo))
	}
}

// cases are the lanes at or above the mean, and those that reach it within the
// time.
func (h *hour) cases(m *machine, d, gap, gapEnd reg.VecVirtual) (above, within reg.Register) {
	above = m.compare(d, greaterOrEqual, gap)
	return above, m.without(m.compare(d, greaterOrEqual, gapEnd), above)
}

// A steadyHour is the source of flow.
type steadyHour struct {
	*hour
	m          *machine
	decay, out any
}

func (f *steadyHour) whole() bool { return true }

func (f *steadyHour) begin() {
	f.decay, f.out = field(f.line, wetHour), f.m.all(field(f.regime, outlet))
}

func (f *steadyHour) steady(v int) reg.VecVirtual { return f.ts.get(v) }

func (f *steadyHour) gaps(v int) (ts, gap, gapEnd reg.VecVirtual) {
	ts = f.ts.get(v)
	gap = f.m.sub(ts, f.m.load(v, f.m.column(f.t, f.at, v)))
	f.gap.put(v, gap)
	return ts, gap, f.m.mul(gap, f.decay)
}

func (f *steadyHour) above(v int) reg.VecVirtual {
	d, flow := f.m.flowing(f.steady(v), f.out)
	f.m.unless(d, flow, bits(nan))
	return d
}

func (f *steadyHour) again(_ int, gap reg.VecVirtual) reg.VecVirtual { return f.m.mul(gap, f.decay) }
