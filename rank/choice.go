package rank

import (
	"math"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// A prices table holds what every site shares: the cost of each design.
type prices struct {
	designs []result.Design
	plan    cost.Plan
	gas     cost.Gas
	pvCost  []float64 // by design
	perKWh  float64   // present value of a yearly kWh/m² at the receiver, kWh
	gasHeat float64
	crf     float64
}

// A choice is the best design of a site for one outlet and use.
type choice struct {
	best, second int       // design numbers, -1 for none
	heat         []float64 // of the months of the use, by design, kWh/m²
	lcoh         []float64 // by design; +Inf without heat
}

// choose fills c for outlet o of block b when the heat of the months in window
// counts. The slices of c are used again.
func (p *prices) choose(c *choice, b *result.Block, t *result.Table, o int, window [12]bool) {
	c.best, c.second = -1, -1
	c.heat, c.lcoh = c.heat[:0], c.lcoh[:0]
	for d := range p.designs {
		heat := 0.0
		for m, h := range b.Months(t, o, d) {
			if window[m] {
				heat += float64(h)
			}
		}
		lcoh := math.Inf(1)
		if heat > 0 {
			lcoh = p.plan.LCOH(p.pvCost[d], heat*p.perKWh)
		}
		c.heat, c.lcoh = append(c.heat, heat), append(c.lcoh, lcoh)
	}
	for d := range p.designs {
		if p.cheaper(c.lcoh, d, c.best) {
			c.best = d
		}
	}
	if c.best < 0 {
		return
	}
	for d := range p.designs {
		if !sameHeater(&p.designs[d], &p.designs[c.best]) && p.cheaper(c.lcoh, d, c.second) {
			c.second = d
		}
	}
}

// cheaper says whether design a, which has the higher number or any against
// b = -1, comes before design b by lcoh. A design without heat never does.
func (p *prices) cheaper(lcoh []float64, a, b int) bool {
	if math.IsInf(lcoh[a], 1) || b < 0 {
		return !math.IsInf(lcoh[a], 1)
	}
	if lcoh[a] != lcoh[b] {
		return lcoh[a] < lcoh[b]
	}
	return p.mirror(a) < p.mirror(b)
}

// mirror is the area of mirror per m² of receiver.
func (p *prices) mirror(d int) float64 {
	return p.designs[d].MirrorLength / p.designs[d].ReceiverWidth
}

// sameHeater says whether two candidates are one heater: without a mirror, its
// tilt, setback and raise mean nothing.
func sameHeater(a, b *result.Design) bool {
	return *a == *b || a.MirrorLength == 0 && b.MirrorLength == 0
}
