//go:build gen

package main

import (
	"math"

	"github.com/mmcloughlin/avo/attr"
	. "github.com/mmcloughlin/avo/build"
	"github.com/mmcloughlin/avo/operand"
	"github.com/mmcloughlin/avo/reg"
)

// The fields of kernel.Line and kernel.Regime in their order.
const (
	base = iota
	invU
	lossU
	wetHour
	wetTime
	dryHour
	dryTime
)

const (
	inlet = iota
	outlet
	run
	dryCapacity
	wetCapacity
)

// tiny is the kernel's.
const tiny = 1e-9

// field is a float32 of a struct of them.
func field(s reg.GPVirtual, i int) scalar { return scalar{at: operand.Mem{Base: s, Disp: 4 * i}} }

// column is where the lanes at hand of an array are.
func column(array, at reg.GPVirtual) operand.Mem {
	return operand.Mem{Base: array, Index: at, Scale: 4}
}

func pointer(name string) reg.GPVirtual {
	p := GP64()
	Load(Param(name), p)
	return p
}

func flag(name string) reg.GPVirtual {
	f := GP32()
	Load(Param(name), f)
	return f
}

// start gives the counter of lanes at 0.
func start() reg.GPVirtual {
	at := GP64()
	XORQ(at, at)
	return at
}

func end() {
	VZEROUPPER()
	RET()
}

// light is Field.light: sums over the samples for as many vectors at a time as
// hide the latency of the additions.
func (m *machine) light() {
	TEXT("light"+m.name, attr.NOSPLIT, "func(s, sky, ground *float32, rows **float32, weights *float32, samples, n int, skyLight, groundLight float32)")
	Pragma("noescape")
	Doc("light" + m.name + " is Field.light for n lanes: rows are the samples' rows from the first lane on.")
	s, sky, ground := pointer("s"), pointer("sky"), pointer("ground")
	rows, weights, samples, n := pointer("rows"), pointer("weights"), pointer("samples"), pointer("n")
	skyLight, groundLight := m.vector(), m.vector()
	spread := func(name string, to reg.VecVirtual) {
		x := XMM()
		Load(Param(name), x)
		VBROADCASTSS(x, to)
	}
	spread("skyLight", skyLight)
	spread("groundLight", groundLight)

	at := start()
	sums := func(vectors int) {
		var sum []reg.VecVirtual
		place := func(array reg.GPVirtual, i int) operand.Mem {
			c := column(array, at)
			c.Disp = i * m.lanes * 4
			return c
		}
		for i := range vectors {
			sum = append(sum, m.add(m.product(skyLight, place(sky, i)), m.product(groundLight, place(ground, i))))
		}
		sample, done := m.label("sample"), m.label("summed")
		k := start()
		CMPQ(k, samples)
		JAE(operand.LabelRef(done))
		Label(sample)
		row := GP64()
		MOVQ(operand.Mem{Base: rows, Index: k, Scale: 8}, row)
		w := m.all(scalar{at: operand.Mem{Base: weights, Index: k, Scale: 4}})
		for i := range vectors {
			VADDPS(m.product(w, place(row, i)), sum[i], sum[i])
		}
		INCQ(k)
		CMPQ(k, samples)
		JB(operand.LabelRef(sample))
		Label(done)
		for i := range vectors {
			m.store(sum[i], place(s, i))
		}
	}
	const many = 4
	loop, rest := m.label("many"), m.label("rest")
	full := GP64()
	MOVQ(n, full)
	ANDQ(operand.I8(-many*m.lanes), full)
	JZ(operand.LabelRef(rest))
	Label(loop)
	sums(many)
	ADDQ(operand.U8(many*m.lanes), at)
	CMPQ(at, full)
	JB(operand.LabelRef(loop))
	Label(rest)
	m.each(n, at, func() { sums(1) })
	end()
}

// steady is the temperature the lanes tend to.
func (m *machine) steady(light, base, invU reg.VecVirtual) reg.VecVirtual {
	return m.add(m.mul(light, invU), base)
}

// dry is Bank.dry.
func (m *machine) dry() {
	TEXT("dry"+m.name, attr.NOSPLIT, "func(t, s *float32, n int, line *float32)")
	Pragma("noescape")
	Doc("dry" + m.name + " is Bank.dry for n lanes; line are the fields of a Line.")
	t, s, n, line := pointer("t"), pointer("s"), pointer("n"), pointer("line")
	base, invU, decay := m.all(field(line, base)), m.all(field(line, invU)), m.all(field(line, dryHour))
	at := start()
	m.each(n, at, func() {
		ts := m.steady(m.load(column(s, at)), base, invU)
		gap := m.sub(ts, m.load(column(t, at)))
		m.store(m.sub(ts, m.mul(gap, decay)), column(t, at))
	})
	end()
}

