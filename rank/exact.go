package rank

import (
	"math"
	"math/bits"
)

// An exact sum of numbers does not depend on the order they come in, nor on how
// they were gathered into part sums: it is one of whole steps of 2^-64. A number
// enters it rounded to steps, which is exact from 2^-11 up.
type exact struct {
	Steps uint64 // below one
	Whole int64
}

// mostExact bounds what enters a sum, so that none overflows: sums of millions
// of them have room.
const mostExact = 1 << 40

// add puts v into the sum; what lies beyond ±2^40 counts as that, and NaN as
// nothing.
func (s *exact) add(v float64) {
	if v != v {
		return
	}
	whole, part := math.Modf(min(math.Abs(v), mostExact))
	o := exact{uint64(part * (1 << 64)), int64(whole)}
	if v < 0 {
		var borrow uint64
		o.Steps, borrow = bits.Sub64(0, o.Steps, 0)
		o.Whole = -o.Whole - int64(borrow)
	}
	s.put(o)
}

// put adds another sum.
func (s *exact) put(o exact) {
	var carry uint64
	s.Steps, carry = bits.Add64(s.Steps, o.Steps, 0)
	s.Whole += o.Whole + int64(carry)
}

// value is the sum as near as a float64 comes.
func (s *exact) value() float64 { return float64(s.Whole) + float64(s.Steps)/(1<<64) }
