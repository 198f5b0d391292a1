package rank

import (
	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// Money is what the heat of one design comes to at a place, for one outlet and
// use. Savings count heat delivered against heat from the gas boiler.
type Money struct {
	Heat      float64  // that counts for the use, gross at the receiver, kWh/m² in the first year
	UsedShare float64  // of the heat of the use's months
	LCOH      float64  // per kWh delivered
	Ratio     float64  // of LCOH over heat from gas
	BreakEven float64  // gas price at which Ratio is 1, on the basis of the market's gas price
	Saving    float64  // per m² of receiver and year, levelised over the horizon
	Payback   *float64 // years; nil where the horizon ends before
	CO2       float64  // of gas not burnt, kg per m² of receiver and year, mean over the horizon
	Split     []Part   // of LCOH, in the order of the plan's items
}

// A Part is what one item of the plan adds to the levelised cost.
type Part struct {
	Item   string    `json:"item"`
	Unit   cost.Unit `json:"unit"` // empty for what every kWh costs
	PerKWh float64   `json:"per_kwh"`
}

// money works out design d, which must have heat, from the choice c at outlet
// o of block b.
func (p *prices) money(c *choice, b *result.Block, t *result.Table, o, d int, caps *[12]float64) (Money, error) {
	heat, lcoh := c.heat[d], c.lcoh[d]
	gas := &p.market.Gas
	m := Money{
		Heat: heat, UsedShare: heat / wanted(b.Months(t, o, d), caps),
		LCOH: lcoh, Ratio: gas.Ratio(lcoh), BreakEven: gas.BreakEvenPrice(lcoh), Saving: p.saving(lcoh, heat),
		CO2: heat * p.yearly * cost.CO2PerKWh / gas.BoilerEfficiency,
	}
	m.Split = p.split(c, d)
	var err error
	m.Payback, err = p.payback(b, t, o, d, heat)
	return m, err
}

// split parts the levelised cost of design d by item.
func (p *prices) split(c *choice, d int) []Part {
	plan := &p.market.Plan
	parts := make([]Part, len(plan.Items), len(plan.Items)+1)
	perPV := 1 / (c.heat[d] * p.perKWh)
	for k, it := range plan.Items {
		parts[k] = Part{it.Name, it.Unit, p.items[d][k] * perPV}
	}
	for i := range p.wearing {
		w := &p.wearing[i]
		for n, k := range w.items {
			parts[k].PerKWh += c.worn[i][d].extra * w.purchases[d][n] * perPV
		}
	}
	if plan.RunningPerKWh > 0 {
		parts = append(parts, Part{Item: "running, per kWh", PerKWh: plan.RunningPerKWh})
	}
	return parts
}

// payback is the first cost over what a year saves, the mean of the horizon:
// gas not bought, less running costs and what is bought again, all of it
// undiscounted and with the credit at the horizon.
func (p *prices) payback(b *result.Block, t *result.Table, o, d int, heat float64) (*float64, error) {
	plan := p.market.Plan
	if b.Stress != nil && len(p.wearing) > 0 {
		plan = plan.Worn(p.lives.Strain(b, t, o, d))
	}
	plan.DiscountRate = 0
	total, err := plan.PVCost(p.designs[d])
	if err != nil {
		return nil, err
	}
	years := float64(plan.HorizonYears)
	delivered := heat * p.yearly * years
	saved := (p.gasHeat-plan.RunningPerKWh)*delivered - (total - p.first[d])
	if !(saved > 0 && saved >= p.first[d]) {
		return nil, nil
	}
	return ptr(p.first[d] / (saved / years)), nil
}
