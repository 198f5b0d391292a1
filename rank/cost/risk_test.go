package cost

import (
	"errors"
	"math"
	"testing"

	"stillrow/rank/risk"
	"stillrow/simulate/result"
)

type steady float64

func (s steady) Heat([result.Params]float64) float64 { return float64(s) }

// At the likely value of every figure package risk's cost is the plan's, worn
// films, lives that do not divide the horizon and all; so is the tornado's base.
func TestRiskAtTheLikely(t *testing.T) {
	gas := Gas{PricePerKWh: 0.05, Basis: HigherHeatingValue, BoilerEfficiency: 0.8, BoilerRunningPerKWh: 0.004, CarbonPricePerKg: 0.1}
	model := risk.New(risk.Options{Draws: 100})
	filmed := everything
	filmed.Items = append([]Item(nil), everything.Items...)
	filmed.Items[0].Film, filmed.Items[1].Film = ClearFilm, MirrorFilm
	noInterest := filmed
	noInterest.DiscountRate = 0
	ranged := filmed
	ranged.Items = append([]Item(nil), filmed.Items...)
	ranged.Items[0].PriceRange, ranged.Items[1].LifeRange, ranged.DiscountRange = Range{3, 6}, Range{2, 4}, Range{0.05, 0.1}
	for _, tt := range []struct {
		name   string
		plan   Plan
		design result.Design
		heat   float64
	}{
		{"case A", caseA, square, 500}, {"case B", caseB, square, 400},
		{"everything", filmed, wide, 430}, {"no interest", noInterest, wide, 430}, {"ranges", ranged, wide, 430},
	} {
		for _, strain := range []map[Film]float64{nil, {ClearFilm: 1.7, BlackFilm: 3, MirrorFilm: 0.4}, {ClearFilm: 1e4, MirrorFilm: 1.01}} {
			worn := tt.plan.Worn(strain)
			want, err := worn.Levelise(tt.design, tt.heat)
			if err != nil {
				t.Fatal(err)
			}
			money := model.Money(tt.plan.Risk("here", &gas, Doubt{}))
			d, err := tt.plan.RiskDesign(tt.design, strain)
			if err != nil {
				t.Fatal(err)
			}
			if got := money.Likely(&d, tt.heat); !near(got, *want.LCOH, 1e-9) {
				t.Errorf("%s worn by %v: %v, want %v", tt.name, strain, got, *want.LCOH)
			}
			base, bars := model.Tornado(money, model.Site(risk.Site{}), &d, steady(tt.heat))
			if !near(base, *want.LCOH, 1e-9) || (len(bars) == 3) != (tt.name == "ranges") {
				t.Errorf("%s: base %v with %d bars, want %v", tt.name, base, len(bars), *want.LCOH)
			}
			// Nothing is in doubt but the ranges: each draw is the point.
			if s := model.Spread(money, model.Site(risk.Site{}), &d, steady(tt.heat)); tt.name != "ranges" && (!near(s.P10, *want.LCOH, 1e-9) || !near(s.P90, *want.LCOH, 1e-9)) {
				t.Errorf("%s: spread %+v, want %v", tt.name, s, *want.LCOH)
			}
		}
	}
	single := wide
	single.RowPitch = 0
	var key *KeyError
	if _, err := filmed.RiskDesign(single, nil); !errors.As(err, &key) {
		t.Errorf("ground without a pitch: %v", err)
	}
	// Heat from gas on the edge: certain either way.
	d, err := caseA.RiskDesign(square, nil)
	if err != nil {
		t.Fatal(err)
	}
	money := model.Money(caseA.Risk("here", &gas, Doubt{}))
	lcoh := money.Likely(&d, 1)
	for _, tt := range []struct{ heat, want float64 }{{lcoh / gas.HeatCost() * (1 + 1e-9), 1}, {lcoh / gas.HeatCost() * (1 - 1e-9), 0}} {
		if got := model.Spread(money, model.Site(risk.Site{}), &d, steady(tt.heat)).BeatsGas; got != tt.want {
			t.Errorf("heat of %v beats gas in %v, want %v", tt.heat, got, tt.want)
		}
	}
}

