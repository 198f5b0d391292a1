package rank

import (
	"errors"
	"math"
	"strings"
	"testing"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// months12 is a set of calendar months, by number.
func months12(list ...int) (m [12]bool) {
	for _, i := range list {
		m[i-1] = true
	}
	return m
}

func TestWindow(t *testing.T) {
	warm := result.Site{CDD: [12]float64{0, 0, 0, 10, 60, 120, 180, 150, 60.5, 5, 0, 0}, HDD: [12]float64{400, 350, 250, 80, 10, 0, 0, 0, 5, 90, 260, 390}}
	at := func(s result.Site, lat float64) result.Site { s.Lat = lat; return s }
	for _, tt := range []struct {
		name string
		use  Use
		site result.Site
		want [12]bool
	}{
		{"north", Use{Months: months12(12, 1, 2)}, at(warm, 54), months12(12, 1, 2)},
		{"south: half a year later", Use{Months: months12(12, 1, 2)}, at(warm, -33), months12(6, 7, 8)},
		{"the equator counts as north", Use{Months: months12(3)}, at(warm, 0), months12(3)},
		{"just south of it", Use{Months: months12(3)}, at(warm, -0.01), months12(9)},
		{"cooling: above the threshold, not at it", Use{Season: Cooling, Threshold: 60}, at(warm, 40), months12(6, 7, 8, 9)},
		{"heating", Use{Season: Heating, Threshold: 100}, at(warm, 40), months12(1, 2, 3, 11, 12)},
		{"a season does not shift: degree days are the site's own", Use{Season: Heating, Threshold: 100}, at(warm, -40), months12(1, 2, 3, 11, 12)},
		{"no such season", Use{Season: Cooling, Threshold: 500}, at(warm, 40), months12()},
		{"demand takes months out", Use{Months: months12(5, 6, 7), Demand: [12]float64{5: 1, 6: 0.2}}, at(warm, 40), months12(6, 7)},
		{"demand alone", Use{Demand: [12]float64{0: 3, 11: 1}}, at(warm, 40), months12(1, 12)},
		{"demand shifts, too", Use{Demand: [12]float64{0: 3, 11: 1}}, at(warm, -40), months12(7, 6)},
		{"demand in a season of the south", Use{Season: Heating, Demand: [12]float64{0: 1, 1: 1}}, at(result.Site{HDD: [12]float64{6: 200, 7: 150, 8: 90}}, -35), months12(7, 8)},
		{"demand in a season", Use{Season: Cooling, Demand: [12]float64{6: 1, 7: 1, 0: 1}}, at(warm, 40), months12(7, 8)},
	} {
		if got := tt.use.window(&tt.site); got != tt.want {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}

// A month's heat is its number: January and February give 3, July and August 15.
func TestOnlyHeatOfTheUseCounts(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60)}, Use{Name: "a", Months: months12(1, 2)})
	for lat, want := range map[float64]float64{50: 3, -50: 15} {
		b := flat("x", lat, 0)
		for m := range 12 {
			b.Heat[m] = float32(m + 1)
		}
		if c := decide(t, o, b); c.heat[0] != want || math.Abs(c.lcoh[0]-1/want) > 1e-15 {
			t.Errorf("latitude %g: heat %g at %g, want %g at %g", lat, c.heat[0], c.lcoh[0], want, 1/want)
		}
	}
}

// Heat of 10, 20, … 120 kWh/m² from January to December.
func rising(lat float64) *result.Block {
	b := flat("x", lat, 0)
	for m := range 12 {
		b.Heat[m] = float32(10 * (m + 1))
	}
	return b
}

// A month's heat counts as far as the month wants it; nothing is stored.
func TestDemandCapsHeat(t *testing.T) {
	seasons := result.Site{HDD: [12]float64{300, 200, 100, 20, 0, 0, 0, 0, 0, 40, 150, 250}}
	for _, tt := range []struct {
		name       string
		use        Use
		lat, share float64
		heat, used float64
	}{
		// January and February want 20 and 40, December 30 (weights 2, 4, 3 of 90).
		{"weights", Use{Demand: [12]float64{0: 2, 1: 4, 11: 3}, Amount: 90}, 40, 1, 10 + 20 + 30, 60. / 150},
		// In the south they are those of July, August and June, 70, 80 and 60.
		{"weights in the south", Use{Demand: [12]float64{0: 2, 1: 4, 11: 3}, Amount: 90}, -40, 1, 20 + 40 + 30, 90. / 210},
		// The demand is of heat delivered: half of it asks for twice the heat.
		{"half delivered", Use{Demand: [12]float64{0: 2, 1: 4, 11: 3}, Amount: 90}, 40, 0.5, 10 + 20 + 60, 90. / 150},
		{"months alone want the same each", Use{Months: months12(3, 6, 9), Amount: 120}, 40, 1, 30 + 40 + 40, 110. / 180},
		// Above 60 K·d: 300, 200, 100, 150 and 250 of 1000.
		{"a season by its degree days", Use{Season: Heating, Threshold: 60, Amount: 200}, 40, 1, 10 + 20 + 20 + 30 + 50, 130. / 290},
		{"weights in a season", Use{Season: Heating, Threshold: 60, Demand: [12]float64{0: 1, 1: 1, 5: 8, 11: 2}, Amount: 100}, 40, 1, 10 + 20 + 50, 80. / 150},
		{"more than there is", Use{Months: months12(3, 6, 9), Amount: 1e5}, 40, 1, 180, 1},
		{"no amount: weights only choose the months", Use{Demand: [12]float64{0: 2, 1: 4, 11: 3}}, 40, 1, 150, 1},
	} {
		tt.use.Name = "u"
		o := handOptions(t, []result.Design{mirror(0, 60)}, tt.use)
		o.Markets[0].Plan.DeliveredShare = tt.share
		b := rising(tt.lat)
		b.Site.HDD = seasons.HDD
		m := moneyOf(t, o, b)
		if math.Abs(m.Heat-tt.heat) > 1e-9 || math.Abs(m.UsedShare-tt.used) > 1e-12 {
			t.Errorf("%s: heat %g, %g of it used; want %g and %g", tt.name, m.Heat, m.UsedShare, tt.heat, tt.used)
		}
		// What does not count costs: 10 over ten years' delivered heat.
		if want := 10 / (10 * tt.heat * tt.share); math.Abs(m.LCOH-want) > 1e-12 {
			t.Errorf("%s: %g per kWh, want %g", tt.name, m.LCOH, want)
		}
	}
}

