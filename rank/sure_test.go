package rank

import (
	"math"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stillrow/rank/cost"
	"stillrow/rank/risk"
	"stillrow/simulate/result"
)

// elastic gives a block sensitivities of the designs: of each input by[p] per
// cent of the heat for a per cent of it, in every month.
func elastic(b *result.Block, t *result.Table, by [result.Params]float32, designs ...int) *result.Block {
	for o := range t.Outlets {
		for _, d := range designs {
			s := result.Sensitivity{Pick: result.Pick{Design: d, Outlet: o}}
			for p := range result.Params {
				change := by[p] * float32(result.Steps[p])
				for m, q := range b.Months(t, o, d) {
					s.Low[p][m], s.High[p][m] = q*(1-change), q*(1+change)
				}
			}
			b.Sensitivities = append(b.Sensitivities, s)
		}
	}
	return b
}

var someElastic = [result.Params]float32{result.Eta0b: 1.4, result.C1: -0.4, result.Reflectance: 0.3, result.Irradiance: 1.5}

// doubtful is a model of 200 draws in which everything is in doubt.
var doubtful = risk.New(risk.Options{Draws: 200, Physics: [result.Params]risk.Normal{
	result.Eta0b: {SD: 0.03, Low: -0.09, High: 0.09}, result.C1: {SD: 0.1, Low: -0.3, High: 0.3},
	result.Reflectance: {SD: 0.04, Low: -0.12, High: 0.12}, result.Irradiance: {SD: 0.04, Low: -0.12, High: 0.12},
}})

// sureOptions are handOptions of a plan with ranges, running costs, interest, a
// film that wears and a loss on the way.
func sureOptions(t *testing.T, designs []result.Design, uses ...Use) Options {
	o := handOptions(t, designs, uses...)
	m := &o.Markets[0]
	m.Plan.Items = slices.Clone(m.Plan.Items)
	m.Plan.Items[0].PriceRange = cost.Range{Low: 8, High: 12}
	m.Plan.Items[1].LifeYears, m.Plan.Items[1].LifeRange, m.Plan.Items[1].Film = 3, cost.Range{Low: 2, High: 4}, cost.MirrorFilm
	m.Plan.Items[1].RunningPerYear = 0.2
	m.Plan.DiscountRate, m.Plan.DeliveredShare, m.Plan.RunningPerKWh = 0.06, 0.9, 0.001
	o.Lives = Lives{cost.MirrorFilm: {UV: 100, Warm: 5000}}
	return o
}

// Without a draw the cost that is drawn about is the one the ranking states,
// also where a demand cuts months and light wears a film out.
func TestSureIsAboutTheStatedCost(t *testing.T) {
	some := wholeYear
	some.Name, some.Amount = "some", 100
	winter := Use{Name: "winter", Demand: [12]float64{0: 2, 1: 1, 11: 3}, Amount: 40}
	for _, uv := range []float32{0, 50, 170} {
		o := sureOptions(t, []result.Design{mirror(1, 60)}, wholeYear, some, winter)
		b := elastic(flat("x", 40, 150), &o.Table, someElastic, 0)
		o.Table.Stress = true
		b.Stress = make([]float32, result.Stresses)
		b.Stress[result.UVMirror] = uv
		picks, err := Picks(o, b)
		if err != nil {
			t.Fatal(err)
		}
		s := NewSure(o, doubtful, cost.Doubt{GasSpread: 0.2})
		certain := NewSure(o, risk.New(risk.Options{Draws: 200}), cost.Doubt{})
		for i := range picks {
			p := &picks[i]
			d, heat, _, ok := s.design(b, p)
			if !ok {
				t.Fatalf("use %d: no sensitivity", i)
			}
			base, bars := s.model.Tornado(s.money[0], s.at(&b.Site, p), &d, heat)
			if want := p.LCOH[0]; math.Abs(base-want) > 1e-9*want {
				t.Errorf("use %d, dose %g: tornado about %g, the ranking has %g", i, uv, base, want)
			}
			if diff := cmp.Diff(bars, s.Tornado(b, p)); diff != "" {
				t.Error(diff)
			}
			spread := s.Spread(b, p)
			if p50 := *spread.P50; math.Abs(p50/p.LCOH[0]-1) > 0.03 || *spread.P10 > 0.97*p50 || *spread.P90 < 1.03*p50 || spread.From != nil {
				t.Errorf("use %d, dose %g: %g, %g, %g about %g", i, uv, *spread.P10, p50, *spread.P90, p.LCOH[0])
			}
			// With prices and lives alone in doubt there is less of it, or as much
			// where the demand takes no more of any heat.
			if c := certain.Spread(b, p); *c.P10 < *spread.P10*(1-1e-9) || *c.P90 > *spread.P90*(1+1e-9) {
				t.Errorf("use %d: money alone %g to %g, all %g to %g", i, *c.P10, *c.P90, *spread.P10, *spread.P90)
			}
		}
		// 12.5 kWh/m² a month, of which the demand takes 9.3: no change of the
		// receiver, the mirror or the sky by itself changes what counts.
		for _, bar := range s.Tornado(b, &picks[1]) {
			if moves := bar.AtLow != bar.AtHigh; moves == bar.Relative {
				t.Errorf("%s: %g to %g", bar.Input, bar.AtLow, bar.AtHigh)
			}
		}
	}
}

