package rank

import (
	"encoding/json"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"

	"stillrow/rank/cost"
	"stillrow/rank/risk"
	"stillrow/simulate/result"
)

// twoMarkets is handOptions with a second market, where mirrors cost 1 per m²
// instead of 4 and gas twice as much. Sites of the north are in it; those whose
// latitude is 0 have no market.
func twoMarkets(t *testing.T, uses ...Use) Options {
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 60)}, uses...)
	north := handPlan
	north.Items = slices.Clone(handPlan.Items)
	north.Items[1].Price = 1
	dear := handGas
	dear.PricePerKWh *= 2
	o.Markets = append(o.Markets, Market{"north", north, dear})
	o.MarketOf = func(s result.Site) int {
		switch {
		case s.Lat > 0:
			return 1
		case s.Lat == 0:
			return -1
		}
		return 0
	}
	o.CountryOf = func(s result.Site) string { return map[bool]string{true: "NN", false: "SS"}[s.Lat > 0] }
	return o
}

// 100 kWh/m² without and 130 with a mirror: by the first plan 10/1000 beats
// 14/1300, by the northern one 11/1300 beats 10/1000.
func TestEachSiteHasItsMarket(t *testing.T) {
	o := twoMarkets(t, wholeYear)
	s := summarise(t, o, flat("south", -10, 100, 130), flat("north", 10, 100, 130), flat("sea", 0, 100, 130))
	type line struct {
		Site    string  `parquet:"site_id"`
		Country string  `parquet:"country"`
		Book    string  `parquet:"book"`
		Design  int32   `parquet:"design_id"`
		LCOH    float64 `parquet:"lcoh_per_kwh"`
		Gas     float64 `parquet:"gas_heat_per_kwh"`
	}
	got, err := parquet.ReadFile[line](filepath.Join(o.Out, RankingFile))
	if err != nil {
		t.Fatal(err)
	}
	want := []line{
		{"sea", "SS", "hand (no book)", 0, 10. / 1000, 0.1},
		{"north", "NN", "north", 1, 11. / 1300, 0.2},
		{"south", "SS", "hand", 0, 10. / 1000, 0.1},
	}
	if d := cmp.Diff(want, got, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	books := []BookSum{{"hand", 1, 0.1}, {"north", 1, 0.2}, {"hand (no book)", 1, 0.1}}
	if d := cmp.Diff(books, s.Books, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })); d != "" {
		t.Errorf("books, -want +got:\n%s", d)
	}
	p := readMap(t, filepath.Join(o.Out, "map-year-45.geojson")).Features[1].Properties
	if p["country"] != "NN" || p["book"] != "north" || math.Abs(p["gas_heat_per_kwh"].(float64)-0.2) > 1e-12 {
		t.Errorf("map: %v", p)
	}
	var text strings.Builder
	if err := s.WriteText(&text); err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(text.String(), "\n\n")
	if head = strings.ReplaceAll(head, "\n", " "); !strings.Contains(head, "costs 0.100 to 0.200 EUR per kWh") || !strings.Contains(head, "The country of 1 site has no cost book") {
		t.Errorf("summary begins %q", head)
	}
}

func TestMarketsRefused(t *testing.T) {
	for _, tt := range []struct {
		change func(*Options)
		want   string
	}{
		{func(o *Options) { o.Markets = nil }, "rank: no market"},
		{func(o *Options) { o.Markets[1].Plan.DiscountRate = -1 }, "book north: cost.discount_rate = -1, want 0 to 1"},
		{func(o *Options) { o.Markets[1].Plan.Items[0].LifeYears = 0 }, "book north: cost.item[0].life_years = 0, want above 0"},
		{func(o *Options) { o.Markets[1].Gas.PricePerKWh = 0 }, "book north: gas.price_per_kwh = 0"},
		{func(o *Options) { o.Markets[1].Plan.Items = o.Markets[1].Plan.Items[1:] }, "book north: design 0 costs 0 per m²"},
	} {
		o := twoMarkets(t, wholeYear)
		tt.change(&o)
		if _, err := New(o); err == nil || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("error %v, want one line with %q", err, tt.want)
		}
	}
	o := twoMarkets(t, wholeYear)
	o.MarketOf = func(result.Site) int { return 2 }
	k, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Abort()
	if err := add(k, flat("x", 10, 100, 130)); err == nil || !strings.Contains(err.Error(), "site x: market 2, want -1 to 1") {
		t.Errorf("error %v", err)
	}
}

