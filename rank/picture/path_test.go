package picture

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// pathLengths measures a path.
type pathLengths struct{ path vg.Path }

// alongMeridian is how much of the path runs along X = x.
func (p *pathLengths) alongMeridian(x vg.Length) (sum float64) {
	var last vg.Point
	for _, c := range p.path {
		if c.Type == vg.LineComp && c.Pos.X == x && last.X == x {
			sum += math.Abs(float64(c.Pos.Y - last.Y))
		}
		last = c.Pos
	}
	return sum
}
