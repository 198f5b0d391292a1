//go:build gen

package main

import (
	"fmt"
	"math"

	"github.com/mmcloughlin/avo/attr"
	. "github.com/mmcloughlin/avo/build"
	"github.com/mmcloughlin/avo/operand"
	"github.com/mmcloughlin/avo/reg"
)

// A machine writes the instructions of one extension: AVX2 has eight lanes and
// masks that are vectors, AVX-512 sixteen and registers for masks. Its methods
// are the operations of the plain Go code on all lanes at once, each rounded by
// itself; nothing here multiplies and adds in one step.
type machine struct {
	name  string
	lanes int
	wide  bool // AVX-512

	scratch reg.GPVirtual // room for vectors that have no register, aligned
	slots   int           // of it in use
	most    int           // it has
	part    bool          // the vectors at hand may not be full
	masks   slots         // of their lanes, if so
	labels  int
}

// A scalar is one float32 or int32 in memory that stands for all lanes.
type scalar struct {
	at     operand.Mem
	spread bool // lies there once a lane of AVX2
}

// constants are in the order of their first use.
var constants = map[uint32]scalar{}

// bits gives a constant by its bits.
func bits(b uint32) scalar {
	c, ok := constants[b]
	if !ok {
		c = scalar{GLOBL(fmt.Sprintf("x%08x", b), attr.RODATA|attr.NOPTR), true}
		for i := range 8 {
			DATA(4*i, operand.U32(b))
		}
		constants[b] = c
	}
	return c
}

// number gives a constant, which Go has rounded to float32 as in the plain code.
func number(x float32) scalar { return bits(math.Float32bits(x)) }

// label makes a label of the function's own.
func (m *machine) label(name string) string {
	m.labels++
	return fmt.Sprintf("%s%d", name, m.labels)
}

// vector is a fresh register.
func (m *machine) vector() reg.VecVirtual {
	if m.wide {
		return ZMM()
	}
	return YMM()
}

// mask is a fresh register for a mask.
func (m *machine) mask() reg.Register {
	if m.wide {
		return K()
	}
	return YMM()
}

// all spreads a scalar over a register.
func (m *machine) all(s scalar) reg.VecVirtual {
	v := m.vector()
	VBROADCASTSS(s.at, v)
	return v
}

// hold takes a scalar that several vectors need into a register; for one it is
// as well read where it is used.
func (m *machine) hold(s scalar, vectors int) any {
	if vectors > 1 {
		return m.all(s)
	}
	return s
}

// second makes x, a register, a vector in memory or a scalar, the operand of an
// instruction; broadcast says that it is the one that spreads it.
func (m *machine) second(x any) (op operand.Op, broadcast bool) {
	s, ok := x.(scalar)
	switch {
	case !ok: // a register, or a vector in memory
		return x.(operand.Op), false
	case m.wide:
		return s.at, true
	case s.spread:
		return s.at, false
	}
	return m.all(s), false
}

// An instruction has a form for vectors and one that spreads a scalar.
type instruction struct{ vector, broadcast func(...operand.Op) }

var (
	addPS    = instruction{VADDPS, VADDPS_BCST}
	subPS    = instruction{VSUBPS, VSUBPS_BCST}
	mulPS    = instruction{VMULPS, VMULPS_BCST}
	divPS    = instruction{VDIVPS, VDIVPS_BCST}
	minPS    = instruction{VMINPS, VMINPS_BCST}
	maxPS    = instruction{VMAXPS, VMAXPS_BCST}
	addInt   = instruction{VPADDD, VPADDD_BCST}
	subInt   = instruction{VPSUBD, VPSUBD_BCST}
	andWide  = instruction{VPANDD, VPANDD_BCST}
	xorWide  = instruction{VPXORD, VPXORD_BCST}
	andPS    = instruction{VANDPS, nil}
	xorPS    = instruction{VXORPS, nil}
	compares = instruction{VCMPPS, VCMPPS_BCST}
)