// The agreed picks: best and runner-up of each outlet, each once over all uses.
func TestPicksForSensitivity(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 60), mirror(1, 75)}, wholeYear, Use{Name: "winter", Months: months12(12, 1, 2)})
	o.Table.Outlets = []float64{45, 60}
	pick, err := Picker(o, true)
	if err != nil {
		t.Fatal(err)
	}
	// At 45 °C by the year: 10/1200, 14/1600, 14/1500; in winter design 2 has
	// three times its heat. At 60 °C design 1 alone has any.
	b := flat("x", 10, 120, 160, 150, 0, 10, 0)
	for _, m := range []int{0, 1, 11} {
		b.Heat[2*12+m] *= 3
	}
	want := []result.Pick{{Design: 2, Outlet: 0}, {Design: 0, Outlet: 0}, {Design: 1, Outlet: 1}}
	done := make(chan []result.Pick)
	for range 4 { // at a time
		go func() { done <- pick(b) }()
	}
	for range 4 {
		if d := cmp.Diff(want, <-done); d != "" {
			t.Errorf("-want +got:\n%s", d)
		}
	}
	b.Heat = b.Heat[1:]
	if got := pick(b); got != nil {
		t.Errorf("a block too short gives %v", got)
	}
}

// What is known of a best design's spread comes out in rows and maps.
func TestSpread(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
	o.Spread = func(b *result.Block, p *Pick) Spread {
		lcoh := p.LCOH[p.Best] // there always is a best
		switch b.Site.ID {
		case "known":
			return SpreadOf(risk.Spread{P10: 0.9 * lcoh, P50: lcoh, P90: 1.2 * lcoh, BeatsGas: 0.75})
		case "dim":
			return SpreadOf(risk.Spread{P10: 1, P50: 2, P90: math.Inf(1)})
		}
		return Spread{}
	}
	summarise(t, o, flat("known", 10, 100), flat("unknown", 10, 100), flat("dark", 10, 0), flat("dim", 10, 1))
	features := readMap(t, filepath.Join(o.Out, "map-year-45.geojson")).Features
	near := func(v any, want float64) bool { f, ok := v.(float64); return ok && math.Abs(f-want) < 1e-8 }
	if p := features[0].Properties; !near(p["lcoh_p10_per_kwh"], 0.009) || !near(p["lcoh_p50_per_kwh"], 0.01) || !near(p["lcoh_p90_per_kwh"], 0.012) || p["beats_gas_probability"] != 0.75 {
		t.Errorf("%v", p)
	}
	for _, f := range features[1:3] {
		if p := f.Properties; p["lcoh_p10_per_kwh"] != nil || p["beats_gas_probability"] != nil {
			t.Errorf("%s: %v", f.ID, p)
		}
	}
	if p := features[3].Properties; p["lcoh_p50_per_kwh"] != 2. || p["lcoh_p90_per_kwh"] != nil || p["beats_gas_probability"] != 0. {
		t.Errorf("with a tenth of the draws without heat: %v", p)
	}
	rows, err := parquet.ReadFile[struct {
		P90 *float64 `parquet:"lcoh_p90_per_kwh"`
		Gas *float64 `parquet:"beats_gas_probability"`
	}](filepath.Join(o.Out, RankingFile))
	if err != nil || rows[0].P90 == nil || *rows[0].Gas != 0.75 || rows[1].P90 != nil {
		text, _ := json.Marshal(rows)
		t.Errorf("%s, %v", text, err)
	}
}

// Gas heat out of statistics: Eurostat's non-household price of the second half
// of 2024, 6.24 €/100 kWh, and its household price, 12.33, are on the higher
// heating value, as are efficiencies of 90 and 92 %: 0.0624/0.90 and
// 0.1233/0.92 €/kWh. The program takes efficiencies on the lower one. The
// break-even price puts back what the ratio takes off, on the statistics' basis.
func TestGasOfStatistics(t *testing.T) {
	for _, tt := range []struct{ price, efficiency, want float64 }{
		{0.0624, 0.90, 0.0693}, {0.1233, 0.92, 0.134},
		{14.75 / 304.2, 0.80, 0.0606}, // USA 2022, residential, EIA: 14.75 $/Mcf of 304.2 kWh; boiler of 80 %
	} {
		o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
		o.Markets[0].Gas = cost.Gas{PricePerKWh: tt.price, Basis: cost.HigherHeatingValue, BoilerEfficiency: tt.efficiency * cost.HigherPerLower}
		r := rowAt(t, o, flat("x", 10, 20))
		if math.Abs(r.GasHeat-tt.want) > 0.0005 || math.Abs(*r.GasRatio*r.GasHeat-*r.LCOH) > 1e-15 {
			t.Errorf("price %g: heat from gas %g, want %g; ratio %g for %g", tt.price, r.GasHeat, tt.want, *r.GasRatio, *r.LCOH)
		}
		o.Markets[0].Gas.PricePerKWh = *r.BreakEven
		if again := rowAt(t, o, flat("x", 10, 20)); math.Abs(*again.GasRatio-1) > 1e-12 {
			t.Errorf("at the break-even price %g the ratio is %g", *r.BreakEven, *again.GasRatio)
		}
		// A cheap condensing figure: at the break-even, LCOH · efficiency (HHV).
		if math.Abs(*r.BreakEven-*r.LCOH*tt.efficiency) > 1e-12 {
			t.Errorf("break-even %g, want %g", *r.BreakEven, *r.LCOH*tt.efficiency)
		}
	}
}
