package rank

import (
	"fmt"
	"math"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// A prices table holds what every site shares: the cost of each design.
type prices struct {
	designs []result.Design
	plan    cost.Plan
	gas     cost.Gas
	lives   Lives
	refused []string  // by outlet: why it cannot be built, empty where it can
	pvCost  []float64 // by design, with rated lives
	perKWh  float64   // present value of a yearly kWh/m² at the receiver, kWh
	gasHeat float64
	crf     float64
}

// A choice is the best design of a site for one outlet and use.
type choice struct {
	best, second int       // design numbers, -1 for none
	pvCost       []float64 // by design, with the lives the site leaves its films
	heat         []float64 // of the months of the use, by design, kWh/m²
	lcoh         []float64 // by design; +Inf without heat
}

func newPrices(o *Options) (prices, error) {
	p := prices{
		designs: o.Table.Designs, plan: o.Plan, gas: o.Gas, gasHeat: o.Gas.HeatCost(), lives: o.Lives,
		perKWh: o.Plan.PVHeat(1), crf: cost.CRF(o.Plan.HorizonYears, o.Plan.DiscountRate),
	}
	for _, out := range o.Table.Outlets {
		p.refused = append(p.refused, o.Materials.refuse(out))
	}
	for i, d := range p.designs {
		pv, err := p.plan.PVCost(d)
		if err != nil {
			return p, fmt.Errorf("design %d: %w", i, err)
		}
		if !(pv > 0) {
			return p, fmt.Errorf("design %d costs %g per m²: no cost.item counts for it, so its heat would be free", i, pv)
		}
		p.pvCost = append(p.pvCost, pv)
	}
	return p, nil
}

// price fills the present values of cost in c for outlet o of block b: the
// doses its films get there shorten their lives.
func (p *prices) price(c *choice, b *result.Block, t *result.Table, o int) error {
	c.pvCost = append(c.pvCost[:0], p.pvCost...)
	if len(p.lives) == 0 || b.Stress == nil {
		return nil
	}
	for d := range p.designs {
		worn := p.plan.Worn(p.lives.Strain(b, t, o, d))
		var err error
		if c.pvCost[d], err = worn.PVCost(p.designs[d]); err != nil {
			return err
		}
	}
	return nil
}

// choose fills c for outlet o of block b when the heat of the months in window
// counts, at the costs that price put into it. An outlet that the materials do
// not bear has no design. The slices of c are used again.
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
		if heat > 0 && p.refused[o] == "" {
			lcoh = p.plan.LCOH(c.pvCost[d], heat*p.perKWh)
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
