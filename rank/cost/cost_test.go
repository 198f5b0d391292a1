package cost

import (
	"encoding/json"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stillrow/simulate/result"
)

func near(got, want, relative float64) bool { return math.Abs(got-want) <= relative*math.Abs(want) }

// The two worked cases: 100 per m² with 2 a year, and 30 per m² of which film
// and mirror are replaced when due. Values to the digits they are known to,
// computed apart from this program with the formulas of Louvet et al. 2019.
var (
	caseA = Plan{
		Items:        []Item{{Name: "all", Unit: ReceiverM2, Price: 100, LifeYears: 20, RunningPerYear: 2}},
		HorizonYears: 20, DiscountRate: 0.05, DeliveredShare: 1,
	}
	caseB = Plan{
		Items: []Item{
			{Name: "film", Unit: ReceiverM2, Price: 5, LifeYears: 4, Film: ClearFilm},
			{Name: "mirror", Unit: MirrorM2, Price: 3, LifeYears: 5, Film: MirrorFilm},
			{Name: "rest", Unit: ReceiverM2, Price: 22, LifeYears: 20, RunningPerYear: 1},
		},
		HorizonYears: 20, DiscountRate: 0.05, DeliveredShare: 1,
	}
	square = result.Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 60} // 1 m² of mirror per m² of receiver
)

func TestWorkedCases(t *testing.T) {
	for _, tt := range []struct {
		name                  string
		plan                  Plan
		heat                  float64
		pvCost, pvHeat, lcoh  float64
		tolCost, tolHeat, tol float64 // half a unit of the last digit
	}{
		{"A", caseA, 500, 124.924, 6231.11, 0.020049, 5e-4, 5e-3, 5e-7},
		{"B", caseB, 400, 48.2078 + 12.4622, 4984.88, 0.0121708, 1e-4, 5e-3, 5e-8},
	} {
		l, err := tt.plan.Levelise(square, tt.heat)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(l.PVCost-tt.pvCost) > tt.tolCost || math.Abs(l.PVHeat-tt.pvHeat) > tt.tolHeat || math.Abs(*l.LCOH-tt.lcoh) > tt.tol {
			t.Errorf("case %s: PV cost %v, PV heat %v, LCOH %v; want %v, %v, %v", tt.name, l.PVCost, l.PVHeat, *l.LCOH, tt.pvCost, tt.pvHeat, tt.lcoh)
		}
	}
}

// Case B by annuities, Σ c·CRF(i, life): the same where lives divide the horizon.
func TestAnnuitiesGiveCaseB(t *testing.T) {
	const i = 0.05
	want := (5*CRF(4, i) + 3*CRF(5, i) + 22*CRF(20, i) + 1) / 400
	l, err := caseB.Levelise(square, 400)
	if err != nil {
		t.Fatal(err)
	}
	if !near(*l.LCOH, want, 1e-12) {
		t.Errorf("LCOH %v, by annuities %v", *l.LCOH, want)
	}
}

// everything uses each unit, labour, fade, losses and lives that do not divide
// the horizon.
var everything = Plan{
	Items: []Item{
		{Name: "film", Unit: ReceiverM2, Price: 4, LabourH: 0.1, LifeYears: 3.7, RunningPerYear: 0.2},
		{Name: "mirror film", Unit: MirrorM2, Price: 2.5, LabourH: 0.05, LifeYears: 2.5},
		{Name: "posts", Unit: RowM, Price: 6, LabourH: 0.2, LifeYears: 30},
		{Name: "land", Unit: GroundM2, Price: 1, LifeYears: 100, RunningPerYear: 0.05},
		{Name: "pump", Unit: WholeSite, Price: 2000, LabourH: 16, LifeYears: 7, RunningPerYear: 150},
	},
	HorizonYears: 20, DiscountRate: 0.07, Fade: 0.01, LabourPerH: 15, SiteReceiverM2: 800, DeliveredShare: 0.9, RunningPerKWh: 0.001,
}

var wide = result.Design{ReceiverWidth: 1.5, MirrorLength: 1.2, MirrorTilt: 65, RowPitch: 4}

