package climate

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// A draw is the source of chance of one cell. It takes only the generator's
// 64-bit words, whose sequence PCG defines, and turns them into numbers itself:
// the methods of rand.Rand may draw differently in a later version of Go.
type draw struct{ pcg *rand.PCG }

// newDraw seeds with the cell's id and its place in steps of 0.0001°.
func newDraw(c *Cell) draw {
	h := fnv.New64a()
	h.Write([]byte(c.ID))
	lat, lon := math.Round(c.Lat*1e4), math.Round(c.Lon*1e4)
	return draw{rand.NewPCG(h.Sum64(), uint64(uint32(int32(lat)))<<32|uint64(uint32(int32(lon))))}
}

// uniform gives a number in 0…1, both excluded: the middle of one of 2⁵² steps.
func (d draw) uniform() float64 {
	return (float64(d.pcg.Uint64()>>12) + 0.5) / (1 << 52)
}

// normal gives a number of mean 0 and standard deviation 1.
func (d draw) normal() float64 { return math.Sqrt2 * math.Erfinv(2*d.uniform()-1) }
