package risk

import (
	"math"
	"slices"
	"sync"
	"testing"

	"stillrow/simulate/result"
)

// linear is a heat that every input moves in proportion.
type linear struct {
	heat float64
	by   [result.Params]float64
}

func (l linear) Heat(change [result.Params]float64) float64 {
	sum := 1.0
	for p, by := range l.by {
		sum += by * change[p]
	}
	return l.heat * max(0, sum)
}

// known is a figure without a range.
func known(v float64) Range { return Range{Likely: v} }

var heater = linear{500, [result.Params]float64{result.Eta0b: 1.4, result.C1: -0.4, result.Reflectance: 0.3, result.Irradiance: 1.5}}

func options(draws int) Options {
	var o Options
	o.Draws, o.Construction = draws, "film over air gap"
	o.Physics[result.Eta0b] = Normal{0.03, -0.09, 0.09}
	o.Physics[result.C1] = Normal{0.1, -0.3, 0.3}
	o.Physics[result.Reflectance] = Normal{0.04, -0.12, 0.12}
	o.Physics[result.Irradiance] = Normal{0.04, -0.12, 0.12}
	return o
}

// market is a heater of six items, one of each unit and film.
func market() Market {
	return Market{
		Name: "north", Horizon: 20, Correlation: 0.5,
		Discount: Range{0.03, 0.05, 0.08}, Fade: Range{0, 0.005, 0.01}, Labour: Range{14, 20, 28}, Delivered: known(0.9), PerKWh: known(0.001),
		Items: []Item{
			{"clear film", 0, 0, Range{0.5, 0.7, 1.1}, known(0.05), Range{2, 3, 4}, known(0.25)},
			{"black film", 0, 1, Range{0.3, 0.5, 0.7}, known(0.05), Range{4, 6, 8}, known(0)},
			{"mirror film", 1, 2, Range{0.3, 0.4, 0.6}, known(0.05), Range{1, 2, 3}, Range{0.2, 0.3, 0.5}},
			{"bed", 2, -1, Range{4, 6, 9}, Range{0.2, 0.35, 0.5}, known(12), known(0)},
			{"land", 3, -1, Range{0.2, 1, 5}, known(0), known(100), known(0)},
			{"pump", 4, -1, Range{10000, 16000, 25000}, known(150), Range{8, 12, 15}, known(0)},
		},
		Gas: Gas{Price: Price{known(0.012), 0.25}, PerLower: 1.109, Efficiency: known(0.9), Running: known(0.002), CO2: 0.20196},
	}
}

var (
	design = Design{Per: [Units]float64{1, 1.2, 1 / 1.2, 3, 1 / 2000.0}, Strain: [Films]float64{1.4, 0.6, 1.2}}
	place  = Site{ID: "1", Source: "station", YearP10: 0.95, YearP90: 1.04}
)

// A cost of one thing bought once, at no discount, is its price over the heat:
// with a lognormal ratio of the two the percentiles are known.
func TestKnownAnswer(t *testing.T) {
	const n = 4000
	m := New(Options{Draws: n})
	only := Market{
		Name: "one", Horizon: 1, Delivered: known(1),
		Items: []Item{{Name: "all", Film: -1, Price: Range{20, 30, 50}, Life: known(1)}},
		Gas:   Gas{Price: Price{known(0.05), 0.2}, PerLower: 1, Efficiency: known(1)},
	}
	d := Design{Per: [Units]float64{1}}
	got := m.Spread(m.Money(only), m.Site(Site{ID: "a"}), &d, linear{heat: 700})
	price := only.Items[0].Price.inverse()
	for i, p := range []struct{ u, got float64 }{{0.1, got.P10}, {0.5, got.P50}, {0.9, got.P90}} {
		if want := price(p.u) / 700; !near(p.got, want, 2e-3) {
			t.Errorf("percentile %d: %v, want %v", i, p.got, want)
		}
	}
	// Price/700 < gas: summed over the price on a fine grid.
	want := 0.0
	for i := range 100000 {
		v := price((float64(i) + 0.5) / 100000)
		want += (1 - normal(math.Log(v/700/0.05)/math.Log1p(0.2))) / 100000
	}
	if se := math.Sqrt(want * (1 - want) / n); math.Abs(got.BeatsGas-want) > 3*se {
		t.Errorf("beats gas in %v, want %v ± %v", got.BeatsGas, want, se)
	}
}