// The levelised cost against a cash flow put together here, item by item and
// date by date, without any function of the package: 1e-9 relative.
func TestAgainstCashFlowSummation(t *testing.T) {
	for _, tt := range []struct {
		name   string
		plan   Plan
		design result.Design
		heat   float64
		units  []float64 // per m² of receiver, by hand
	}{
		{"case A", caseA, square, 500, []float64{1}},
		{"case B", caseB, square, 400, []float64{1, 1, 1}},
		{"everything", everything, wide, 430, []float64{1, 0.8, 1 / 1.5, 4 / 1.5, 1.0 / 800}},
	} {
		p := tt.plan
		n := float64(p.HorizonYears)
		cost, heat := 0.0, 0.0
		for i, it := range p.Items {
			price := tt.units[i] * (it.Price + it.LabourH*p.LabourPerH)
			bought := 0.0
			for t := 0.0; t < n; t += it.LifeYears { // none of these sums lands within rounding of n unless it is n
				cost += price * math.Exp(-t*math.Log(1+p.DiscountRate))
				bought = t
			}
			if expires := bought + it.LifeYears; expires > n {
				cost -= price * (expires - n) / it.LifeYears * math.Exp(-n*math.Log(1+p.DiscountRate))
			}
			for y := 1; y <= p.HorizonYears; y++ {
				cost += tt.units[i] * it.RunningPerYear / math.Pow(1+p.DiscountRate, float64(y))
			}
		}
		for y := 1; y <= p.HorizonYears; y++ {
			q := tt.heat * p.DeliveredShare * math.Pow(1-p.Fade, float64(y-1)) / math.Pow(1+p.DiscountRate, float64(y))
			heat += q
			cost += q * p.RunningPerKWh
		}
		l, err := p.Levelise(tt.design, tt.heat)
		if err != nil {
			t.Fatal(err)
		}
		if !near(l.PVCost, cost, 1e-9) || !near(l.PVHeat, heat, 1e-9) || !near(*l.LCOH, cost/heat, 1e-9) {
			t.Errorf("%s: PV cost %v, PV heat %v, LCOH %v; the cash flow gives %v, %v, %v", tt.name, l.PVCost, l.PVHeat, *l.LCOH, cost, heat, cost/heat)
		}
		// The cash flow that is handed out must tell the same.
		cost, heat = 0, 0
		for _, f := range l.CashFlow {
			cost += f.Cost * math.Pow(1+p.DiscountRate, -f.Year)
			heat += f.Heat * math.Pow(1+p.DiscountRate, -f.Year)
		}
		if !near(cost, l.PVCost, 1e-9) || !near(heat, l.PVHeat, 1e-9) {
			t.Errorf("%s: the cash flow handed out gives %v and %v kWh, want %v and %v", tt.name, cost, heat, l.PVCost, l.PVHeat)
		}
	}
}

// Film of 10 per m² that lasts 1.5 years, over 4 years at 0 %: bought at 0,
// 1.5 and 3; the last, bought at 3, has half a year of 1.5 left at 4.
func TestCashFlowOfFractionalLife(t *testing.T) {
	p := Plan{
		Items:        []Item{{Unit: ReceiverM2, Price: 7, LabourH: 0.2, LifeYears: 1.5, RunningPerYear: 1}},
		HorizonYears: 4, LabourPerH: 15, Fade: 0.1, DeliveredShare: 0.5,
	}
	l, err := p.Levelise(square, 200)
	if err != nil {
		t.Fatal(err)
	}
	want := []Payment{{0, 10, 0}, {1, 1, 100}, {1.5, 10, 0}, {2, 1, 90}, {3, 11, 81}, {4, 1 - 10./3, 72.9}}
	if d := cmp.Diff(want, l.CashFlow, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	if !near(l.PVCost, 34-10./3, 1e-12) {
		t.Errorf("PV cost %v, want %v", l.PVCost, 34-10./3)
	}
}

func TestPurchases(t *testing.T) {
	for _, tt := range []struct {
		name    string
		life    float64
		horizon int
		times   []float64
		left    float64
	}{
		{"a life that divides the horizon is not bought at its end", 5, 20, []float64{0, 5, 10, 15}, 0},
		{"longer than the horizon", 30, 20, []float64{0}, 1. / 3},
		{"as long as the horizon", 20, 20, []float64{0}, 0},
		{"a remainder", 8, 20, []float64{0, 8, 16}, 0.5},
		{"3·1.1 is a little above 3.3 in binary; 10·1.1 is year 11", 1.1, 11, []float64{0, 1.1, 2.2, 3.3, 4.4, 5.5, 6.6, 7.7, 8.8, 9.9}, 0},
		{"3·⅓ is year 1", 1. / 3, 1, []float64{0, 1. / 3, 2. / 3}, 0},
		{"eight of 0.7 years, the last with six tenths left over", 0.7, 5, []float64{0, 0.7, 1.4, 2.1, 2.8, 3.5, 4.2, 4.9}, 0.6 / 0.7},
	} {
		times, left := purchases(tt.life, tt.horizon)
		if d := cmp.Diff(tt.times, times, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })); d != "" {
			t.Errorf("%s: -want +got:\n%s", tt.name, d)
		}
		if math.Abs(left-tt.left) > 1e-9 {
			t.Errorf("%s: share left %v, want %v", tt.name, left, tt.left)
		}
	}
}

