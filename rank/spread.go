package rank

import (
	"stillrow/simulate/result"
)

// A Spread is how sure the levelised cost of a best design is.
type Spread struct {
	P10, P50, P90 float64 // of the levelised cost per kWh
	BeatsGas      float64 // probability, 0 to 1
}

// spread asks for the spread of the pick that a row shows; nil where nobody
// works it out. It is the one place where rows and maps get it from.
func (k *Ranker) spread(b *result.Block, p *Pick) *Spread {
	if k.o.Spread == nil || p.Best < 0 {
		return nil
	}
	return k.o.Spread(b, p)
}