// lnRatio is the plain lnRatio.
func (m *machine) lnRatio(a, b reg.VecVirtual) reg.VecVirtual {
	k, kb := m.vector(), m.vector()
	VPSRLD(operand.U8(23), a, k)
	VPSRLD(operand.U8(23), b, kb)
	VPSUBD(kb, k, k)
	apart := m.compare(m.sub(a, b), notLessOrEqual, b)
	k = m.only(apart, m.do(minInt, k, bits(126)))
	power := m.do(addInt, k, bits(127))
	VPSLLD(operand.U8(23), power, power)
	b = m.mul(b, power)
	z := m.div(m.sub(a, b), m.add(a, b))
	y := m.mul(z, z)
	p := m.mul(y, number(1.0/13))
	for _, c := range []float32{1.0 / 11, 1.0 / 9, 1.0 / 7, 1.0 / 5, 1.0 / 3} {
		p = m.mul(m.add(p, number(c)), y)
	}
	p = m.mul(m.add(p, number(1)), m.add(z, z))
	VCVTDQ2PS(k, k)
	return m.add(p, m.mul(k, number(math.Ln2)))
}

// expNeg is the plain expNeg.
func (m *machine) expNeg(x reg.VecVirtual) reg.VecVirtual {
	minus := m.negate(x)
	v := m.mul(minus, number(math.Log2E))
	// Half away from zero, v being at most 0: all is exact.
	n := m.truncate(v)
	n = m.sub(n, m.only(m.compare(m.sub(v, n), lessOrEqual, number(-0.5)), m.all(number(1))))
	r := m.add(m.sub(minus, m.mul(n, number(0.693359375))), m.mul(n, number(2.12194440e-4)))
	p := m.mul(r, number(1.0/720))
	for _, c := range []float32{1.0 / 120, 1.0 / 24, 1.0 / 6, 0.5, 1} {
		p = m.mul(m.add(p, number(c)), r)
	}
	p = m.add(p, number(1))
	power := m.vector()
	VCVTTPS2DQ(n, power)
	power = m.do(addInt, power, bits(127))
	VPSLLD(operand.U8(23), power, power)
	return m.only(m.compare(x, less, number(87)), m.mul(p, power))
}

// An hour is what plug needs of the hour at hand. Scalars it does not always
// need stay in memory.
type hour struct {
	line, regime reg.GPVirtual
	span         scalar
	spanned      reg.GPVirtual // 1 if span > 0, else 0
}

func (m *machine) hour(line, regime reg.GPVirtual) hour {
	span := scalar{at: AllocLocal(8)}
	x := XMM()
	VMOVSS(field(regime, outlet).at, x)
	VSUBSS(field(regime, inlet).at, x, x)
	VMOVSS(x, span.at)
	return hour{line, regime, span, flag("spanned")}
}

// plug is the plain plug for the lanes of flow, of which there is one at least:
// it puts the gap they end with into gapEnd, which holds gap·decay, and gives
// their heat. part is nil for a whole hour.
func (m *machine) plug(h hour, flow reg.Register, d, gap, gapEnd, part reg.VecVirtual) (heat reg.VecVirtual) {
	flat := m.label("flat")
	TESTL(h.spanned, h.spanned)
	JZ(operand.LabelRef(flat))
	VDIVPS(m.lnRatio(m.add(d, h.span), d), m.all(h.span), d)
	Label(flat)

	above := m.compare(gap, lessOrEqual, d)
	within := m.both(flow, m.without(m.compare(gapEnd, lessOrEqual, d), above))
	above = m.both(flow, above)
	whole := m.mul(d, field(h.line, lossU))
	if part != nil {
		whole = m.mul(whole, part)
	}
	heat = m.only(above, m.add(m.mul(m.sub(d, gap), field(h.regime, wetCapacity)), whole))
	m.put(gapEnd, above, d)

	reached := m.label("reached")
	m.unlessAny(within, reached)
	m.put(gapEnd, within, d)
	time := m.mul(m.lnRatio(gap, d), field(h.line, wetTime))
	if part == nil {
		part = m.all(number(1))
	}
	m.put(heat, within, m.mul(m.mul(d, field(h.line, lossU)), m.atLeastZero(m.sub(part, time))))
	Label(reached)
	return heat
}

// deliver adds heat to the sums of the lanes of flow.
func (m *machine) deliver(sum operand.Mem, flow reg.Register, heat reg.VecVirtual) {
	old := m.load(sum)
	m.put(old, flow, m.add(old, heat))
	m.store(old, sum)
}