// i(1+i)^n/((1+i)^n−1) to five digits, as compound interest tables print it.
func TestCapitalRecoveryFactor(t *testing.T) {
	years := []int{3, 5, 10, 20, 25}
	for _, row := range []struct {
		rate float64
		want [5]float64
	}{
		{0.03, [5]float64{.35353, .21835, .11723, .06722, .05743}},
		{0.05, [5]float64{.36721, .23097, .12950, .08024, .07095}},
		{0.07, [5]float64{.38105, .24389, .14238, .09439, .08581}},
		{0.08, [5]float64{.38803, .25046, .14903, .10185, .09368}},
		{0.10, [5]float64{.40211, .26380, .16275, .11746, .11017}},
	} {
		for i, n := range years {
			if got := CRF(n, row.rate); math.Abs(got-row.want[i]) > 5.01e-6 {
				t.Errorf("CRF(%d, %g) = %.6f, want %.5f", n, row.rate, got, row.want[i])
			}
		}
	}
	if got := CRF(20, 0); !near(got, 0.05, 1e-14) {
		t.Errorf("CRF(20, 0) = %v, want 1/20", got)
	}
}

// Present worth factors PWF(N, i, d) = [1−((1+i)/(1+d))^N]/(d−i) of Duffie and
// Beckman, Solar Engineering of Thermal Processes, chapter "Economics".
func TestPresentWorthFactor(t *testing.T) {
	for _, tt := range []struct {
		n          int
		i, d, want float64
	}{
		{20, 0.02, 0.05, 14.6654},
		{10, 0, 0.08, 6.7101},
	} {
		if got := PVFactor(tt.n, tt.d, -tt.i); math.Abs(got-tt.want) > 5e-5 {
			t.Errorf("PWF(%d, %g, %g) = %v, want %v", tt.n, tt.i, tt.d, got, tt.want)
		}
	}
	// A price that rises 2 % a year, levelised at 5 % over 20 years: ×1.1768.
	if got := PVFactor(20, 0.05, -0.02) * CRF(20, 0.05); math.Abs(got-1.1768) > 5e-5 {
		t.Errorf("levelising factor %v, want 1.1768", got)
	}
}

// The closed forms are the sums they stand for, near a ratio of one too.
func TestClosedForms(t *testing.T) {
	for _, n := range []int{1, 2, 20, 100} {
		for _, d := range []float64{0, 1e-12, 1e-6, 0.05, 1} {
			for _, fade := range []float64{0, 1e-12, 0.005, 0.9, 1, -d, -d + 1e-9} {
				want := 0.0
				for t := 1; t <= n; t++ {
					want += math.Pow(1-fade, float64(t-1)) * math.Pow(1+d, -float64(t))
				}
				if got := PVFactor(n, d, fade); !near(got, want, 1e-12) {
					t.Errorf("%d years at %g with a fade of %g: %v, want %v", n, d, fade, got, want)
				}
			}
			for _, life := range []float64{0.01, 0.7, 1, 1.1, 2.5, 3, 7, 33, 200} {
				p := Plan{HorizonYears: n, DiscountRate: d}
				times, left := purchases(life, n)
				want := -left * math.Pow(1+d, -float64(n))
				for _, at := range times {
					want += math.Pow(1+d, -at)
				}
				if got := p.PVPurchases(life); !near(got, want, 1e-12) {
					t.Errorf("life %g over %d years at %g: %v, want %v", life, n, d, got, want)
				}
			}
		}
	}
}

