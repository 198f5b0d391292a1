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

// atLeastZero is Go's max(a, 0) for an a that is not −0: NaN stays, as the
// second operand does.
func (m *machine) atLeastZero(a reg.VecVirtual) reg.VecVirtual { return m.do(maxPS, m.zero(), a) }

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

// Slots are places in the scratch, one a vector at hand.
type slots struct {
	m    *machine
	from int
}

// room makes slots for the vectors of a block.
func (m *machine) room() slots {
	s := slots{m, m.slots}
	m.slots += block
	if m.slots > m.most {
		panic("more slots than the scratch has")
	}
	return s
}

func (s slots) of(v int) operand.Mem {
	return operand.Mem{Base: s.m.scratch, Disp: (s.from + v) * s.m.lanes * 4}
}

func (s slots) put(v int, x reg.VecVirtual) { VMOVUPS(x, s.of(v)) }

func (s slots) get(v int) reg.VecVirtual {
	x := s.m.vector()
	VMOVUPS(s.of(v), x)
	return x
}

// prepare makes the scratch with that many slots a vector of the block.
func (m *machine) prepare(each int) {
	m.slots, m.most, m.scratch = 0, each*block, GP64()
	line := m.lanes * 4
	LEAQ(AllocLocal((m.most+1)*line), m.scratch)
	ADDQ(operand.U8(line-1), m.scratch)
	ANDQ(operand.I8(-line), m.scratch)
	m.masks = m.room()
}

// loadFlags reads a bool a lane as a mask. Without masks for bytes AVX2 reads a
// whole vector of them even for part of one.
func (m *machine) loadFlags(v int, at operand.Mem) reg.Register {
	x, mask := m.vector(), m.mask()
	switch {
	case !m.wide:
		VPMOVZXBD(at, x)
		VPCMPGTD(m.zero(), x, mask)
	case !m.part:
		VPMOVZXBD(at, x)
		VPTESTMD(x, x, mask)
	default:
		VPMOVZXBD_Z(at, m.lanesMask(v), x)
		VPTESTMD(x, x, mask)
	}
	return mask
}

// storeFlags writes a mask as a bool a lane, likewise.
func (m *machine) storeFlags(v int, mask reg.Register, at operand.Mem) {
	if m.wide {
		x := m.vector()
		VMOVDQA32_Z(m.all(bits(1)), mask, x)
		if m.part {
			VPMOVDB(x, m.lanesMask(v), at)
		} else {
			VPMOVDB(x, at)
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

// block is how many vectors go together. A chain of operations takes many times
// as long as each of them, and a processor looks some 400 instructions ahead;
// with this many vectors in step it finds work most of the time.
const block = 8

// abreast is how many of a block go through a polynomial in registers.
const abreast = 4

// each runs body over n lanes: full blocks, a half one if there is, then what is
// left as half a block, or one vector, of which not all lanes need count. at is
// the number of lanes before those at hand.
func (m *machine) each(n reg.GPVirtual, body func(at reg.GPVirtual, vectors int)) {
	loop, half, rest, single, done := m.label("loop"), m.label("half"), m.label("rest"), m.label("single"), m.label("end")
	at := GP64()
	XORQ(at, at)
	full := func(vectors int) {
		body(at, vectors)
		ADDQ(operand.U32(vectors*m.lanes), at)
		SUBQ(operand.U32(vectors*m.lanes), n)
	}
	CMPQ(n, operand.U32(block*m.lanes))
	JL(operand.LabelRef(half))
	Label(loop)
	full(block)
	CMPQ(n, operand.U32(block*m.lanes))
	JGE(operand.LabelRef(loop))
	Label(half)
	CMPQ(n, operand.U32(block/2*m.lanes))
	JL(operand.LabelRef(rest))
	full(block / 2)
	Label(rest)
	TESTQ(n, n)
	JZ(operand.LabelRef(done))
	m.part = true
	m.maskLanes(n)
	CMPQ(n, operand.U32(m.lanes))
	JLE(operand.LabelRef(single))
	body(at, block/2)
	JMP(operand.LabelRef(done))
	Label(single)
	body(at, 1)
	m.part = false
	Label(done)
}

// maskLanes makes the masks of half a block of which n lanes count.
func (m *machine) maskLanes(n reg.GPVirtual) {
	x, count := XMM(), m.vector()
	VMOVD(n.As32(), x)
	VPBROADCASTD(x, count)
	for v := range block / 2 {
		mask := m.mask()
		numbers := ordinals()
		numbers.Disp += v * m.lanes * 4
		VPCMPGTD(numbers, count, mask)
		m.moveMask(mask, m.masks.of(v))
	}
}

var ordinalTable *operand.Mem

// ordinals are the numbers of the lanes of half a block.
func ordinals() operand.Mem {
	if ordinalTable == nil {
		t := GLOBL("ordinals", attr.RODATA|attr.NOPTR)
		for i := range block / 2 * 16 {
			DATA(4*i, operand.U32(i))
		}
		ordinalTable = &t
	}
	return *ordinalTable
}
