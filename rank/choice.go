package rank

import (
	"math"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// By says what makes a design the best of a site.
type By string

// Measures of a design; the empty one stands for ByLCOH.
const (
	ByLCOH   By = "lcoh"   // the cheapest heat
	BySaving By = "saving" // the greatest yearly saving against gas per m² of receiver
	ByHeat   By = "heat"   // the most heat among designs whose heat costs no more than a cap
)

// validateBy checks the measure and its cap.
func (o *Options) validateBy() error {
	switch o.By {
	case "", ByLCOH, BySaving, ByHeat:
	default:
		return &cost.KeyError{Key: "rank.by", Value: string(o.By), Want: "lcoh, saving or heat"}
	}
	if capped := o.By == ByHeat; capped != (o.CostCap != 0) || capped && !(o.CostCap > 0 && !math.IsInf(o.CostCap, 1)) {
		want := "above 0 with rank.by = \"heat\""
		if !capped {
			want = "none without rank.by = \"heat\""
		}
		return &cost.KeyError{Key: "rank.cost_cap_per_kwh", Value: o.CostCap, Want: want}
	}
	return nil
}

// A choice is the best design of a site for one outlet and use.
type choice struct {
	best, second int       // design numbers, -1 for none
	reason       string    // why there is no best
	pvCost       []float64 // by design, with the lives the site leaves its films
	heat         []float64 // that counts for the use, by design, kWh/m²
	lcoh         []float64 // by design; +Inf without heat
	score        []float64 // by design; the least is best, +Inf is no choice at all
	worn         [][]worn  // by wearing and design, as price left them
}

// Reasons for having no best design.
const (
	noHeat  = "no heat"
	overCap = "over the cost cap"
)

// choose fills c for outlet o of block b when as much heat counts in each month
// as caps say, at the costs that price put into it. An outlet that the materials
// do not bear has no design. The slices of c are used again.
func (p *prices) choose(c *choice, b *result.Block, t *result.Table, o int, caps *[12]float64) {
	c.best, c.second, c.reason = -1, -1, ""
	c.heat, c.lcoh, c.score = c.heat[:0], c.lcoh[:0], c.score[:0]
	for d := range p.designs {
		heat := counted(b.Months(t, o, d), caps)
		lcoh := math.Inf(1)
		if p.refused[o] == "" {
			lcoh = p.lcoh(c.pvCost[d], heat)
		}
		c.heat, c.lcoh = append(c.heat, heat), append(c.lcoh, lcoh)
		c.score = append(c.score, p.score(lcoh, heat))
	}
	for d := range p.designs {
		if p.better(c.score, d, c.best) {
			c.best = d
		}
	}
	if c.best < 0 {
		c.reason = p.without(c, o)
		return
	}
	for d := range p.designs {
		if !sameHeater(&p.designs[d], &p.designs[c.best]) && p.better(c.score, d, c.second) {
			c.second = d
		}
	}
}

// without says why a site has no best design.
func (p *prices) without(c *choice, outlet int) string {
	if why := p.refused[outlet]; why != "" {
		return why
	}
	for _, lcoh := range c.lcoh {
		if !math.IsInf(lcoh, 1) {
			return overCap
		}
	}
	return noHeat
}

// score measures a design by what the study ranks by.
func (p *prices) score(lcoh, heat float64) float64 {
	switch {
	case math.IsInf(lcoh, 1) || p.by == ByHeat && lcoh > p.costCap:
		return math.Inf(1)
	case p.by == BySaving:
		return -p.saving(lcoh, heat)
	case p.by == ByHeat:
		return -heat
	}
	return lcoh
}

// regret is how far design d falls short of the site's best: by how much
// dearer its heat is over the best's cost, by the saving given up, or by the
// share of the best's heat.
func (p *prices) regret(c *choice, d int) float64 {
	switch p.by {
	case BySaving:
		return c.score[d] - c.score[c.best]
	case ByHeat:
		return 1 - c.heat[d]/c.heat[c.best]
	}
	return c.lcoh[d]/c.lcoh[c.best] - 1
}

// better says whether design a, which has the higher number or any against
// b = -1, comes before design b. A design of no choice never does.
func (p *prices) better(score []float64, a, b int) bool {
	if math.IsInf(score[a], 1) || b < 0 {
		return !math.IsInf(score[a], 1)
	}
	if score[a] != score[b] {
		return score[a] < score[b]
	}
	return p.mirror(a) < p.mirror(b)
}

// sameHeater says whether two candidates are one heater: without a mirror, its
// tilt, setback and raise mean nothing.
func sameHeater(a, b *result.Design) bool {
	return *a == *b || a.MirrorLength == 0 && b.MirrorLength == 0
}