func TestWornFilmIsReplacedEarlier(t *testing.T) {
	worn := caseB.Worn(map[Film]float64{ClearFilm: 2, MirrorFilm: 0.9})
	if worn.Items[0].LifeYears != 2 || worn.Items[1].LifeYears != 5 || worn.Items[2].LifeYears != 20 {
		t.Errorf("lives %v, %v, %v; want 2 (worn), 5 (rated), 20 (no film)", worn.Items[0].LifeYears, worn.Items[1].LifeYears, worn.Items[2].LifeYears)
	}
	if caseB.Items[0].LifeYears != 4 {
		t.Error("Worn changed the plan it was called on")
	}
}

func TestNoHeatHasNoCostPerKWh(t *testing.T) {
	l, err := caseA.Levelise(square, 0)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(l)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(text), `"lcoh_per_kwh":null`) {
		t.Errorf("%s: want a null levelised cost", text)
	}
}

func TestRefusals(t *testing.T) {
	item := func(change func(*Item)) Plan {
		p := everything
		p.Items = append([]Item(nil), everything.Items...)
		change(&p.Items[2])
		return p
	}
	plan := func(change func(*Plan)) Plan {
		p := everything
		change(&p)
		return p
	}
	for _, tt := range []struct {
		plan Plan
		want string
	}{
		{item(func(it *Item) { it.LifeYears = -1 }), "cost.item[2].life_years = -1, want above 0"},
		{item(func(it *Item) { it.LifeYears = math.NaN() }), "cost.item[2].life_years = NaN, want above 0"},
		{item(func(it *Item) { it.LifeYears = 1e-6 }), "cost.item[2].life_years = 1e-06, want at least 0.01"},
		{item(func(it *Item) { it.Unit = "m2" }), `cost.item[2].unit = "m2", want receiver_m2, mirror_m2, row_m, ground_m2 or site`},
		{item(func(it *Item) { it.Film = "green" }), `cost.item[2].film = "green", want clear, black or mirror`},
		{item(func(it *Item) { it.Price = -2 }), "cost.item[2].price = -2, want a number from 0"},
		{item(func(it *Item) { it.LabourH = math.Inf(1) }), "cost.item[2].labour_h = +Inf, want a number from 0"},
		{item(func(it *Item) { it.RunningPerYear = math.NaN() }), "cost.item[2].running_per_year = NaN, want a number from 0"},
		{plan(func(p *Plan) { p.HorizonYears = 0 }), "cost.horizon_years = 0, want 1 to 100"},
		{plan(func(p *Plan) { p.DiscountRate = 5 }), "cost.discount_rate = 5, want 0 to 1"},
		{plan(func(p *Plan) { p.Fade = 1 }), "cost.fade = 1, want 0 to below 1"},
		{plan(func(p *Plan) { p.DeliveredShare = 0 }), "heat.delivered_share = 0, want above 0 and at most 1"},
		{plan(func(p *Plan) { p.SiteReceiverM2 = 0 }), "cost.site_receiver_m2 = 0, want above 0: cost.item[4].unit is site"},
		{plan(func(p *Plan) { p.Items = nil }), "cost.item = [], want at least one"},
	} {
		err := tt.plan.Validate()
		var key *KeyError
		if !errors.As(err, &key) || err.Error() != tt.want {
			t.Errorf("error %v, want a *KeyError %q", err, tt.want)
		}
	}
	if err := everything.Validate(); err != nil {
		t.Errorf("a good plan: %v", err)
	}
	single := wide
	single.RowPitch = 0
	if _, err := everything.PVCost(single); err == nil || !strings.Contains(err.Error(), `cost.item[3].unit = "ground_m2"`) {
		t.Errorf("ground without a pitch: %v, want an error that names cost.item[3].unit", err)
	}
}

