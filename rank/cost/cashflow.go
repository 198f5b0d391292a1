package cost

import (
	"cmp"
	"slices"

	"stillrow/simulate/result"
)

// A Payment is everything that falls on one date, per m² of receiver and not
// discounted.
type Payment struct {
	Year float64 `json:"year"`     // from the start; not whole where an item is replaced inside a year
	Cost float64 `json:"cost"`     // what is left of the items at the horizon counts negative
	Heat float64 `json:"heat_kwh"` // delivered in the year that ends here
}

// A Levelised cost with what it was made from, per m² of receiver.
type Levelised struct {
	LCOH     *float64  `json:"lcoh_per_kwh"` // nil without heat
	PVCost   float64   `json:"pv_cost"`
	PVHeat   float64   `json:"pv_heat_kwh"` // delivered
	CashFlow []Payment `json:"cash_flow"`   // one entry per date, in order
}

// Levelise works out the levelised cost of design d under a valid plan when
// its receiver yields heat, in kWh/m², in the first year.
func (p *Plan) Levelise(d result.Design, heat float64) (Levelised, error) {
	pvCost, err := p.PVCost(d)
	if err != nil {
		return Levelised{}, err
	}
	l := Levelised{PVHeat: p.PVHeat(heat)}
	l.PVCost = pvCost + p.RunningPerKWh*l.PVHeat
	if l.PVHeat > 0 {
		lcoh := p.LCOH(pvCost, l.PVHeat)
		l.LCOH = &lcoh
	}
	l.CashFlow, err = p.cashFlow(d, heat)
	return l, err
}

// sameDate is how far apart, in years, multiples of different lives may lie and
// still be one date: three times 1.4 falls just short of six times 0.7.
const sameDate = 1e-9

func (p *Plan) cashFlow(d result.Design, heat float64) ([]Payment, error) {
	var flow []Payment
	end := float64(p.HorizonYears)
	running := 0.0
	for i, it := range p.Items {
		n, err := p.count(i, d)
		if err != nil {
			return nil, err
		}
		price := n * (it.Price + it.LabourH*p.LabourPerH)
		times, left := purchases(it.LifeYears, p.HorizonYears)
		for _, t := range times {
			flow = append(flow, Payment{Year: t, Cost: price})
		}
		flow = append(flow, Payment{Year: end, Cost: -left * price})
		running += n * it.RunningPerYear
	}
	delivered := heat * p.DeliveredShare
	for t := 1; t <= p.HorizonYears; t++ {
		flow = append(flow, Payment{float64(t), running + p.RunningPerKWh*delivered, delivered})
		delivered *= 1 - p.Fade
	}
	slices.SortStableFunc(flow, func(a, b Payment) int { return cmp.Compare(a.Year, b.Year) })
	dates := flow[:1]
	for _, f := range flow[1:] {
		last := &dates[len(dates)-1]
		if f.Year-last.Year > sameDate {
			dates = append(dates, f)
			continue
		}
		last.Year = f.Year // the later: a whole year where the other fell just short of it
		last.Cost += f.Cost
		last.Heat += f.Heat
	}
	return dates, nil
}
