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
	line, regime   terms
	t, heat, s, at reg.GPVirtual
	gap, d         slots
	ts             slots
	gapEnd, part   slots // of morning
}

// Terms are the fields of a Line or a Regime: of one for all lanes, or of one for
// every group of lanes.
type terms struct {
	one   reg.GPVirtual
	each  reg.GPVirtual // a table of pointers, nil for one
	entry reg.GPVirtual // 8 bytes for every group before the lanes at hand
}

// groupLanes is how many lanes share an entry of a table, the kernel's.
const groupLanes = 16

// of gives a field for each of several vectors, in a register where they share it.
func (t *terms) of(m *machine, i, vectors int) func(v int) any {
	if t.each == nil {
		x := m.hold(field(t.one, i), vectors)
		return func(int) any { return x }
	}
	return func(v int) any {
		p := GP64()
		MOVQ(operand.Mem{Base: t.each, Index: t.entry, Scale: 1, Disp: v * m.lanes / groupLanes * 8}, p)
		return field(p, i)
	}
}

// register takes what hold or of gave into a register.
func (m *machine) register(x any) reg.VecVirtual {
	if s, ok := x.(scalar); ok {
		return m.all(s)
	}
	return x.(reg.VecVirtual)
}

// hourSlots is how many slots a vector an hour has.
const hourSlots = 6

// hour reads the arguments; with each, lines and regimes are tables.
func (m *machine) hour(each bool) *hour {
	h := &hour{t: pointer("t"), heat: pointer("heat"), s: pointer("s")}
	if each {
		h.line, h.regime = terms{each: pointer("lines"), entry: GP64()}, terms{each: pointer("regimes")}
		h.regime.entry = h.line.entry
	} else {
		h.line, h.regime = terms{one: pointer("line")}, terms{one: pointer("regime")}
	}
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
	flat, mean, reached := m.label("flat"), m.label("mean"), m.label("reached")
	unlessSet("spanned", flat)
	h.mean(m, vectors, from)
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
	wet, u := h.regime.of(m, wetCapacity, vectors), h.line.of(m, lossU, vectors)
	from.begin()
	for v := range vectors {
		ts, gap, gapEnd := from.gaps(v)
		d := h.d.get(v)
		above, within := h.cases(m, d, gap, gapEnd)
		m.include(some, within, v == 0)
		loss := m.mul(d, u(v))
		if !from.whole() {
			loss = m.mul(loss, h.part.of(v))
		}
		sum := m.column(h.heat, h.at, v)
		// Sums of heat are never −0, so adding +0 changes nothing.
		m.store(v, m.add(m.load(v, sum), m.only(above, m.add(m.mul(m.sub(d, gap), wet(v)), loss))), sum)
		m.put(gapEnd, above, d)
		m.store(v, m.sub(ts, gapEnd), m.column(h.t, h.at, v))
	}
	m.unlessAny(some, reached)
	h.reach(m, vectors, from)
	Label(reached)
}

// mean puts the plug-flow mean into the place of d.
func (h *hour) mean(m *machine, vectors int, from source) {
	var span func(v int) reg.VecVirtual
	if h.regime.each == nil {
		one := m.sub(m.all(field(h.regime.one, outlet)), field(h.regime.one, inlet))
		span = func(int) reg.VecVirtual { return one }
	} else {
		out, in := h.regime.of(m, outlet, vectors), h.regime.of(m, inlet, vectors)
		span = func(v int) reg.VecVirtual { return m.sub(m.register(out(v)), in(v)) }
	}
	from.begin()
	ln := newLogarithm()
	inStep(vectors, func(lo, n int) {
		var spans []any
		var a, b []reg.VecVirtual
		for v := range n {
			d, span := from.above(lo+v), span(lo+v)
			spans, a, b = append(spans, span), append(a, m.add(d, span)), append(b, d)
		}
		num, den := ln.ratios(m, spans, a, b)
		for v := range n {
			h.d.put(lo+v, m.div(m.mul(den[v], spans[v]), num[v]))
		}
	})
}

// reach puts right the lanes that reach the mean within the time.
func (h *hour) reach(m *machine, vectors int, from source) {
	time, u := h.line.of(m, wetTime, vectors), h.line.of(m, lossU, 1)
	from.begin()
	ln := newLogarithm()
	inStep(vectors, func(lo, n int) {
		var diff []any
		var gap, d []reg.VecVirtual
		for v := range n {
			gap, d = append(gap, h.gap.get(lo+v)), append(d, h.d.get(lo+v))
			diff = append(diff, m.sub(gap[v], d[v]))
		}
		num, den := ln.ratios(m, diff, gap, d)
		for v := range n {
			num[v] = m.mul(m.div(num[v], den[v]), time(lo+v))
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
			m.put(heat, within, m.add(heat, m.mul(m.mul(d, u(v)), left)))
			m.store(v, heat, sum)
			m.put(temp, within, m.sub(from.steady(v), d))
			m.store(v, temp, t)
		}
	})
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
	vectors    int
	decay, out func(v int) any
}

func (f *steadyHour) whole() bool { return true }

func (f *steadyHour) begin() {
	f.decay, f.out = f.line.of(f.m, wetHour, 1), f.regime.of(f.m, outlet, f.vectors)
}

func (f *steadyHour) steady(v int) reg.VecVirtual { return f.ts.get(v) }

func (f *steadyHour) gaps(v int) (ts, gap, gapEnd reg.VecVirtual) {
	ts = f.ts.get(v)
	gap = f.m.sub(ts, f.m.load(v, f.m.column(f.t, f.at, v)))
	f.gap.put(v, gap)
	return ts, gap, f.m.mul(gap, f.decay(v))
}

func (f *steadyHour) above(v int) reg.VecVirtual {
	d, flow := f.m.flowing(f.steady(v), f.out(v))
	f.m.unless(d, flow, bits(nan))
	return d
}

func (f *steadyHour) again(v int, gap reg.VecVirtual) reg.VecVirtual { return f.m.mul(gap, f.decay(v)) }