// A small demand turns the choice: more mirror for heat that nobody takes is
// no gain.
func TestDemandTurnsTheChoice(t *testing.T) {
	designs := []result.Design{mirror(0, 60), mirror(1, 60)}
	b := flat("x", 40, 120, 240) // 10/1200 and 14/2400
	if c := decide(t, handOptions(t, designs, wholeYear), b); c.best != 1 {
		t.Errorf("design %d, want 1", c.best)
	}
	some := wholeYear
	some.Amount = 140 // 10/1200 and 14/1400
	if c := decide(t, handOptions(t, designs, some), b); c.best != 0 {
		t.Errorf("design %d, want 0", c.best)
	}
}

func TestUsesRefused(t *testing.T) {
	ok := wholeYear
	for _, tt := range []struct {
		uses []Use
		want string
	}{
		{nil, "use = [], want at least one"},
		{[]Use{ok, {Months: ok.Months}}, `use[1].name = "", want a name`},
		{[]Use{{Name: "!?", Months: ok.Months}}, `use[0].name = "!?", want a letter or digit`},
		{[]Use{{Name: "a"}}, "use[0].months = [], want at least one month, a season or a demand"},
		{[]Use{{Name: "a", Season: "rain"}}, `use[0].season = "rain", want cooling or heating`},
		{[]Use{{Name: "a", Season: Cooling, Months: ok.Months}}, `use[0].season = "cooling", want either months or a season`},
		{[]Use{{Name: "a", Season: Cooling, Threshold: -1}}, "use[0].threshold = -1, want degree days from 0"},
		{[]Use{{Name: "a", Months: ok.Months, Amount: -1}}, "use[0].demand_kwh_m2 = -1, want a number from 0"},
		{[]Use{{Name: "a", Demand: [12]float64{1, -1}}}, "use[0].demand = [1 -1 0"},
		{[]Use{{Name: "a", Months: months12(1), Demand: [12]float64{1: 1}}}, "want a weight above 0 in a month of the use"},
		{[]Use{ok, ok}, `use[1].name = "year", want another name or outlet: map-year-45.geojson is already that of "year" at 45 °C`},
		{[]Use{{Name: "hot water", Months: ok.Months}, {Name: "Hot/Water?", Months: ok.Months}}, `use[1].name = "Hot/Water?", want another name`},
	} {
		_, err := New(handOptions(t, []result.Design{mirror(0, 60)}, tt.uses...))
		var key *cost.KeyError
		if !errors.As(err, &key) || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want a *cost.KeyError with %q", err, tt.want)
		}
	}
}

func TestSlug(t *testing.T) {
	for name, want := range map[string]string{
		"showers":               "showers",
		"Winter showers":        "Winter-showers",
		"../../etc/passwd":      "etc-passwd",
		`a\b:c*d?"<>|e`:         "a-b-c-d-e",
		"café":                  "café",
		"cafe\u0301":            "café", // composed, so that both spellings are one name
		"冷房":                    "冷房",
		"\xff\x00a\nb":          "a-b",
		".hidden":               "hidden",
		" - ":                   "",
		strings.Repeat("x", 99): strings.Repeat("x", 81),
	} {
		if got := slug(name); got != want {
			t.Errorf("slug(%q) = %q, want %q", name, got, want)
		}
	}
}

func TestWhen(t *testing.T) {
	for _, tt := range []struct {
		use  Use
		want string
	}{
		{Use{Months: months12(1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12)}, "all year"},
		{Use{Demand: [12]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}}, "all year"},
		{Use{Months: months12(11, 12, 1, 2, 3)}, "Nov–Mar; southern hemisphere May–Sep"},
		{Use{Months: months12(5)}, "May; southern hemisphere Nov"},
		{Use{Demand: [12]float64{0, 1, 0, 2, 3}}, "Feb, Apr–May; southern hemisphere Aug, Oct–Nov"},
		{Use{Months: months12(1, 2, 3), Demand: [12]float64{0, 1, 1, 1}}, "Feb–Mar; southern hemisphere Aug–Sep"},
		{Use{Season: Heating, Threshold: 100}, "months over 100 K·d of heating"},
	} {
		if got := tt.use.when(true, true); got != tt.want {
			t.Errorf("%+v: %q, want %q", tt.use, got, tt.want)
		}
		north, _, _ := strings.Cut(tt.want, ";")
		if got := tt.use.when(true, false); got != north {
			t.Errorf("%+v in the north alone: %q", tt.use, got)
		}
		months := tt.use.northern()
		if got := months == [12]bool{}; got != (tt.use.Season != "") {
			t.Errorf("%+v: no months in the north: %v", tt.use, got)
		}
		if tt.use.Season == "" && months != [12]bool{true, true, true, true, true, true, true, true, true, true, true, true} && spans(months) != north {
			t.Errorf("%+v: months in the north %v", tt.use, months)
		}
	}
}