func TestRanges(t *testing.T) {
	for _, tt := range []struct {
		change func(*Plan, *Gas)
		want   string
	}{
		{func(p *Plan, _ *Gas) { p.Items[1].PriceRange = Range{3, 4} }, "cost.item[1].price.low = 3, want at most likely = 2.5"},
		{func(p *Plan, _ *Gas) { p.Items[1].PriceRange = Range{1, 2} }, "cost.item[1].price.high = 2, want at least likely = 2.5"},
		{func(p *Plan, _ *Gas) { p.Items[1].PriceRange = Range{-1, 4} }, "cost.item[1].price.low = -1, want a number from 0"},
		{func(p *Plan, _ *Gas) { p.Items[0].LifeRange = Range{0, 4} }, "cost.item[0].life_years.low = 0, want at least 0.01"},
		{func(p *Plan, _ *Gas) { p.Items[0].LabourRange = Range{0, math.Inf(1)} }, "cost.item[0].labour_h.high = +Inf, want a number from 0"},
		{func(p *Plan, _ *Gas) { p.DiscountRange = Range{0, 2} }, "cost.discount_rate.high = 2, want 0 to 1"},
		{func(p *Plan, _ *Gas) { p.DeliveredRange = Range{0, 1} }, "heat.delivered_share.low = 0, want above 0 and at most 1"},
		{func(_ *Plan, g *Gas) { g.PriceRange = Range{0.06, 0.07} }, "gas.price_per_kwh.low = 0.06, want at most likely = 0.05"},
		{func(_ *Plan, g *Gas) { g.EfficiencyRange = Range{0.7, 1.2} }, "gas.boiler_efficiency.high = 1.2, want above 0 and at most 1.109"},
	} {
		p, g := everything, Gas{PricePerKWh: 0.05, Basis: LowerHeatingValue, BoilerEfficiency: 0.8}
		p.Items = append([]Item(nil), everything.Items...)
		tt.change(&p, &g)
		err := p.Validate()
		if err == nil {
			err = g.Validate()
		}
		if err == nil || len(err.Error()) < len(tt.want) || err.Error()[:len(tt.want)] != tt.want {
			t.Errorf("%v, want %s", err, tt.want)
		}
	}
	worn := Plan{Items: []Item{{Film: ClearFilm, LifeYears: 4, LifeRange: Range{3, 6}}}}.Worn(map[Film]float64{ClearFilm: 2})
	if it := worn.Items[0]; it.LifeYears != 2 || it.LifeRange != (Range{1.5, 3}) {
		t.Errorf("worn life %v in %v", it.LifeYears, it.LifeRange)
	}
	if got := (Range{2, 4}).Times(1.5); got != (Range{3, 6}) {
		t.Errorf("range exchanged to %v", got)
	}
}

// The formula of IEA SHC Task 54 (Louvet et al. 2019, Solar Energy 193, 85–94)
// as published, without tax (TR = 0, so no depreciation) and subsidy (S0 = 0):
// [I0 − S0 + Σ (C_t(1−TR) − DEP_t·TR − S_t − RV)(1+r)^−t] / Σ E_t(1+r)^−t with the
// residual value RV in the last year alone. The numbers are invented.
func TestTask54(t *testing.T) {
	const r, years = 0.03, 20
	p := Plan{
		Items: []Item{
			{Name: "collector", Unit: ReceiverM2, Price: 80, LifeYears: 25, RunningPerYear: 1.5},
			{Name: "film", Unit: ReceiverM2, Price: 6, LifeYears: 5},
		},
		HorizonYears: years, DiscountRate: r, DeliveredShare: 1,
	}
	cost, heat := 80.0+6, 0.0 // I0
	for year := 1; year <= years; year++ {
		c, rv := 1.5, 0.0
		if year%5 == 0 && year < years {
			c += 6
		}
		if year == years {
			rv = 80. * 5 / 25
		}
		cost += (c - rv) * math.Pow(1+r, -float64(year))
		heat += 450 * math.Pow(1+r, -float64(year))
	}
	l, err := p.Levelise(square, 450)
	if err != nil {
		t.Fatal(err)
	}
	if !near(*l.LCOH, cost/heat, 1e-12) {
		t.Errorf("LCOH %v, the published formula gives %v", *l.LCOH, cost/heat)
	}
}
