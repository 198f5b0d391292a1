//go:build gen

package main

import (
	. "github.com/mmcloughlin/avo/build"
	"github.com/mmcloughlin/avo/operand"
	"github.com/mmcloughlin/avo/reg"
)

// A predicate compares; of NaN with anything it is false, but for the negated
// one.
type predicate uint8

const (
	less           predicate = 0x11
	lessOrEqual    predicate = 0x12
	notLessOrEqual predicate = 0x16
	greaterOrEqual predicate = 0x1d
	greater        predicate = 0x1e
)

func (m *machine) compare(a reg.VecVirtual, p predicate, b any) reg.Register {
	dst := m.mask()
	op, broadcast := m.second(b)
	if broadcast {
		compares.broadcast(operand.U8(p), op, a, dst)
	} else {
		compares.vector(operand.U8(p), op, a, dst)
	}
	return dst
}

func (m *machine) both(a, b reg.Register) reg.Register {
	dst := m.mask()
	if m.wide {
		KANDW(a, b, dst)
	} else {
		VANDPS(a, b, dst)
	}
	return dst
}

func (m *machine) either(a, b reg.Register) reg.Register {
	dst := m.mask()
	if m.wide {
		KORW(a, b, dst)
	} else {
		VORPS(a, b, dst)
	}
	return dst
}

// without is a and not b.
func (m *machine) without(a, b reg.Register) reg.Register {
	dst := m.mask()
	if m.wide {
		KANDNW(a, b, dst)
	} else {
		VANDNPS(a, b, dst)
	}
	return dst
}

// remove takes b's lanes out of a.
func (m *machine) remove(a, b reg.Register) {
	if m.wide {
		KANDNW(a, b, a)
	} else {
		VANDNPS(a, b, a)
	}
}

// include adds b's lanes to a, which has none before the first.
func (m *machine) include(a, b reg.Register, first bool) {
	switch {
	case first && m.wide:
		KMOVW(b, a)
	case first:
		VMOVAPS(b, a)
	case m.wide:
		KORW(b, a, a)
	default:
		VORPS(b, a, a)
	}
}

// unlessAny jumps if the mask has no lane.
func (m *machine) unlessAny(mask reg.Register, label string) {
	if m.wide {
		KORTESTW(mask, mask)
	} else {
		n := GP32()
		VMOVMSKPS(mask, n)
		TESTL(n, n)
	}
	JZ(operand.LabelRef(label))
}

// count counts the lanes of a mask.
func (m *machine) count(mask reg.Register) reg.GPVirtual {
	n := GP32()
	m.bits(mask, n)
	POPCNTL(n, n)
	return n.As64().(reg.GPVirtual)
}

// bits makes the lanes of a mask the bits of a number.
func (m *machine) bits(mask, n reg.Register) {
	if m.wide {
		KMOVW(mask, n)
	} else {
		VMOVMSKPS(mask, n)
	}
}

// put writes x, a register or a scalar, into the lanes of dst that mask has.
func (m *machine) put(dst reg.VecVirtual, mask reg.Register, x any) {
	op, broadcast := m.second(x)
	switch {
	case broadcast:
		VBROADCASTSS(op, mask, dst)
	case m.wide:
		VMOVAPS(op, mask, dst)
	default:
		VBLENDVPS(mask, op, dst, dst)
	}
}

// unless writes x into the lanes of dst that mask has not.
func (m *machine) unless(dst reg.VecVirtual, mask reg.Register, x scalar) {
	if m.wide {
		other := K()
		KNOTW(mask, other)
		m.put(dst, other, x)
		return
	}
	VBLENDVPS(mask, dst, m.all(x), dst)
}

// only is a in the lanes of mask and zero elsewhere.
func (m *machine) only(mask reg.Register, a reg.VecVirtual) reg.VecVirtual {
	dst := m.vector()
	if m.wide {
		VMOVAPS_Z(a, mask, dst)
	} else {
		VANDPS(a, mask, dst)
	}
	return dst
}
