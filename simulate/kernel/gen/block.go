//go:build gen

package main

import (
	"github.com/mmcloughlin/avo/attr"
	. "github.com/mmcloughlin/avo/build"
	"github.com/mmcloughlin/avo/operand"
	"github.com/mmcloughlin/avo/reg"
)

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

// abreast is how many of a block go through a logarithm in step, in registers.
const abreast = 2

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
