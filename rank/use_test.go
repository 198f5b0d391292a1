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