// With one input in doubt the draws have a known answer: heat in proportion to
// irradiation of standard deviation 4 %, cost in proportion to 1/heat.
func TestSureByHand(t *testing.T) {
	model := risk.New(risk.Options{Draws: 2000, Physics: [result.Params]risk.Normal{result.Irradiance: {SD: 0.04, Low: -0.12, High: 0.12}}})
	o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
	b := elastic(flat("x", 40, 100), &o.Table, [result.Params]float32{result.Irradiance: 1}, 0)
	picks, err := Picks(o, b)
	if err != nil {
		t.Fatal(err)
	}
	// 10 over ten years of 100 kWh: 0.01; z of 0.9 is 1.2816, with
	// both tails cut at 3 that of 0.00135 + 0.9·0.9973: 1.2754.
	s := NewSure(o, model, cost.Doubt{}).Spread(b, &picks[0])
	for _, tt := range []struct{ got, heat float64 }{{*s.P10, 1 + 0.04*1.2754}, {*s.P50, 1}, {*s.P90, 1 - 0.04*1.2754}} {
		if want := 0.01 / tt.heat; math.Abs(tt.got-want) > 2e-4*want {
			t.Errorf("%g, want %g", tt.got, want)
		}
	}
	if *s.BeatsGas != 1 { // at 0.1
		t.Errorf("beats gas in %g", *s.BeatsGas)
	}
}

// Years of the weather enter as the mean of the horizon's: P10 and P90 of single
// years 20 % off the mean are 20/√10 = 6.3 % off it over ten years.
func TestSureOverTheYearsOfTheHorizon(t *testing.T) {
	model := risk.New(risk.Options{Draws: 2000})
	o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
	b := elastic(flat("x", 40, 100), &o.Table, [result.Params]float32{result.Irradiance: 1}, 0)
	b.Site.YearP10, b.Site.YearP90 = 0.8, 1.2
	picks, err := Picks(o, b)
	if err != nil {
		t.Fatal(err)
	}
	s := NewSure(o, model, cost.Doubt{}).Spread(b, &picks[0])
	off := 0.2 / math.Sqrt(10)
	bars := NewSure(o, model, cost.Doubt{}).Tornado(b, &picks[0])
	if len(bars) != 1 || bars[0].Input != "mean weather of 10 years" || math.Abs(bars[0].Low+off) > 1e-9 || math.Abs(bars[0].AtLow-0.01/(1-off)) > 1e-6 {
		t.Errorf("%+v", bars)
	}
	for _, tt := range []struct{ got, heat float64 }{{*s.P10, 1 + off}, {*s.P50, 1}, {*s.P90, 1 - off}} {
		if want := 0.01 / tt.heat; math.Abs(tt.got-want) > 5e-4*want {
			t.Errorf("%g, want %g", tt.got, want)
		}
	}
}

// A best design whose sensitivities were not recorded takes over the relative
// changes of the nearest recorded geometry and says which.
func TestSureOfTheNearestDesign(t *testing.T) {
	// Design 1 is the best by far: the dearer design 3 has less heat.
	o := sureOptions(t, []result.Design{mirror(0, 60), mirror(1, 60), mirror(1, 75), mirror(2, 60)}, wholeYear)
	for i := range o.Markets[0].Plan.Items {
		o.Markets[0].Plan.Items[i].LifeYears, o.Markets[0].Plan.Items[i].LifeRange = 10, cost.Range{}
	}
	heat := []float64{60, 170, 165, 110}
	spread := func(by [result.Params]float32, designs ...int) Spread {
		b := elastic(flat("x", 40, heat...), &o.Table, by, designs...)
		picks, err := Picks(o, b)
		if err != nil || picks[0].Best != 1 {
			t.Fatalf("design %d, %v", picks[0].Best, err)
		}
		return NewSure(o, doubtful, cost.Doubt{}).Spread(b, &picks[0])
	}
	own, near := spread(someElastic, 0, 1, 3), spread(someElastic, 0, 2, 3)
	if own.From != nil || near.From == nil || *near.From != 2 {
		t.Fatalf("from %v and %v, want none and 2", own.From, near.From)
	}
	for _, tt := range [][2]*float64{{own.P10, near.P10}, {own.P50, near.P50}, {own.P90, near.P90}, {own.BeatsGas, near.BeatsGas}} {
		if math.Abs(*tt[0]-*tt[1]) > 1e-5**tt[0] {
			t.Errorf("%g by the nearest, %g by its own", *tt[1], *tt[0])
		}
	}
	if far := spread(someElastic, 3); *far.From != 3 {
		t.Errorf("from %d, want the only one", *far.From)
	}
	// Nothing recorded at the outlet: nothing is said.
	b := elastic(flat("x", 40, heat...), &o.Table, someElastic, 0, 2)
	for i := range b.Sensitivities {
		b.Sensitivities[i].Outlet = 1
	}
	picks, err := Picks(o, b)
	if err != nil {
		t.Fatal(err)
	}
	s := NewSure(o, doubtful, cost.Doubt{})
	if got := s.Spread(b, &picks[0]); got != (Spread{}) || s.Tornado(b, &picks[0]) != nil {
		t.Errorf("%+v without one of the outlet", got)
	}
}

