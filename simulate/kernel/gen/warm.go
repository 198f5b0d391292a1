//go:build gen

package main

import (
	. "github.com/mmcloughlin/avo/build"
	"github.com/mmcloughlin/avo/operand"
	"github.com/mmcloughlin/avo/reg"
)

// The temperatures of kernel.Warmth and its last entry.
const (
	warmthFrom  = -100
	warmthSteps = 4
	warmthLast  = 1200
)

// warm is Bank.warmPlain.
func (m *machine) warm() {
	TEXT("warm"+m.name, 0, "func(sum, t *float32, n int, weights *float32) bool")
	Pragma("noescape")
	Doc("warm" + m.name + " is Bank.warmPlain for n lanes; weights are the entries of a Warmth.")
	m.prepare(1)
	sum, t, n, weights := pointer("sum"), pointer("t"), pointer("n"), pointer("weights")
	cold := GP32()
	XORL(cold, cold)
	m.each(n, func(at reg.GPVirtual, vectors int) {
		zero := m.zero()
		for v := range vectors {
			temp := m.load(v, m.column(t, at, v))
			below := GP32()
			m.bits(m.compare(temp, less, zero), below)
			ORL(below, cold)
			x := m.add(m.mul(m.sub(temp, number(warmthFrom)), number(warmthSteps)), number(0.5))
			// NaN gives the second operand: 0, as in the plain code.
			x = m.do(minPS, m.do(maxPS, x, zero), number(warmthLast))
			VCVTTPS2DQ(x, x)
			to := m.column(sum, at, v)
			m.store(v, m.add(m.load(v, to), m.gather(weights, x)), to)
		}
	})
	TESTL(cold, cold)
	b, err := ReturnIndex(0).Resolve()
	if err != nil {
		panic(err)
	}
	SETNE(b.Addr)
	end()
}

// gather reads the entry of a table that each lane names.
func (m *machine) gather(table reg.GPVirtual, entries reg.VecVirtual) reg.VecVirtual {
	dst, mask := m.zero(), m.mask()
	VPCMPEQD(dst, dst, mask)
	at := operand.Mem{Base: table, Index: entries, Scale: 4}
	if m.wide {
		VGATHERDPS(at, mask, dst)
	} else {
		VGATHERDPS(mask, at, dst)
	}
	return dst
}
