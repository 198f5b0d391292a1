package rank

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// moneyOf is what the best design of a site comes to, for the first use.
func moneyOf(t *testing.T, o Options, b *result.Block) Money {
	t.Helper()
	picks, err := Picks(o, b)
	if err != nil {
		t.Fatal(err)
	}
	m, err := picks[0].Money(picks[0].Best)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Natural gas gives 56.1 kg of CO2 per GJ, lower heating value: IPCC 2006
// Guidelines for National Greenhouse Gas Inventories, volume 2, table 2.2; that
// is 0.2020 kg/kWh, and at an efficiency of 90 % 0.224 kg per kWh of heat. A
// price on the higher heating value changes nothing.
func TestCO2Avoided(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
	o.Markets[0].Gas.Basis = cost.HigherHeatingValue
	if got, want := moneyOf(t, o, flat("x", 10, 1000)).CO2, 1000*56.1*0.0036/0.9; math.Abs(got-want) > 1e-6*want || math.Abs(got-224) > 0.5 {
		t.Errorf("%g kg, want %g", got, want)
	}
	// Half delivered, fading by a tenth a year for three years: (1 + 0.9 + 0.81)/3.
	p := &o.Markets[0].Plan
	p.DeliveredShare, p.Fade, p.HorizonYears = 0.5, 0.1, 3
	if got, want := moneyOf(t, o, flat("x", 10, 1000)).CO2, 500*2.71/3*0.20196/0.9; math.Abs(got-want) > 1e-6*want {
		t.Errorf("%g kg, want %g", got, want)
	}
}

// A heater of 20 saves 8 a year (100 kWh at 0.1, less 2 for running): 2.5 years.
// With a film of 5 bought again in year 5 of 10 it is 25 at first, saves 7.5 a
// year and pays back in 25/7.5. One that saves less than it costs never does.
func TestPayback(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
	p := &o.Markets[0].Plan
	p.DiscountRate = 0.08 // counts for nothing
	p.Items = []cost.Item{{Name: "receiver", Unit: cost.ReceiverM2, Price: 20, LifeYears: 10, RunningPerYear: 2}}
	for _, tt := range []struct{ heat, want float64 }{{100, 2.5}, {45, 8}, {39, 0}, {10, 0}} {
		m := moneyOf(t, o, flat("x", 10, tt.heat))
		switch {
		case tt.want == 0 && m.Payback != nil:
			t.Errorf("%g kWh pay back in %g years, want never", tt.heat, *m.Payback)
		case tt.want > 0 && (m.Payback == nil || math.Abs(*m.Payback-tt.want) > 1e-6):
			t.Errorf("%g kWh pay back in %v years, want %g", tt.heat, m.Payback, tt.want)
		}
	}
	p.Items = append(p.Items, cost.Item{Name: "film", Unit: cost.ReceiverM2, Price: 5, LifeYears: 5})
	if m := moneyOf(t, o, flat("x", 10, 100)); math.Abs(*m.Payback-25/7.5) > 1e-6 {
		t.Errorf("%g years, want %g", *m.Payback, 25/7.5)
	}
}

// The parts are those of the items priced one by one, worn films included, and
// add up to the levelised cost.
func TestSplit(t *testing.T) {
	o := handOptions(t, []result.Design{{ReceiverWidth: 1.2, MirrorLength: 0.9, MirrorTilt: 80, RowPitch: 3}}, wholeYear)
	o.Table.Stress = true
	o.Lives = Lives{cost.ClearFilm: {UV: 100, Warm: 8000}, cost.MirrorFilm: {UV: 100, Warm: 8000}}
	p := &o.Markets[0].Plan
	*p = cost.Plan{HorizonYears: 20, DiscountRate: 0.05, Fade: 0.01, LabourPerH: 15, SiteReceiverM2: 1000, DeliveredShare: 0.9, RunningPerKWh: 0.001}
	for i, it := range []cost.Item{
		{Unit: cost.ReceiverM2, Film: cost.ClearFilm, LifeYears: 3}, {Unit: cost.ReceiverM2, Film: cost.ClearFilm, LifeYears: 5},
		{Unit: cost.ReceiverM2, Film: cost.ClearFilm, LifeYears: 3}, {Unit: cost.MirrorM2, Film: cost.MirrorFilm, LifeYears: 2},
		{Unit: cost.ReceiverM2, Film: cost.BlackFilm, LifeYears: 6}, // no lives are stated for it
		{Unit: cost.RowM, LifeYears: 8}, {Unit: cost.GroundM2, LifeYears: 50}, {Unit: cost.WholeSite, LifeYears: 12},
	} {
		it.Name, it.Price, it.LabourH, it.RunningPerYear = fmt.Sprint("item ", i), float64(i+1), 0.1, 0.02
		p.Items = append(p.Items, it)
	}
	b := flat("x", 40, 500)
	b.Stress = make([]float32, result.Stresses)
	b.Stress[result.UVClear], b.Stress[result.UVMirror], b.Stress[result.WarmReceiver] = 170, 130, 1000
	m := moneyOf(t, o, b)
	worn := p.Worn(map[cost.Film]float64{cost.ClearFilm: 1.7, cost.MirrorFilm: 1.3, cost.BlackFilm: 0})
	sum, groups := 0.0, map[cost.Unit]float64{}
	for i, part := range m.Split {
		sum += part.PerKWh
		groups[part.Unit] += part.PerKWh
		if i == len(p.Items) {
			if part.PerKWh != 0.001 {
				t.Errorf("running: %+v", part)
			}
			continue
		}
		one := worn
		one.Items = worn.Items[i : i+1]
		pv, err := one.PVCost(o.Table.Designs[0])
		if err != nil {
			t.Fatal(err)
		}
		if want := pv / p.PVHeat(500); math.Abs(part.PerKWh-want) > 1e-6*want || part.Item != p.Items[i].Name {
			t.Errorf("%+v, want %g of %s", part, want, p.Items[i].Name)
		}
	}
	l, err := worn.Levelise(o.Table.Designs[0], 500)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(sum-m.LCOH) > 1e-12 || math.Abs(m.LCOH-*l.LCOH) > 1e-6**l.LCOH { // months are single precision
		t.Errorf("the parts add up to %g, the cost is %g, by the cash flow %g", sum, m.LCOH, *l.LCOH)
	}
	r := rowAt(t, o, b)
	for i, v := range []*float64{r.OfReceiver, r.OfMirror, r.OfRow, r.OfGround, r.OfSite, r.OfKWh} {
		if want := groups[splitUnits[i]]; want <= 0 || math.Abs(*v-want) > 1e-15 {
			t.Errorf("group %q: %g, want %g", splitUnits[i], *v, want)
		}
	}
}

// Five designs of one site, gas heat at 0.1 (LCOH, saving):
//
//	0: 100 kWh for 10 (0.01, 9)      3: 170 for 22 (0.01294, 14.8)
//	1: 120 for 14 (0.01167, 10.6)    4: 172 for 42 (0.02442, 13)
//	2: 140 for 18 (0.01286, 12.2)
func TestRankedBy(t *testing.T) {
	designs := []result.Design{mirror(0, 60), mirror(1, 60), mirror(2, 60), mirror(3, 60), mirror(8, 60)}
	for _, tt := range []struct {
		by           By
		cap          float64
		best, second int
		reason       string
	}{
		{"", 0, 0, 1, ""}, {ByLCOH, 0, 0, 1, ""}, {BySaving, 0, 3, 4, ""},
		{ByHeat, 0.5, 4, 3, ""}, {ByHeat, 0.013, 3, 2, ""}, {ByHeat, 0.0129, 2, 1, ""}, {ByHeat, 0.0101, 0, -1, ""},
		{ByHeat, 0.009, -1, -1, overCap},
	} {
		o := handOptions(t, designs, wholeYear)
		o.By, o.CostCap = tt.by, tt.cap
		c := decide(t, o, flat("x", 10, 100, 120, 140, 170, 172))
		if c.best != tt.best || c.second != tt.second || c.reason != tt.reason {
			t.Errorf("by %q, cap %g: design %d, then %d (%q); want %d, then %d (%q)", tt.by, tt.cap, c.best, c.second, c.reason, tt.best, tt.second, tt.reason)
		}
	}
	o := handOptions(t, designs, wholeYear)
	o.By = BySaving
	r := rowAt(t, o, flat("x", 10, 100, 120, 140, 170, 172))
	if math.Abs(*r.Saving-14.8) > 1e-5 || math.Abs(*r.SecondSaving-13) > 1e-5 || math.Abs(*r.SecondHeat-172) > 1e-4 || math.Abs(*r.SecondExtra-100*(42./172*170/22-1)) > 1e-5 {
		t.Errorf("saving %g, runner-up %g at %+g %%", *r.Saving, *r.SecondSaving, *r.SecondExtra)
	}
	// Where no design keeps to the cap, rows, bands and the summary say so.
	o.By, o.CostCap = ByHeat, 0.009
	s := summarise(t, o, flat("x", 10, 100, 120, 140, 170, 172), flat("dark", 10, 0, 0, 0, 0, 0), flat("sunny", 10, 200, 200, 200, 200, 200))
	if got := s.Results[0]; got.OverCap != 1 || got.NoHeat != 1 || got.Bands[0].OverCap != 1 || got.Bands[0].NoHeat != 1 || *got.Bands[0].DesignID != 0 {
		t.Errorf("%+v", got)
	}
	if r := rowAt(t, o, flat("x", 10, 100, 120, 140, 170, 172)); r.LCOH != nil || *r.Without != "over the cost cap" {
		t.Errorf("row %+v", r)
	}
}

// Two sites; gas heat at 0.1. Design 0 gives the cheapest heat at both, design 2
// saves most (17.2 and 16 a year) and gives most.
func TestBandsGoByTheSameMeasure(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 60), mirror(1, 70)}, wholeYear)
	for _, tt := range []struct {
		by   By
		cap  float64
		want int
	}{{ByLCOH, 0, 0}, {BySaving, 0, 2}, {ByHeat, 1, 2}} {
		o.By, o.CostCap = tt.by, tt.cap
		b := summarise(t, o, flat("a", 10, 163, 170, 186), flat("b", 11, 160, 172, 174)).Results[0].Bands[0]
		if *b.DesignID != tt.want {
			t.Errorf("by %s: design %d, want %d", tt.by, *b.DesignID, tt.want)
		}
	}
	for by, want := range map[By]string{"profit": `rank.by = "profit", want lcoh, saving or heat`, ByHeat: "rank.cost_cap_per_kwh = 0, want above 0"} {
		o.By, o.CostCap = by, 0
		if _, err := New(o); err == nil || !slices.Contains([]string{want, want + ` with rank.by = "heat"`}, err.Error()) {
			t.Errorf("error %v, want %q", err, want)
		}
	}
}

