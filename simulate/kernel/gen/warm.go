//go:build gen

package main

import (
	. "github.com/mmcloughlin/avo/build"
	"github.com/mmcloughlin/avo/operand"
	"github.com/mmcloughlin/avo/reg"
)

// The fields of kernel.Warmth and the powers it keeps to.
const (
	warmthA = iota
	warmthB
	leastPower = -126
	mostPower  = 126
)

// warm is Bank.warmPlain.
func (m *machine) warm() {
	TEXT("warm"+m.name, 0, "func(sum, t *float32, n int, warmth *float32) bool")
	Pragma("noescape")
	Doc("warm" + m.name + " is Bank.warmPlain for n lanes; warmth are the fields of a Warmth.")
	m.prepare(1)
	sum, t, n, warmth := pointer("sum"), pointer("t"), pointer("n"), pointer("warmth")
	cold := GP32()
	XORL(cold, cold)
	a, b := m.all(field(warmth, warmthA)), m.all(field(warmth, warmthB))
	m.each(n, func(at reg.GPVirtual, count int) {
		zero := m.zero()
		inStep(count, func(lo, n int) {
			y, f, shifted, p := make([]reg.VecVirtual, n), make([]reg.VecVirtual, n), make([]reg.VecVirtual, n), make([]reg.VecVirtual, n)
			steps := []func(v int){
				func(v int) {
					y[v] = m.load(lo+v, m.column(t, at, lo+v))
					below := GP32()
					m.bits(m.compare(y[v], less, zero), below)
					ORL(below, cold)
				},
				func(v int) { y[v] = m.add(y[v], number(273.15)) },
				func(v int) { y[v] = m.sub(a, m.div(b, y[v])) },
				// NaN gives the second operand, as in the plain code.
				func(v int) { y[v] = m.do(minPS, m.do(maxPS, y[v], number(leastPower)), number(mostPower)) },
				func(v int) { shifted[v] = m.add(y[v], number(3<<22)) },
				func(v int) { f[v] = m.sub(shifted[v], number(3<<22)) },
				func(v int) { f[v] = m.sub(y[v], f[v]) },
				func(v int) { p[v] = m.mul(f[v], number(0.00958285)) },
			}
			for _, c := range []float32{0.05590643, 0.24024099, 0.69312419} {
				steps = append(steps, func(v int) { p[v] = m.mul(m.add(p[v], number(c)), f[v]) })
			}
			steps = append(steps,
				func(v int) { p[v] = m.add(p[v], number(1)); VPSLLD(operand.U8(23), shifted[v], shifted[v]) },
				func(v int) {
					to := m.column(sum, at, lo+v)
					m.store(lo+v, m.add(m.load(lo+v, to), m.do(addInt, p[v], shifted[v])), to)
				})
			for _, step := range steps {
				for v := range n {
					step(v)
				}
			}
		})
	})
	TESTL(cold, cold)
	result, err := ReturnIndex(0).Resolve()
	if err != nil {
		panic(err)
	}
	SETNE(result.Addr)
	end()
}
