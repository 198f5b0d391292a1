//go:build gen

package main

import (
	"math"

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

const nan = 0x7fc00000

// field is a float32 of a struct of them.
func field(s reg.GPVirtual, i int) scalar { return scalar{at: operand.Mem{Base: s, Disp: 4 * i}} }

// column is where the lanes of vector v at hand of an array are.
func (m *machine) column(array, at reg.GPVirtual, v int) operand.Mem {
	return operand.Mem{Base: array, Index: at, Scale: 4, Disp: v * m.lanes * 4}
}

func pointer(name string) reg.GPVirtual {
	p := GP64()
	Load(Param(name), p)
	return p
}

// unlessSet jumps if a bool among the arguments is false.
func unlessSet(name, label string) {
	b, err := Param(name).Resolve()
	if err != nil {
		panic(err)
	}
	CMPB(b.Addr, operand.U8(0))
	JE(operand.LabelRef(label))
}

func end() {
	VZEROUPPER()
	RET()
}

// light is Field.light: sums over the samples.
func (m *machine) light() {
	TEXT("light"+m.name, 0, "func(s, sky, ground *float32, rows **float32, weights *float32, samples, n int, skyLight, groundLight float32)")
	Pragma("noescape")
	Doc("light" + m.name + " is Field.light for n lanes: rows are the samples' rows from the first lane on.")
	m.prepare(1)
	s, sky, ground := pointer("s"), pointer("sky"), pointer("ground")
	rows, weights, samples, n := pointer("rows"), pointer("weights"), pointer("samples"), pointer("n")
	skyLight, groundLight := m.argument("skyLight"), m.argument("groundLight")
	m.each(n, func(at reg.GPVirtual, vectors int) {
		var sum []reg.VecVirtual
		for v := range vectors {
			sum = append(sum, m.add(m.product(skyLight, v, m.column(sky, at, v)), m.product(groundLight, v, m.column(ground, at, v))))
		}
		sample, done := m.label("sample"), m.label("summed")
		k := GP64()
		XORQ(k, k)
		CMPQ(k, samples)
		JAE(operand.LabelRef(done))
		Label(sample)
		row := GP64()
		MOVQ(operand.Mem{Base: rows, Index: k, Scale: 8}, row)
		w := m.all(scalar{at: operand.Mem{Base: weights, Index: k, Scale: 4}})
		for v := range vectors {
			VADDPS(m.product(w, v, m.column(row, at, v)), sum[v], sum[v])
		}
		INCQ(k)
		CMPQ(k, samples)
		JB(operand.LabelRef(sample))
		Label(done)
		for v := range vectors {
			m.store(v, sum[v], m.column(s, at, v))
		}
	})
	end()
}

// argument spreads a float32 among the arguments.
func (m *machine) argument(name string) reg.VecVirtual {
	x, all := XMM(), m.vector()
	Load(Param(name), x)
	VBROADCASTSS(x, all)
	return all
}

// dry is Bank.dry.
func (m *machine) dry() {
	TEXT("dry"+m.name, 0, "func(t, s *float32, n int, line *float32)")
	Pragma("noescape")
	Doc("dry" + m.name + " is Bank.dry for n lanes; line are the fields of a Line.")
	m.prepare(1)
	t, s, n, line := pointer("t"), pointer("s"), pointer("n"), pointer("line")
	base, invU, decay := m.all(field(line, base)), m.all(field(line, invU)), m.all(field(line, dryHour))
	m.each(n, func(at reg.GPVirtual, vectors int) {
		for v := range vectors {
			ts := m.add(m.product(invU, v, m.column(s, at, v)), base)
			gap := m.sub(ts, m.load(v, m.column(t, at, v)))
			m.store(v, m.sub(ts, m.mul(gap, decay)), m.column(t, at, v))
		}
	})
	end()
}

// lnRatio is the plain lnRatio of the vectors at hand: of gives the arguments
// of one, use takes its result.
func (h *hour) lnRatio(m *machine, vectors int, of func(v int) (a, b reg.VecVirtual), use func(v int, ln reg.VecVirtual)) {
	var most, bias any
	if m.wide {
		most = m.hold(number(126), vectors)
	} else {
		most, bias = m.hold(bits(126), vectors), m.hold(bits(127), vectors)
	}
	ln2 := m.hold(number(math.Ln2), vectors)
	for v := range vectors {
		a, b := of(v)
		apart := m.compare(m.sub(a, b), notLessOrEqual, b)
		k, kb := m.vector(), m.vector()
		if m.wide {
			VGETEXPPS(a, k)
			VGETEXPPS(b, kb)
			k = m.only(apart, m.do(minPS, m.sub(k, kb), most))
			VSCALEFPS(k, b, b)
		} else {
			VPSRLD(operand.U8(23), a, k)
			VPSRLD(operand.U8(23), b, kb)
			VPSUBD(kb, k, k)
			k = m.only(apart, m.do(minInt, k, most))
			power := m.do(addInt, k, bias)
			VPSLLD(operand.U8(23), power, power)
			b = m.mul(b, power)
			VCVTDQ2PS(k, k)
		}
		h.ratio.put(v, m.div(m.sub(a, b), m.add(a, b)))
		h.powers.put(v, m.mul(k, ln2))
	}
	for from := 0; from < vectors; from += abreast {
		n := min(abreast, vectors-from)
		var z, y, p []reg.VecVirtual
		first := m.hold(number(1.0/13), n)
		for v := range n {
			z = append(z, h.ratio.get(from+v))
			y = append(y, m.mul(z[v], z[v]))
			p = append(p, m.mul(y[v], first))
		}
		for _, c := range []float32{1.0 / 11, 1.0 / 9, 1.0 / 7, 1.0 / 5, 1.0 / 3} {
			next := m.hold(number(c), n)
			for v := range n {
				p[v] = m.mul(m.add(p[v], next), y[v])
			}
		}
		one := m.hold(number(1), n)
		for v := range n {
			p[v] = m.mul(m.add(p[v], one), m.add(z[v], z[v]))
		}
		for v := range n {
			use(from+v, m.add(p[v], h.powers.of(from+v)))
		}
	}
}

// expNeg is the plain expNeg.
func (m *machine) expNeg(x reg.VecVirtual) reg.VecVirtual {
	minus := m.negate(x)
	scaled := m.mul(minus, number(math.Log2E))
	// Half away from zero, scaled being at most 0: all is exact.
	n := m.truncate(scaled)
	n = m.sub(n, m.only(m.compare(m.sub(scaled, n), lessOrEqual, number(-0.5)), m.all(number(1))))
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

// flow is Bank.flow.
func (m *machine) flow() {
	TEXT("flow"+m.name, 0, "func(t, heat, s *float32, n int, regime, line *float32, spanned bool)")
	Pragma("noescape")
	Doc("flow" + m.name + " is Bank.flow for n lanes; regime and line are the fields of a Regime and a Line; spanned says whether the outlet is above the inlet.")
	h := m.hour()
	n := pointer("n")
	m.each(n, func(at reg.GPVirtual, vectors int) {
		h.at = at
		from := &steadyHour{hour: h, m: m}
		still, done := m.label("still"), m.label("done")
		any, out := m.mask(), m.hold(field(h.regime, outlet), vectors)
		base, invU := m.all(field(h.line, base)), m.all(field(h.line, invU))
		var ts []reg.VecVirtual
		for v := range vectors {
			ts = append(ts, m.add(m.product(invU, v, m.column(h.s, at, v)), base))
			_, flow := m.flowing(ts[v], out)
			m.include(any, flow, v == 0)
		}
		m.unlessAny(any, still)
		for v := range vectors {
			h.ts.put(v, ts[v])
		}
		h.plug(m, vectors, from)
		JMP(operand.LabelRef(done))
		Label(still)
		decay := m.hold(field(h.line, wetHour), vectors)
		for v := range vectors {
			t := m.column(h.t, at, v)
			m.store(v, m.sub(ts[v], m.mul(m.sub(ts[v], m.load(v, t)), decay)), t)
		}
		Label(done)
	})
	end()
}

// A putDown is the source of morning, which has put all down.
type putDown struct{ *hour }

func (putDown) whole() bool { return false }

func (putDown) begin() {}

func (p putDown) steady(v int) reg.VecVirtual { return p.ts.get(v) }

func (p putDown) gaps(v int) (ts, gap, gapEnd reg.VecVirtual) {
	return p.ts.get(v), p.gap.get(v), p.gapEnd.get(v)
}

func (p putDown) above(v int) reg.VecVirtual { return p.d.get(v) }

func (p putDown) again(v int, _ reg.VecVirtual) reg.VecVirtual { return p.gapEnd.get(v) }

// morning is Bank.morning.
func (m *machine) morning() {
	TEXT("morning"+m.name, 0, "func(t, store, heat *float32, out *bool, s *float32, n int, regime, line *float32, spanned, refill bool) int")
	Pragma("noescape")
	Doc("morning"+m.name+" is Bank.morning for n lanes, in flow"+m.name+"'s terms; it returns how many got their water back.",
		"With AVX2 out must have room for whole blocks of 32.")
	h := m.hour()
	store, out, n := pointer("store"), pointer("out"), pointer("n")
	back := GP64()
	XORQ(back, back)
	m.each(n, func(at reg.GPVirtual, vectors int) {
		h.at = at
		any := m.mask()
		for v := range vectors {
			outAt := operand.Mem{Base: out, Index: at, Scale: 1, Disp: v * m.lanes}
			dry := m.loadFlags(v, outAt)
			ts := m.add(m.product(m.all(field(h.line, invU)), v, m.column(h.s, at, v)), field(h.line, base))
			h.ts.put(v, ts)
			temp := m.load(v, m.column(h.t, at, v))
			part, decay := m.all(number(1)), m.all(field(h.line, wetHour))

			wet := m.label("wet")
			unlessSet("refill", wet)
			m.unlessAny(dry, wet)
			water := m.load(v, m.column(store, at, v))
			coming, after := h.warm(m, dry, ts, temp, water, wet)
			ADDQ(m.count(coming), back)
			mixed := m.mul(water, m.sub(m.all(field(h.regime, wetCapacity)), field(h.regime, dryCapacity)))
			mixed = m.div(m.add(m.mul(temp, field(h.regime, dryCapacity)), mixed), m.all(field(h.regime, wetCapacity)))
			m.put(temp, coming, mixed)
			m.put(part, coming, m.sub(part, after))
			m.put(decay, coming, m.expNeg(m.div(part, field(h.line, wetTime))))
			m.remove(dry, coming)
			m.storeFlags(v, dry, outAt)
			Label(wet)

			m.put(decay, dry, field(h.line, dryHour))
			gap := m.sub(ts, temp)
			h.part.put(v, part)
			h.gap.put(v, gap)
			h.gapEnd.put(v, m.mul(gap, decay))
			d, flow := m.flowing(ts, field(h.regime, outlet))
			m.remove(flow, dry)
			m.include(any, flow, v == 0)
			m.unless(d, flow, bits(nan))
			h.d.put(v, d)
		}
		still, done := m.label("still"), m.label("done")
		m.unlessAny(any, still)
		h.plug(m, vectors, putDown{h})
		JMP(operand.LabelRef(done))
		Label(still)
		for v := range vectors {
			m.store(v, m.sub(h.ts.get(v), h.gapEnd.of(v)), m.column(h.t, at, v))
		}
		Label(done)
	})
	Store(back, ReturnIndex(0))
	end()
}

// warm is the plain warm for the dry lanes of a vector: those whose water
// comes, and after what part of the hour. It jumps if none comes.
func (h *hour) warm(m *machine, dry reg.Register, ts, temp, water reg.VecVirtual, none string) (coming reg.Register, after reg.VecVirtual) {
	need := m.min(water, m.all(field(h.regime, run)))
	already := m.both(dry, m.compare(temp, greaterOrEqual, need))
	gap, d := m.sub(ts, temp), m.sub(ts, need)
	never := m.either(m.compare(d, lessOrEqual, number(tiny)),
		m.compare(m.mul(gap, field(h.line, dryHour)), greater, d))
	rising := m.without(m.without(dry, never), already)
	coming = m.either(already, rising)
	m.unlessAny(coming, none)
	m.put(temp, rising, need)
	h.lnRatio(m, 1, func(int) (a, b reg.VecVirtual) { return gap, d },
		func(_ int, ln reg.VecVirtual) { after = m.mul(ln, field(h.line, dryTime)) })
	after = m.only(rising, m.do(minPS, m.all(number(1)), after)) // its second operand, if that is NaN, as min
	return coming, after
}