// The pay-back time is that of the cash flow which package cost lists, worn
// films and what is left at the horizon included.
func TestPaybackIsThatOfTheCashFlow(t *testing.T) {
	o := handOptions(t, []result.Design{{ReceiverWidth: 1.2, MirrorLength: 0.9, MirrorTilt: 80, RowPitch: 3}}, wholeYear)
	o.Table.Stress = true
	o.Lives = Lives{cost.ClearFilm: {UV: 100, Warm: 8000}}
	p := &o.Markets[0].Plan
	*p = cost.Plan{HorizonYears: 15, DiscountRate: 0.05, Fade: 0.01, LabourPerH: 15, SiteReceiverM2: 1000, DeliveredShare: 0.9, RunningPerKWh: 0.002, Items: []cost.Item{
		{Unit: cost.ReceiverM2, Price: 2, LabourH: 0.1, LifeYears: 4, Film: cost.ClearFilm}, {Unit: cost.RowM, Price: 8, LifeYears: 7, RunningPerYear: 0.5},
		{Unit: cost.WholeSite, Price: 9000, LifeYears: 40},
	}}
	b := flat("x", 40, 500)
	b.Stress = make([]float32, result.Stresses)
	b.Stress[result.UVClear] = 170
	worn := p.Worn(map[cost.Film]float64{cost.ClearFilm: 1.7})
	l, err := worn.Levelise(o.Table.Designs[0], 500)
	if err != nil {
		t.Fatal(err)
	}
	saved := 0.0
	for _, f := range l.CashFlow[1:] {
		saved += 0.1*f.Heat - f.Cost
	}
	if got, want := moneyOf(t, o, b).Payback, l.CashFlow[0].Cost*15/saved; got == nil || math.Abs(*got-want) > 1e-5*want || want < 0.2 {
		t.Errorf("%v years, want %g", got, want)
	}
}
