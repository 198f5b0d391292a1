package cost

import (
	"slices"

	"stillrow/rank/risk"
	"stillrow/simulate/result"
)

// Doubt is what is not known of prices beyond the ranges of plan and gas.
type Doubt struct {
	Correlation float64 // 0 to 1, between what the items of a plan cost
	GasSpread   float64 // relative standard deviation of a gas price that has no range
}

var (
	units = []Unit{ReceiverM2, MirrorM2, RowM, GroundM2, WholeSite}
	films = []Film{ClearFilm, BlackFilm, MirrorFilm}
)

func (r Range) about(likely float64) risk.Range {
	return risk.Range{Low: r.Low, Likely: likely, High: r.High}
}

// Risk gives a valid plan, with rated lives, and the gas it is set against as
// package risk takes them. All markets of one name share their draws.
func (p *Plan) Risk(name string, g *Gas, doubt Doubt) risk.Market {
	m := risk.Market{
		Name: name, Horizon: p.HorizonYears, Correlation: doubt.Correlation,
		Discount: p.DiscountRange.about(p.DiscountRate), Fade: p.FadeRange.about(p.Fade), Labour: p.LabourRange.about(p.LabourPerH),
		Delivered: p.DeliveredRange.about(p.DeliveredShare), PerKWh: p.RunningRange.about(p.RunningPerKWh),
		Gas: risk.Gas{
			Price:    risk.Price{Range: g.PriceRange.about(g.PricePerKWh), Spread: doubt.GasSpread},
			PerLower: g.perLower(), Efficiency: g.EfficiencyRange.about(g.BoilerEfficiency),
			Running: g.RunningRange.about(g.BoilerRunningPerKWh), Carbon: g.CarbonRange.about(g.CarbonPricePerKg), CO2: CO2PerKWh,
		},
	}
	for _, it := range p.Items {
		m.Items = append(m.Items, risk.Item{
			Name: it.Name, Unit: slices.Index(units, it.Unit), Film: slices.Index(films, it.Film),
			Price: it.PriceRange.about(it.Price), LabourH: it.LabourRange.about(it.LabourH),
			Life: it.LifeRange.about(it.LifeYears), Running: it.RunningRange.about(it.RunningPerYear),
		})
	}
	return m
}

// RiskDesign gives a design, and the strain of its films at a place, as package
// risk takes them. The error is about an item that has no meaning for it.
func (p *Plan) RiskDesign(d result.Design, strain map[Film]float64) (risk.Design, error) {
	var out risk.Design
	for i, it := range p.Items {
		n, err := p.count(i, d)
		if err != nil {
			return out, err
		}
		out.Per[slices.Index(units, it.Unit)] = n
	}
	for i, film := range films {
		out.Strain[i] = strain[film]
	}
	return out, nil
}