// Gas heat as price/efficiency from Eurostat: non-household gas of the EU,
// second half of 2024, 6.24 cent/kWh in a boiler of 0.90, gives 0.0693.
func TestGas(t *testing.T) {
	g := Gas{PricePerKWh: 0.0624, Basis: LowerHeatingValue, BoilerEfficiency: 0.9}
	if got := g.HeatCost(); math.Abs(got-0.0693) > 5e-5 {
		t.Errorf("gas heat %v, want 0.0693", got)
	}
	// 56.1 kg/GJ is 0.2020 kg/kWh, 0.224 kg per kWh of heat at 90 %.
	if math.Abs(CO2PerKWh-56.1*0.0036) > 1e-12 {
		t.Errorf("CO2 %v kg/kWh, want 56.1 kg/GJ", CO2PerKWh)
	}
	g = Gas{PricePerKWh: 0.05, Basis: HigherHeatingValue, BoilerEfficiency: 0.8, BoilerRunningPerKWh: 0.004, CarbonPricePerKg: 0.1}
	want := 0.05*1.109/0.8 + 0.004 + 0.1*0.20196/0.8
	if got := g.HeatCost(); !near(got, want, 1e-12) {
		t.Errorf("gas heat %v, want %v", got, want)
	}
	for _, basis := range []Basis{LowerHeatingValue, HigherHeatingValue} {
		g.Basis = basis
		at := g
		at.PricePerKWh = g.BreakEvenPrice(0.09)
		if got := at.Ratio(0.09); !near(got, 1, 1e-12) {
			t.Errorf("%s: ratio %v at the break-even price, want 1", basis, got)
		}
	}
	for _, tt := range []struct {
		change func(*Gas)
		want   string
	}{
		{func(g *Gas) { g.PricePerKWh = 0 }, "gas.price_per_kwh = 0, want above 0"},
		{func(g *Gas) { g.Basis = "gcv" }, `gas.basis = "gcv", want lhv or hhv`},
		{func(g *Gas) { g.BoilerEfficiency = 90 }, "gas.boiler_efficiency = 90, want above 0 and at most 1.109"},
		{func(g *Gas) { g.BoilerRunningPerKWh = -1 }, "gas.boiler_running_per_kwh = -1, want"},
		{func(g *Gas) { g.CarbonPricePerKg = math.NaN() }, "gas.carbon_price_per_kg = NaN, want"},
	} {
		bad := g
		tt.change(&bad)
		if err := bad.Validate(); err == nil || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("error %v, want %q", err, tt.want)
		}
	}
	if err := g.Validate(); err != nil {
		t.Errorf("a good gas section: %v", err)
	}
}

// Multiples of different lives that meet on one date are one entry.
func TestOneEntryPerDate(t *testing.T) {
	p := Plan{
		Items:        []Item{{Unit: ReceiverM2, Price: 1, LifeYears: 1.4}, {Unit: ReceiverM2, Price: 2, LifeYears: 0.7}},
		HorizonYears: 7, DeliveredShare: 1,
	}
	l, err := p.Levelise(square, 100)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range l.CashFlow[1:] {
		if f.Year-l.CashFlow[i].Year < 1e-6 {
			t.Errorf("two entries for one date: %v and %v", l.CashFlow[i].Year, f.Year)
		}
	}
}

// Fisher: (1+nominal) = (1+real)(1+inflation). 7 % nominal and 2 % inflation are
// 4.902 % real; real 5 % and 3 % are 8.15 % nominal. Payments that rise with
// inflation, discounted at the nominal rate, are worth what level ones are at
// the real rate.
func TestFisher(t *testing.T) {
	for _, tt := range []struct{ nominal, inflation, real, tolerance float64 }{
		{0.07, 0.02, 0.04902, 5e-6},
		{0.0815, 0.03, 0.05, 1e-12},
	} {
		nominal := (1 + tt.inflation) * PVFactor(20, tt.nominal, -tt.inflation)
		at := func(real float64) float64 { return PVFactor(20, real, 0) }
		slope := (at(tt.real) - at(tt.real+1e-6)) / 1e-6
		if math.Abs(nominal-at(tt.real)) > tt.tolerance*slope+1e-9 {
			t.Errorf("%g nominal with %g inflation: %v, at %g real %v", tt.nominal, tt.inflation, nominal, tt.real, at(tt.real))
		}
	}
}
