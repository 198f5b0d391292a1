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

	tail   operand.Op // in a part vector: the mask of its lanes, or where AVX2 finds it; nil in a full one
	labels int
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

// second makes x, a register or a scalar, the memory or register operand of an
// instruction; broadcast says that it is the one that spreads it.
func (m *machine) second(x any) (op operand.Op, broadcast bool) {
	s, ok := x.(scalar)
	switch {
	case !ok:
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
	minInt   = instruction{VPMINSD, VPMINSD_BCST}
	andWide  = instruction{VPANDD, VPANDD_BCST}
	xorWide  = instruction{VPXORD, VPXORD_BCST}
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

// atLeastZero is Go's max(a, 0): NaN stays, as the second operand does, and
// adding +0 makes −0 the +0 that max gives.
func (m *machine) atLeastZero(a reg.VecVirtual) reg.VecVirtual {
	zero := m.zero()
	return m.add(m.do(maxPS, zero, a), zero)
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

// unlessAny jumps if the mask has no lane.
func (m *machine) unlessAny(mask reg.Register, label string) {
	if m.wide {
		KORTESTW(mask, mask)
	} else {
		VTESTPS(mask, mask)
	}
	JZ(operand.LabelRef(label))
}

// count counts the lanes of a mask.
func (m *machine) count(mask reg.Register) reg.GPVirtual {
	n := GP32()
	if m.wide {
		KMOVW(mask, n)
	} else {
		VMOVMSKPS(mask, n)
	}
	POPCNTL(n, n)
	return n.As64().(reg.GPVirtual)
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

// load reads the lanes at hand; beyond the tail they are 0.
func (m *machine) load(at operand.Mem) reg.VecVirtual {
	dst := m.vector()
	switch {
	case m.tail == nil:
		VMOVUPS(at, dst)
	case m.wide:
		VMOVUPS_Z(at, m.tail, dst)
	default:
		VMASKMOVPS(at, m.tailMask(), dst)
	}
	return dst
}

// product is a times the lanes in memory.
func (m *machine) product(a reg.VecVirtual, at operand.Mem) reg.VecVirtual {
	if m.tail != nil {
		return m.mul(a, m.load(at))
	}
	dst := m.vector()
	VMULPS(at, a, dst)
	return dst
}

// store writes the lanes at hand.
func (m *machine) store(v reg.VecVirtual, at operand.Mem) {
	switch {
	case m.tail == nil:
		VMOVUPS(v, at)
	case m.wide:
		VMOVUPS(v, m.tail, at)
	default:
		VMASKMOVPS(v, m.tailMask(), at)
	}
}

func (m *machine) tailMask() reg.VecVirtual {
	mask := m.vector()
	VMOVUPS(m.tail, mask)
	return mask
}

// loadFlags reads a bool a lane as a mask. Without masks for bytes AVX2 reads a
// whole vector of them also at the tail.
func (m *machine) loadFlags(at operand.Mem) reg.Register {
	v, mask := m.vector(), m.mask()
	switch {
	case !m.wide:
		VPMOVZXBD(at, v)
		VPCMPGTD(m.zero(), v, mask)
	case m.tail == nil:
		VPMOVZXBD(at, v)
		VPTESTMD(v, v, mask)
	default:
		VPMOVZXBD_Z(at, m.tail, v)
		VPTESTMD(v, v, mask)
	}
	return mask
}

// storeFlags writes a mask as a bool a lane, likewise.
func (m *machine) storeFlags(mask reg.Register, at operand.Mem) {
	if m.wide {
		v := m.vector()
		VMOVDQA32_Z(m.all(bits(1)), mask, v)
		if m.tail == nil {
			VPMOVDB(v, at)
		} else {
			VPMOVDB(v, m.tail, at)
		}
		return
	}
	one, high, low := m.vector(), XMM(), XMM()
	VANDPS(bits(1).at, mask, one)
	VEXTRACTI128(operand.U8(1), one, high)
	VPACKSSDW(high, one.AsX(), low)
	VPACKUSWB(low, low, low)
	VMOVQ(low, at)
}

// each runs body over n lanes with at, the number of floats before those at
// hand: full vectors, then the part that is left, if any.
func (m *machine) each(n reg.GPVirtual, at reg.GPVirtual, body func()) {
	loop, part, done := m.label("loop"), m.label("part"), m.label("done")
	full := GP64()
	MOVQ(n, full)
	ANDQ(operand.I8(-m.lanes), full)
	CMPQ(at, full)
	JAE(operand.LabelRef(part))
	Label(loop)
	body()
	ADDQ(operand.U8(m.lanes), at)
	CMPQ(at, full)
	JB(operand.LabelRef(loop))
	Label(part)
	CMPQ(at, n)
	JAE(operand.LabelRef(done))
	m.tail = m.partMask(n, full)
	body()
	m.tail = nil
	Label(done)
}

// partMask is the mask of the n − full lanes that are left.
func (m *machine) partMask(n, full reg.GPVirtual) operand.Op {
	left := GP64()
	MOVQ(n, left)
	SUBQ(full, left)
	if m.wide {
		lanes, k := GP32(), K()
		MOVQ(left, reg.RCX)
		MOVL(operand.U32(1), lanes)
		SHLL(reg.CL, lanes)
		DECL(lanes)
		KMOVW(lanes, k)
		return k
	}
	at := GP64()
	LEAQ(parts(), at)
	NEGQ(left)
	return operand.Mem{Base: at, Index: left, Scale: 4, Disp: 32}
}

var partTable *operand.Mem

// parts is eight lanes on, eight lanes off.
func parts() operand.Mem {
	if partTable == nil {
		t := GLOBL("parts", attr.RODATA|attr.NOPTR)
		for i := range 16 {
			v := uint32(0xffffffff)
			if i >= 8 {
				v = 0
			}
			DATA(4*i, operand.U32(v))
		}
		partTable = &t
	}
	return *partTable
}