// What a design takes over in months where the other has little or no heat
// stays within reason, and a receiver without a mirror does not ask for one.
func TestSureTakesOverNoNonsense(t *testing.T) {
	theirs, ours := make([]float32, 12), make([]float32, 12)
	theirs[0], theirs[1], theirs[2] = 40, 1, 0
	ours[0], ours[1], ours[2] = 20, 20, 20
	var s result.Sensitivity
	for q := range result.Params {
		s.Low[q], s.High[q] = [12]float32{30, 0, 0}, [12]float32{50, 3, 2}
	}
	got := like(&s, theirs, ours)
	for q := range result.Params {
		if low, high := [3]float32(got.Low[q][:3]), [3]float32(got.High[q][:3]); low != [3]float32{15, 17, 20} || high != [3]float32{25, 26, 20} {
			t.Errorf("%s: %v and %v", q, low, high)
		}
	}
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 60)}, wholeYear)
	b := elastic(flat("x", 40, 100, 110), &o.Table, someElastic, 1)
	picks, err := Picks(o, b)
	if err != nil || picks[0].Best != 0 {
		t.Fatalf("design %d, %v", picks[0].Best, err)
	}
	for _, bar := range NewSure(o, doubtful, cost.Doubt{}).Tornado(b, &picks[0]) {
		if moves, mirror := bar.AtLow != bar.AtHigh, bar.Input == "reflectance of the mirror"; moves == mirror {
			t.Errorf("%s: %g to %g", bar.Input, bar.AtLow, bar.AtHigh)
		}
	}
}

func TestNotSureWithoutSensitivities(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
	s := NewSure(o, doubtful, cost.Doubt{})
	dark := elastic(flat("dark", 40, 0), &o.Table, someElastic, 0)
	for _, b := range []*result.Block{flat("x", 40, 100), dark} {
		picks, err := Picks(o, b)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Spread(b, &picks[0]); got != (Spread{}) || s.Tornado(b, &picks[0]) != nil {
			t.Errorf("%s: %+v", b.Site.ID, got)
		}
	}
}

// Neither the order of sites nor asking from several goroutines at a time
// changes what a site is told.
func TestSureWhateverTheOrder(t *testing.T) {
	o := sureOptions(t, []result.Design{mirror(0, 60), mirror(1, 60)}, wholeYear, Use{Name: "winter", Months: months12(12, 1, 2)})
	type site struct {
		block *result.Block
		picks []Pick
	}
	var sites []site
	for i, id := range []string{"a", "b", "c", "d"} {
		b := elastic(flat(id, 40, 100+float64(10*i), 150), &o.Table, someElastic, 0, 1)
		b.Site.YearP10, b.Site.YearP90, b.Site.Source = 0.7, 1.2, []string{"one", "other"}[i%2]
		picks, err := Picks(o, b)
		if err != nil {
			t.Fatal(err)
		}
		sites = append(sites, site{b, picks})
	}
	told := func(s *Sure, one site) (list []Spread) {
		for i := range one.picks {
			list = append(list, s.Spread(one.block, &one.picks[i]))
		}
		return list
	}
	want := make([][]Spread, len(sites))
	for i, one := range sites {
		want[i] = told(NewSure(o, doubtful, cost.Doubt{}), one)
	}
	if cmp.Equal(want[0], want[1]) || *want[0][0].P50 == *want[2][0].P50 {
		t.Error("sites are told the same")
	}
	shared := NewSure(o, doubtful, cost.Doubt{})
	var wait sync.WaitGroup
	for g := range 4 {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for k := range 3 * len(sites) {
				i := (len(sites) - 1 + g + k) % len(sites)
				if d := cmp.Diff(want[i], told(shared, sites[i])); d != "" {
					t.Errorf("site %d: %s", i, d)
				}
			}
		}()
	}
	wait.Wait()
}
