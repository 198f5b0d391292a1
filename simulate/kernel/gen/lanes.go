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

// A logarithm holds the constants of logRatio, where they lie: registers are
// short, and reading them again costs nothing.
type logarithm struct{ half, exponent, ln2, p, q any }

func newLogarithm() *logarithm {
	return &logarithm{bits(1 << 22), bits(0xff<<23 | 1<<31), number(math.Ln2 / (1 << 23)), number(-0.27057586), number(-0.60389279)}
}

// ratio is the plain logRatio.
func (l *logarithm) ratio(m *machine, diff any, a, b reg.VecVirtual) (num, den reg.VecVirtual) {
	nums, dens := l.ratios(m, []any{diff}, []reg.VecVirtual{a}, []reg.VecVirtual{b})
	return nums[0], dens[0]
}

// ratios are those of some vectors in step.
func (l *logarithm) ratios(m *machine, diff []any, a, b []reg.VecVirtual) (num, den []reg.VecVirtual) {
	k, n, d, nn, dd := vectors(a), vectors(a), vectors(a), vectors(a), vectors(a)
	num, den = vectors(a), vectors(a)
	for _, step := range []func(v int){
		func(v int) { k[v] = m.do(subInt, a[v], b[v]) },
		func(v int) { k[v] = m.do(addInt, k[v], l.half) },
		func(v int) { k[v] = m.and(k[v], l.exponent) },
		func(v int) { d[v] = m.do(addInt, b[v], k[v]) },
		func(v int) { n[v] = m.sub(b[v], d[v]) },
		func(v int) { n[v] = m.add(n[v], diff[v]); d[v] = m.add(d[v], a[v]) },
		func(v int) { dd[v] = m.mul(d[v], d[v]); nn[v] = m.mul(n[v], n[v]); VCVTDQ2PS(k[v], k[v]) },
		func(v int) { k[v] = m.mul(k[v], l.ln2); n[v] = m.add(n[v], n[v]) },
		func(v int) { num[v], den[v] = m.mul(nn[v], l.p), m.mul(nn[v], l.q) },
		func(v int) { num[v], den[v] = m.add(num[v], dd[v]), m.add(den[v], dd[v]) },
		func(v int) { den[v], num[v] = m.mul(den[v], d[v]), m.mul(num[v], n[v]) },
		func(v int) { k[v] = m.mul(k[v], den[v]) },
		func(v int) { num[v] = m.add(num[v], k[v]) },
	} {
		for v := range a {
			step(v)
		}
	}
	return num, den
}

func vectors(like []reg.VecVirtual) []reg.VecVirtual { return make([]reg.VecVirtual, len(like)) }

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

// flow is Bank.flow, or with each that of a Fleet.
func (m *machine) flow(each bool) {
	if each {
		TEXT("flowEach"+m.name, 0, "func(t, heat, s *float32, n int, regimes, lines **float32, spanned bool)")
		Doc("flowEach"+m.name+" is flow"+m.name+" with a Regime and a Line for every 16 lanes; their tables",
			"must have as many entries as whole blocks of 64 lanes ask for.")
	} else {
		TEXT("flow"+m.name, 0, "func(t, heat, s *float32, n int, regime, line *float32, spanned bool)")
		Doc("flow" + m.name + " is Bank.flow for n lanes; regime and line are the fields of a Regime and a Line; spanned says whether the outlet is above the inlet.")
	}
	Pragma("noescape")
	h := m.hour(each)
	n := pointer("n")
	m.each(n, func(at reg.GPVirtual, vectors int) {
		h.at = at
		if each {
			MOVQ(at, h.line.entry)
			SHRQ(operand.U8(1), h.line.entry)
		}
		from := &steadyHour{hour: h, m: m, vectors: vectors}
		still, done := m.label("still"), m.label("done")
		some, out := m.mask(), h.regime.of(m, outlet, vectors)
		base, invU := h.line.of(m, base, vectors), h.line.of(m, invU, 2)
		var ts []reg.VecVirtual
		for v := range vectors {
			ts = append(ts, m.add(m.product(m.register(invU(v)), v, m.column(h.s, at, v)), base(v)))
			_, flow := m.flowing(ts[v], out(v))
			m.include(some, flow, v == 0)
		}
		m.unlessAny(some, still)
		for v := range vectors {
			h.ts.put(v, ts[v])
		}
		h.plug(m, vectors, from)
		JMP(operand.LabelRef(done))
		Label(still)
		decay := h.line.of(m, wetHour, vectors)
		for v := range vectors {
			t := m.column(h.t, at, v)
			m.store(v, m.sub(ts[v], m.mul(m.sub(ts[v], m.load(v, t)), decay(v))), t)
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
	h := m.hour(false)
	store, out, n := pointer("store"), pointer("out"), pointer("n")
	back := GP64()
	XORQ(back, back)
	m.each(n, func(at reg.GPVirtual, vectors int) {
		h.at = at
		any := m.mask()
		for v := range vectors {
			outAt := operand.Mem{Base: out, Index: at, Scale: 1, Disp: v * m.lanes}
			dry := m.loadFlags(v, outAt)
			ts := m.add(m.product(m.all(field(h.line.one, invU)), v, m.column(h.s, at, v)), field(h.line.one, base))
			h.ts.put(v, ts)
			temp := m.load(v, m.column(h.t, at, v))
			part, decay := m.all(number(1)), m.all(field(h.line.one, wetHour))

			wet := m.label("wet")
			unlessSet("refill", wet)
			m.unlessAny(dry, wet)
			water := m.load(v, m.column(store, at, v))
			coming, after := h.warm(m, dry, ts, temp, water, wet)
			ADDQ(m.count(coming), back)
			mixed := m.mul(water, m.sub(m.all(field(h.regime.one, wetCapacity)), field(h.regime.one, dryCapacity)))
			mixed = m.div(m.add(m.mul(temp, field(h.regime.one, dryCapacity)), mixed), m.all(field(h.regime.one, wetCapacity)))
			m.put(temp, coming, mixed)
			m.put(part, coming, m.sub(part, after))
			m.put(decay, coming, m.expNeg(m.div(part, field(h.line.one, wetTime))))
			m.remove(dry, coming)
			m.storeFlags(v, dry, outAt)
			Label(wet)

			m.put(decay, dry, field(h.line.one, dryHour))
			gap := m.sub(ts, temp)
			h.part.put(v, part)
			h.gap.put(v, gap)
			h.gapEnd.put(v, m.mul(gap, decay))
			d, flow := m.flowing(ts, field(h.regime.one, outlet))
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
	need := m.min(water, m.all(field(h.regime.one, run)))
	already := m.both(dry, m.compare(temp, greaterOrEqual, need))
	gap, d := m.sub(ts, temp), m.sub(ts, need)
	never := m.either(m.compare(d, lessOrEqual, number(tiny)),
		m.compare(m.mul(gap, field(h.line.one, dryHour)), greater, d))
	rising := m.without(m.without(dry, never), already)
	coming = m.either(already, rising)
	m.unlessAny(coming, none)
	m.put(temp, rising, need)
	num, den := newLogarithm().ratio(m, m.sub(gap, d), gap, d)
	after = m.mul(m.div(num, den), field(h.line.one, dryTime))
	after = m.only(rising, m.do(minPS, m.all(number(1)), after)) // its second operand, if that is NaN, as min
	return coming, after
}