// flow is Bank.flow.
func (m *machine) flow() {
	TEXT("flow"+m.name, attr.NOSPLIT, "func(t, heat, s *float32, n int, regime, line *float32, spanned bool)")
	Pragma("noescape")
	Doc("flow" + m.name + " is Bank.flow for n lanes; regime and line are the fields of a Regime and a Line; spanned says whether the outlet is above the inlet.")
	t, heat, s, n := pointer("t"), pointer("heat"), pointer("s"), pointer("n")
	regime, line := pointer("regime"), pointer("line")
	h := m.hour(line, regime)
	base, invU := m.all(field(line, base)), m.all(field(line, invU))
	decay := m.all(field(line, wetHour))
	at := start()
	m.each(n, at, func() {
		ts := m.steady(m.load(column(s, at)), base, invU)
		gap := m.sub(ts, m.load(column(t, at)))
		gapEnd := m.mul(gap, decay)
		d := m.sub(ts, field(regime, outlet))
		flow := m.compare(d, greater, number(tiny))
		still := m.label("still")
		m.unlessAny(flow, still)
		m.deliver(column(heat, at), flow, m.plug(h, flow, d, gap, gapEnd, nil))
		Label(still)
		m.store(m.sub(ts, gapEnd), column(t, at))
	})
	end()
}

// morning is Bank.morning.
func (m *machine) morning() {
	TEXT("morning"+m.name, attr.NOSPLIT, "func(t, store, heat *float32, out *bool, s *float32, n int, regime, line *float32, spanned, refill bool) int")
	Pragma("noescape")
	Doc("morning"+m.name+" is Bank.morning for n lanes, in flow"+m.name+"'s terms; it returns how many got their water back.",
		"With AVX2 out must have room for whole vectors of eight.")
	t, store, heat, out, s, n := pointer("t"), pointer("store"), pointer("heat"), pointer("out"), pointer("s"), pointer("n")
	regime, line := pointer("regime"), pointer("line")
	h := m.hour(line, regime)
	refill := flag("refill")
	back := start()
	at := start()
	m.each(n, at, func() {
		outAt := operand.Mem{Base: out, Index: at, Scale: 1}
		dry := m.loadFlags(outAt)
		ts := m.steady(m.load(column(s, at)), m.all(field(line, base)), m.all(field(line, invU)))
		temp := m.load(column(t, at))
		part, decay := m.all(number(1)), m.all(field(line, wetHour))

		wet := m.label("wet")
		TESTL(refill, refill)
		JZ(operand.LabelRef(wet))
		m.unlessAny(dry, wet)
		water := m.load(column(store, at))
		coming, after := m.warm(h, dry, ts, temp, water)
		m.unlessAny(coming, wet)
		ADDQ(m.count(coming), back)
		mixed := m.mul(water, m.sub(m.all(field(regime, wetCapacity)), field(regime, dryCapacity)))
		mixed = m.div(m.add(m.mul(temp, field(regime, dryCapacity)), mixed), field(regime, wetCapacity))
		m.put(temp, coming, mixed)
		m.put(part, coming, m.sub(part, after))
		m.put(decay, coming, m.expNeg(m.div(part, field(line, wetTime))))
		m.remove(dry, coming)
		m.storeFlags(dry, outAt)
		Label(wet)

		m.put(decay, dry, field(line, dryHour))
		gap := m.sub(ts, temp)
		gapEnd := m.mul(gap, decay)
		d := m.sub(ts, field(regime, outlet))
		flow := m.without(m.compare(d, greater, number(tiny)), dry)
		still := m.label("still")
		m.unlessAny(flow, still)
		m.deliver(column(heat, at), flow, m.plug(h, flow, d, gap, gapEnd, part))
		Label(still)
		m.store(m.sub(ts, gapEnd), column(t, at))
	})
	Store(back, ReturnIndex(0))
	end()
}

// warm is the plain warm for the dry lanes: those whose water comes, and after
// what part of the hour.
func (m *machine) warm(h hour, dry reg.Register, ts, temp, water reg.VecVirtual) (coming reg.Register, after reg.VecVirtual) {
	need := m.min(water, m.all(field(h.regime, run)))
	already := m.both(dry, m.compare(temp, greaterOrEqual, need))
	gap, d := m.sub(ts, temp), m.sub(ts, need)
	never := m.either(m.compare(d, lessOrEqual, number(tiny)),
		m.compare(m.mul(gap, field(h.line, dryHour)), greater, d))
	rising := m.without(m.without(dry, never), already)
	after = m.mul(m.lnRatio(gap, d), field(h.line, dryTime))
	after = m.only(rising, m.do(minPS, m.all(number(1)), after)) // its second operand, if that is NaN, as min
	m.put(temp, rising, need)
	return m.either(already, rising), after
}