// Every percentile scatters about that of very many draws by no more than the
// standard error of independent draws, and halves with four times the draws.
func TestStandardError(t *testing.T) {
	reference := run(options(40000), 99)
	scatter := func(draws int) (rms [3]float64, sd float64) {
		const seeds = 40
		for seed := range uint64(seeds) {
			o := options(draws)
			got := run(o, seed)
			for i, d := range [3]float64{got.P10 - reference.P10, got.P50 - reference.P50, got.P90 - reference.P90} {
				rms[i] += d * d / seeds
			}
		}
		for i := range rms {
			rms[i] = math.Sqrt(rms[i])
		}
		return rms, (reference.P90 - reference.P10) / 2.5631
	}
	few, sd := scatter(125)
	many, _ := scatter(500)
	for i, factor := range [3]float64{1.71, 1.25, 1.71} {
		limit := factor * sd / math.Sqrt(500)
		if many[i] > 1.25*limit { // 40 seeds know a standard error to 11 %
			t.Errorf("percentile %d: standard error %v with 500 draws, promised %v", i, many[i], limit)
		}
		if ratio := few[i] / many[i]; ratio < 1.3 || ratio > 3 {
			t.Errorf("percentile %d: standard error %v with 125 draws, %v with 500: want about twice", i, few[i], many[i])
		}
	}
	if reference.P10 >= reference.P50 || reference.P50 >= reference.P90 || reference.BeatsGas <= 0 || reference.BeatsGas >= 1 {
		t.Errorf("spread %+v", reference)
	}
}

func run(o Options, seed uint64) Spread {
	o.Seed = seed
	m := New(o)
	return m.Spread(m.Money(market()), m.Site(place), &design, heater)
}

// Sites in any order, by any number of workers, get the same numbers.
func TestOrder(t *testing.T) {
	sites := []Site{place, {ID: "2", Source: "station"}, {ID: "3", Source: "satellite", YearP10: 0.9, YearP90: 1.1}}
	m := New(options(500))
	money := m.Money(market())
	want := make([]Spread, len(sites))
	for i, s := range sites {
		want[i] = m.Spread(money, m.Site(s), &design, heater)
	}
	again := New(options(500))
	other := market()
	other.Name = "south"
	again.Money(other) // another market first
	money = again.Money(market())
	got := make([]Spread, len(sites))
	var wait sync.WaitGroup
	for i := len(sites) - 1; i >= 0; i-- {
		wait.Go(func() { got[i] = again.Spread(money, again.Site(sites[i]), &design, heater) })
	}
	wait.Wait()
	if !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
	if want[1] == want[2] {
		t.Error("two places have one spread")
	}
}

// One draw a market for money, one a construction for physics, one a source for
// the bias: what places share moves their costs together, what they do not
// share does not.
func TestCorrelation(t *testing.T) {
	const n = 2000
	m := New(options(n))
	costs := func(name string, s Site) []float64 {
		k := market()
		k.Name = name
		money, w := m.Money(k), m.Site(s)
		list := make([]float64, n)
		for i := range list {
			list[i] = money.draws[i].lcoh(&design, heater.Heat(w.changes[i]))
		}
		return list
	}
	a := costs("north", Site{ID: "1", Source: "station"})
	if got := correlation(a, costs("north", Site{ID: "2", Source: "station"})); got < 1-1e-9 {
		t.Errorf("correlation %v of two places that share everything", got)
	}
	shared := correlation(a, costs("south", Site{ID: "2", Source: "station"}))
	if shared < 0.05 || shared > 0.8 {
		t.Errorf("correlation %v of two places that share receiver and source alone", shared)
	}
	year := correlation(costs("north", place), costs("north", Site{ID: "2", Source: "station", YearP10: 0.95, YearP90: 1.04}))
	if year > 0.999 || year < 0.8 {
		t.Errorf("correlation %v of two places with a year of their own each", year)
	}
	// Prices of items: Gaussian copula of correlation ρ through PERT.
	for _, rho := range []float64{0, 0.5, 1} {
		k := market()
		k.Correlation = rho
		k.Items[0].Price, k.Items[1].Price = Range{1, 2, 3}, Range{1, 2, 3}
		money := m.Money(k)
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			x[i], y[i] = money.draws[i].films[0].price, money.draws[i].films[1].price
		}
		// The labour that both share moves them by (28−14)·0.05 at most.
		_, sx := moments(x)
		_, labour := moments(through(m.draw("market", "north", "labour per hour"), k.Labour.inverse()))
		common := math.Pow(labour*0.05/sx, 2)
		if got, want := correlation(x, y), rho*(1-common)+common; math.Abs(got-want) > 0.06 {
			t.Errorf("ρ = %v: correlation of two prices %v, want about %v", rho, got, want)
		}
	}
}

