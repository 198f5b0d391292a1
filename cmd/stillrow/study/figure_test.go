package study

import (
	"math"
	"strings"
	"testing"

	"stillrow/data"
	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

const item = "[[cost.item]]\nname = \"i\"\nunit = \"row_m\"\nlife_years = { low = 2, likely = 3, high = 5, assumption = \"a guess\" }\nprice = { low = 1, likely = 2, high = 4, year = 2024, source = \"a list\", licence = \"open\" }\n"

// A figure is a number or a table; its likely value is what everything but the
// spread counts with.
func TestFigures(t *testing.T) {
	s := mustLoad(t, least+item+"[gas]\nprice_per_kwh = { low = 0.03, likely = 0.05, high = 0.08 }\nboiler_efficiency = { value = 0.85 }\n[heat]\ndelivered_share = { low = 0.8, likely = 0.9, high = 0.95 }\n")
	want := cost.Item{Name: "i", Unit: cost.RowM, Price: 2, PriceRange: cost.Range{Low: 1, High: 4}, LifeYears: 3, LifeRange: cost.Range{Low: 2, High: 5}}
	if s.Plan.Items[0] != want {
		t.Errorf("item %+v, want %+v", s.Plan.Items[0], want)
	}
	if s.Gas.PricePerKWh != 0.05 || s.Gas.PriceRange != (cost.Range{Low: 0.03, High: 0.08}) || s.Gas.BoilerEfficiency != 0.85 || !s.Gas.EfficiencyRange.Known() {
		t.Errorf("gas %+v", s.Gas)
	}
	if s.Plan.DeliveredShare != 0.9 || s.Plan.DeliveredRange != (cost.Range{Low: 0.8, High: 0.95}) {
		t.Errorf("delivered %v in %v", s.Plan.DeliveredShare, s.Plan.DeliveredRange)
	}
	for key, want := range map[string]Setting{
		"cost.item[0].price":           {Value: 2.0, Source: "study: a list, 2024 (open)"},
		"cost.item[0].price.low":       {Value: 1.0, Source: "study: a list, 2024 (open)"},
		"cost.item[0].life_years.high": {Value: 5.0, Source: "study, assumption: a guess"},
		"gas.price_per_kwh":            {Value: 0.05, Source: "study"},
	} {
		want.Key = key
		if got := setting(t, s, key); got != want {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	if err := s.Plan.Validate(); err != nil {
		t.Error(err)
	}
}

func TestBadFigures(t *testing.T) {
	for _, tt := range []struct{ old, new, want string }{
		{"low = 1", "low = 3", "s.toml:7:11: cost.item[0].price.low = 3, want at most likely = 2"},
		{"high = 4", "high = 1.5", "s.toml:7:32: cost.item[0].price.high = 1.5, want at least likely = 2"},
		{"low = 1", "low = -1", "s.toml:7:11: cost.item[0].price.low = -1, want 0 to 1e+09"},
		{"low = 2", "low = 0", "s.toml:6:16: cost.item[0].life_years.low = 0, want 0.01 to 1000"},
		{"low = 1", `low = "one"`, `s.toml:7:11: cost.item[0].price.low = "one", want a number`},
		{"low = 1, ", "", "s.toml:7:1: cost.item[0].price.low is missing, want low, likely and high"},
		{", likely = 2", "", "s.toml:7:1: cost.item[0].price.likely is missing, want low, likely and high"},
		{"low = 1, likely = 2, high = 4, ", "", "s.toml:7:1: cost.item[0].price.value is missing"},
		{"low = 1", "value = 2, low = 1", "cost.item[0].price.low beside cost.item[0].price.value, want one of them"},
		{"high = 4", "high = 4, middle = 2", "s.toml:7:42: unknown key cost.item[0].price.middle"},
		{"year = 2024", "year = 1900", "cost.item[0].price.year = 1900, want a whole number, 1990 to 2100"},
		{`"a list"`, "3", "cost.item[0].price.source = 3, want a text"},
		{`source = "a list"`, `assumption = "a guess"`, "cost.item[0].price.assumption beside a source, want one of them"},
	} {
		text := strings.Replace(item, tt.old, tt.new, 1)
		if text == item {
			t.Fatalf("%q is not in the study", tt.old)
		}
		faults := faultsOf(t, tt.new, least+text)
		if len(faults) != 1 || !strings.Contains(faults[0].Error(), tt.want) {
			t.Errorf("%s:\n got %v\nwant %s", tt.new, faults, tt.want)
		}
	}
	for _, tt := range []struct{ text, want string }{
		{"[cost]\nhorizon_years = { low = 10, likely = 20, high = 30 }\n", "cost.horizon_years.value is missing"},
		{"[cost]\ndiscount_rate = { low = 0.02, likely = 0.05, high = 1.5 }\n", "s.toml:4:46: cost.discount_rate.high = 1.5, want 0 to 1"},
		{"[gas]\nprice_per_kwh = { low = 0, likely = 0.05, high = 0.1 }\n", "s.toml:4:19: gas.price_per_kwh.low = 0, want above 0"},
	} {
		faults := faultsOf(t, tt.text, least+tt.text)
		if len(faults) == 0 || !strings.Contains(faults[0].Error(), tt.want) {
			t.Errorf("%s:\n got %v\nwant %s", tt.text, faults, tt.want)
		}
	}
}

// Ranges of a book go into the study's currency with their figure, each price at
// the rate of its own year, and a book's table without an origin is refused.
func TestRangesOfBooks(t *testing.T) {
	ranged := strings.Replace(region, "labour_per_h = {value = 12,", "labour_per_h = {low = 9, likely = 12, high = 18,", 1) +
		"[[cost.item]]\nname = \"film\"\nunit = \"receiver_m2\"\nprice = {low = 3, likely = 6, high = 9, year = 2022, source = \"s\", licence = \"l\"}\nrunning_per_year = {low = 1.5, likely = 3, high = 6, assumption = \"a\"}\nlife_years = 3\n"
	s, err := Load("s.toml", []byte(least+"[study]\ncurrency = \"EUR\"\n"), shelfOf(ranged), "region/AA")
	if err != nil {
		t.Fatal(err)
	}
	near := func(r cost.Range, low, high float64) bool {
		return math.Abs(r.Low-low) < 1e-12 && math.Abs(r.High-high) < 1e-12
	}
	it := s.Plan.Items[0]
	if !near(s.Plan.LabourRange, 9/1.5, 18/1.5) || !near(it.PriceRange, 3/1.25, 9/1.25) || !near(it.RunningRange, 1, 4) || math.Abs(it.Price-6/1.25) > 1e-12 {
		t.Errorf("labour in %v, price %v in %v, running in %v", s.Plan.LabourRange, it.Price, it.PriceRange, it.RunningRange)
	}
	for key, want := range map[string]Setting{
		"cost.labour_per_h.low":              {Value: 9 / 1.5, Source: "book region.toml, assumption: near enough; 1 USD = 0.6667 EUR, 2024"},
		"cost.item[0].price.high":            {Value: 9 / 1.25, Source: "book region.toml: s, 2022 (l); 1 USD = 0.8 EUR, 2022"},
		"cost.item[0].running_per_year.high": {Value: 6 / 1.5, Source: "book region.toml, assumption: a; 1 USD = 0.6667 EUR, 2024"},
	} {
		got := setting(t, s, key)
		v, ok := got.Value.(float64)
		if w := want.Value.(float64); !ok || math.Abs(v-w) > 1e-12 || got.Source != want.Source {
			t.Errorf("%+v, want %+v", got, want)
		}
	}
	bare := strings.Replace(ranged, ", assumption = \"a\"", "", 1)
	if _, err := Load("s.toml", []byte(least), shelfOf(bare), "region"); err == nil || !strings.Contains(err.Error(), "cost.item[0].running_per_year has no origin") {
		t.Errorf("a price without an origin: %v", err)
	}
}

// What the study's spread comes to: efficiencies and reflectances stop at 1.
func TestSpread(t *testing.T) {
	s := mustLoad(t, least+"[receiver]\neta0b = 0.97\nc1 = 6\n[mirror]\nreflectance = 0.8\ncleanliness = 1\n[spread]\nc1_percent = 20\ndraws = 900\n")
	o := s.Risk()
	if o.Draws != 900 || o.Physics[result.C1].SD != 0.2 || math.Abs(o.Physics[result.C1].High-0.6) > 1e-12 {
		t.Errorf("%+v", o)
	}
	if n := o.Physics[result.Eta0b]; math.Abs(0.97*(1+n.High)-1) > 1e-12 || math.Abs(n.Low+0.09) > 1e-12 {
		t.Errorf("efficiency within %v", n)
	}
	if n := o.Physics[result.Reflectance]; math.Abs(n.High-0.12) > 1e-12 {
		t.Errorf("reflectance within %v", n)
	}
	if s.Spread.Money != (cost.Doubt{Correlation: 0.5, GasSpread: 0.25}) {
		t.Errorf("money %+v", s.Spread.Money)
	}
	if _, err := Load("s.toml", []byte(least+"[spread]\neta0b_percent = 3\nbias_percent = 2\n"), data.FS, DefaultBook); err == nil || !strings.Contains(err.Error(), "unknown key spread.bias_percent") {
		t.Errorf("%v", err)
	}
}