func (m *machine) do(i instruction, a reg.VecVirtual, b any) reg.VecVirtual {
	dst := m.vector()
	op, broadcast := m.second(b)
	if broadcast {
		i.broadcast(op, a, dst)
	} else {
		i.vector(op, a, dst)
	}
	return dst
}

func (m *machine) add(a reg.VecVirtual, b any) reg.VecVirtual { return m.do(addPS, a, b) }
func (m *machine) sub(a reg.VecVirtual, b any) reg.VecVirtual { return m.do(subPS, a, b) }
func (m *machine) mul(a reg.VecVirtual, b any) reg.VecVirtual { return m.do(mulPS, a, b) }
func (m *machine) div(a reg.VecVirtual, b any) reg.VecVirtual { return m.do(divPS, a, b) }

// min is Go's min: NaN if either is NaN, and −0 below +0, where the
// instruction gives its second operand. Both orders together do.
func (m *machine) min(a, b reg.VecVirtual) reg.VecVirtual {
	x, y, dst := m.do(minPS, a, b), m.do(minPS, b, a), m.vector()
	if m.wide {
		VPORD(x, y, dst)
	} else {
		VORPS(x, y, dst)
	}
	return dst
}

// atLeastZero is Go's max(a, 0) for an a that is not −0: NaN stays, as the
// second operand does.
func (m *machine) atLeastZero(a reg.VecVirtual) reg.VecVirtual { return m.do(maxPS, m.zero(), a) }

// and is that of the bits.
func (m *machine) and(a reg.VecVirtual, b any) reg.VecVirtual {
	if m.wide {
		return m.do(andWide, a, b)
	}
	return m.do(andPS, a, b)
}

func (m *machine) zero() reg.VecVirtual {
	z := m.vector()
	if m.wide {
		VPXORD(z, z, z)
	} else {
		VXORPS(z, z, z)
	}
	return z
}

// negate is −a, the sign turned also of zeros.
func (m *machine) negate(a reg.VecVirtual) reg.VecVirtual {
	if m.wide {
		return m.do(xorWide, a, bits(1<<31))
	}
	return m.do(xorPS, a, bits(1<<31))
}

// truncate drops the fraction.
func (m *machine) truncate(a reg.VecVirtual) reg.VecVirtual {
	dst := m.vector()
	if m.wide {
		VRNDSCALEPS(operand.U8(3), a, dst)
	} else {
		VROUNDPS(operand.U8(3), a, dst)
	}
	return dst
}

// load reads the lanes of vector v at hand; beyond the last they are 0.
func (m *machine) load(v int, at operand.Mem) reg.VecVirtual {
	dst := m.vector()
	switch {
	case !m.part:
		VMOVUPS(at, dst)
	case m.wide:
		VMOVUPS_Z(at, m.lanesMask(v), dst)
	default:
		VMASKMOVPS(at, m.lanesMask(v), dst)
	}
	return dst
}

// product is a times the lanes of vector v in memory.
func (m *machine) product(a reg.VecVirtual, v int, at operand.Mem) reg.VecVirtual {
	if m.part {
		return m.mul(a, m.load(v, at))
	}
	return m.mul(a, at)
}

// store writes the lanes of vector v at hand.
func (m *machine) store(v int, x reg.VecVirtual, at operand.Mem) {
	switch {
	case !m.part:
		VMOVUPS(x, at)
	case m.wide:
		VMOVUPS(x, m.lanesMask(v), at)
	default:
		VMASKMOVPS(x, m.lanesMask(v), at)
	}
}

func (m *machine) lanesMask(v int) reg.Register {
	mask := m.mask()
	m.moveMask(m.masks.of(v), mask)
	return mask
}

func (m *machine) moveMask(from, to operand.Op) {
	if m.wide {
		KMOVW(from, to)
	} else {
		VMOVUPS(from, to)
	}
}