// The base of the tornado is the point value; the bars are sorted; what is known
// or not built has none; each end is the point value with that one figure there.
func TestTornado(t *testing.T) {
	m := New(options(100))
	money := m.Money(market())
	base, bars := m.Tornado(money, m.Site(place), &design, heater)
	if want := money.Likely(&design, 500); base != want {
		t.Errorf("base %v, want %v", base, want)
	}
	byName := map[string]Bar{}
	for i, b := range bars {
		byName[b.Input] = b
		if i > 0 && b.Width() > bars[i-1].Width() {
			t.Errorf("bar %d is wider than the one before", i)
		}
		if lo, hi := min(b.AtLow, b.AtHigh), max(b.AtLow, b.AtHigh); base < lo || base > hi {
			t.Errorf("%s: base %v outside %v to %v", b.Input, base, lo, hi)
		}
	}
	if len(bars) != 20 { // 6 prices, 4 lives, labour for the bed, running of the mirror; 3 of the market, 4 of heat, the year
		t.Errorf("%d bars, want 20: %v", len(bars), bars)
	}
	dear := market()
	dear.Discount = known(0.08)
	if got, want := byName["discount rate"].AtHigh, m.Money(dear).Likely(&design, 500); got != want {
		t.Errorf("discount rate at its high: %v, want %v", got, want)
	}
	if got, want := byName["year"].AtLow, money.Likely(&design, 500*(1-1.5*0.05)); !near(got, want, 1e-12) {
		t.Errorf("the bad year: %v, want %v", got, want)
	}
	if b := byName["optical efficiency of the receiver"]; !near(b.Low, -0.06, 1e-12) || !near(b.High, 0.06, 1e-12) {
		t.Errorf("optical efficiency from %v to %v, want two standard deviations", b.Low, b.High)
	}
	bare := design
	bare.Per[1] = 0
	_, bars = m.Tornado(money, m.Site(place), &bare, heater)
	for _, b := range bars {
		if b.Input == "price of mirror film" || b.Input == "life of mirror film" {
			t.Errorf("a bar for %s without a mirror", b.Input)
		}
	}
}

func TestNoHeat(t *testing.T) {
	m := New(options(100))
	got := m.Spread(m.Money(market()), m.Site(place), &design, linear{})
	if !math.IsInf(got.P10, 1) || !math.IsInf(got.P90, 1) || got.BeatsGas != 0 {
		t.Errorf("%+v", got)
	}
}

// A life is bought by the closed form as date by date.
func TestPurchases(t *testing.T) {
	for _, d := range []float64{0, 1e-9, 0.05, 1} {
		for _, life := range []float64{0.01, 0.7, 1, 1.1, 2.5, 3, 3.7, 6.999999999, 7, 10, 20, 30, 1000} {
			s := state{horizon: 20, rate: math.Log1p(d), end: math.Pow(1+d, -20)}
			want, end := 0.0, 0.0
			for k := 0; end < 20-1e-8; k++ {
				want += math.Pow(1+d, -float64(k)*life)
				end = float64(k+1) * life
			}
			want -= max(0, end-20) / life * math.Pow(1+d, -20)
			if got := s.purchases(life); !near(got, want, 1e-9) {
				t.Errorf("life %g at %g: %v, want %v", life, d, got, want)
			}
		}
	}
}

// Four outlets and two uses at a place, of heat interpolated as rank does: what
// 10 000 of them take is 10 000 times that, on one core.
func BenchmarkPlace(b *testing.B) {
	m := New(options(500))
	money := m.Money(market())
	var sure result.Sensitivity
	base := make([]float32, 12)
	for k := range base {
		base[k] = 50
		for p := range result.Params {
			sure.Low[p][k], sure.High[p][k] = 47, 52.8
		}
	}
	response := sure.Response(base, [12]bool{4: true, 5: true, 6: true, 7: true, 8: true})
	for b.Loop() {
		w := m.Site(place)
		for range 8 {
			m.Spread(money, w, &design, &response)
		}
	}
}

func BenchmarkSite(b *testing.B) {
	m := New(options(500))
	for b.Loop() {
		m.Site(place)
	}
}

func BenchmarkMoney(b *testing.B) {
	m := New(options(500))
	for b.Loop() {
		m.Money(market())
	}
}
