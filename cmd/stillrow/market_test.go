package main

import (
	"encoding/json"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"

	"stillrow/cmd/stillrow/study"
	"stillrow/ingest/weather/realfiles"
	"stillrow/simulate/result"
)

// Places as common knowledge has them, from memory, good to about 0.02°.
var (
	madrid   = result.Site{ID: "madrid", Lat: 40.42, Lon: -3.70, Country: "ESP"}
	phoenix  = result.Site{ID: "phoenix", Lat: 33.45, Lon: -112.07, Country: "USA"}
	offshore = result.Site{ID: "off Málaga", Lat: 36.55, Lon: -4.4} // some 20 km
	midOcean = result.Site{ID: "mid-ocean", Lat: 30, Lon: -42, Country: "high seas"}
	island   = result.Site{ID: "island", Lat: 36.5, Lon: -42, Country: "Halvane"}
)

func marketsOf(t *testing.T, text string, sites ...result.Site) *markets {
	t.Helper()
	path := write(t, filepath.Join(t.TempDir(), "study.toml"), text)
	m, err := studyFlag{&path}.markets(sites)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

const leastStudy = "[designs]\nmirror_tilt_deg = [70, 80]\n"

func TestBookOfACountry(t *testing.T) {
	for _, tt := range []struct {
		name     string
		sites    []result.Site
		books    []string
		number   []int // of each site
		currency string
	}{
		{"one country", []result.Site{madrid}, []string{"european-union/ES"}, []int{0}, "EUR"},
		{"its own money", []result.Site{phoenix}, []string{"north-america/US"}, []int{0}, "USD"},
		{"two countries in one money", []result.Site{phoenix, madrid, phoenix, offshore}, []string{"north-america/US", "european-union/ES"}, []int{0, 1, 0, 1}, "EUR"},
		{"no book: the default one, first", []result.Site{madrid, midOcean}, []string{"default", "european-union/ES"}, []int{1, -1}, "EUR"},
		{"the island by its name", []result.Site{island}, []string{"halvane"}, []int{0}, "EUR"},
		{"no sites", nil, []string{"default"}, nil, "EUR"},
	} {
		m := marketsOf(t, leastStudy, tt.sites...)
		o := m.ranking()
		var books []string
		for _, market := range o.Markets {
			books = append(books, market.Book)
		}
		var number []int
		for _, s := range tt.sites {
			number = append(number, o.MarketOf(s))
		}
		if !slices.Equal(books, tt.books) || !slices.Equal(number, tt.number) || o.Currency != tt.currency {
			t.Errorf("%s: books %v in %s, sites in %v; want %v in %s, %v", tt.name, books, o.Currency, number, tt.books, tt.currency, tt.number)
		}
	}
	o := marketsOf(t, leastStudy, madrid, midOcean, island, offshore).ranking()
	for _, c := range []struct {
		site result.Site
		want string
	}{{madrid, "ES"}, {offshore, "ES"}, {midOcean, "high seas"}, {island, "Halvane"}} {
		if got := o.CountryOf(c.site); got != c.want {
			t.Errorf("%s lies in %q, want %q", c.site.ID, got, c.want)
		}
	}
	// The US price of the book, 7.66 $/Mcf in 2022 (EIA), is that of Phoenix alone.
	o = marketsOf(t, leastStudy, phoenix, madrid).ranking()
	if us, eu := o.Markets[0].Gas.PricePerKWh, o.Markets[1].Gas.PricePerKWh; math.Abs(us-7.66/304.2/1.0530) > 2e-4 || math.Abs(eu-0.0624) > 1e-9 {
		t.Errorf("gas at %g and %g €/kWh", us, eu) // 1.0530 $/€: ECB, mean of 2022
	}
}

func TestNamedBookIsForAll(t *testing.T) {
	m := marketsOf(t, leastStudy+"[cost]\nbook = \"india\"\n", madrid, phoenix, midOcean)
	o := m.ranking()
	if len(o.Markets) != 1 || o.Markets[0].Book != "india" {
		t.Errorf("%d markets, the first %q", len(o.Markets), o.Markets[0].Book)
	}
	for _, s := range []result.Site{madrid, phoenix, midOcean} {
		if o.MarketOf(s) != 0 {
			t.Errorf("%s is in market %d", s.ID, o.MarketOf(s))
		}
	}
	if _, books := m.records(); len(books) != 1 || books[0].Sites != 3 || books[0].StandsIn != 0 || books[0].Settings != nil {
		t.Errorf("%+v", books)
	}
}

// The record says what each book fills in, and what holds everywhere once.
func TestBooksOnRecord(t *testing.T) {
	m := marketsOf(t, leastStudy+"[cost]\nlabour_per_h = 9.5\n[study]\ncurrency = \"EUR\"\n", madrid, phoenix, offshore, midOcean)
	shared, books := m.records()
	var sites [][2]int
	for i, b := range books {
		all := len(m.studies[i].Settings)
		sites = append(sites, [2]int{b.Sites, b.StandsIn})
		if len(b.Settings)+len(shared) != all {
			t.Errorf("%s: %d settings of its own and %d shared, want %d in all", b.Book, len(b.Settings), len(shared), all)
		}
		at := slices.IndexFunc(b.Settings, func(s study.Setting) bool { return s.Key == "gas.price_per_kwh" })
		if at < 0 || !strings.Contains(b.Settings[at].Source, strings.Split(b.Book, "/")[0]) {
			t.Errorf("%s: gas price not among %v", b.Book, b.Settings)
		}
	}
	if d := cmp.Diff([][2]int{{0, 1}, {2, 0}, {1, 0}}, sites); d != "" {
		t.Errorf("sites by book, -want +got:\n%s", d)
	}
	if !slices.ContainsFunc(shared, func(s study.Setting) bool { return s.Key == "cost.labour_per_h" && s.Value == 9.5 }) {
		t.Error("the study's labour is not shared")
	}
}

// heatTable writes invented heat of the study's two designs at two outlets.
func heatTable(t *testing.T, sites ...result.Site) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "heat")
	w, err := result.Create(dir, result.Table{
		Designs: []result.Design{{ReceiverWidth: 1, MirrorTilt: 70}, {ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 80}}, Outlets: []float64{45, 60},
	})
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for _, s := range sites {
		b := &result.Block{Site: s}
		for i := range 2 * 2 * 12 {
			b.Heat = append(b.Heat, float32(40+i/12*5))
		}
		if err := w.Append(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

// What if: one heat table, other prices and uses, no simulation in between.
func TestRankAgainWithAnotherStudy(t *testing.T) {
	heat := heatTable(t, madrid, phoenix, midOcean)
	type line struct {
		Site    string   `parquet:"site_id"`
		Country string   `parquet:"country"`
		Book    string   `parquet:"book"`
		Gas     float64  `parquet:"gas_heat_per_kwh"`
		LCOH    *float64 `parquet:"lcoh_per_kwh"`
		Ratio   *float64 `parquet:"gas_ratio"`
		Used    *float64 `parquet:"used_share"`
	}
	rank := func(text string) ([]line, runRecord) {
		t.Helper()
		dir := t.TempDir()
		r := stillrow(t, "rank", "--quiet", "--heat", heat, "--study", write(t, filepath.Join(dir, "s.toml"), text), "--out", filepath.Join(dir, "out"))
		if r.status != exitDone {
			t.Fatalf("status %d: %s", r.status, r.stderr)
		}
		rows, err := parquet.ReadFile[line](filepath.Join(dir, "out", "ranking.parquet"))
		if err != nil {
			t.Fatal(err)
		}
		var record runRecord
		if err := json.Unmarshal([]byte(files(t, filepath.Join(dir, "out"))["run.json"]), &record); err != nil {
			t.Fatal(err)
		}
		return rows, record
	}
	first, record := rank(leastStudy + "[[use]]\nname = \"all\"\nmonths = [1,2,3,4,5,6,7,8,9,10,11,12]\n")
	var where []string
	for i := range first {
		if i%2 == 0 {
			where = append(where, first[i].Country+" "+first[i].Book)
		}
	}
	if d := cmp.Diff([]string{"US north-america/US", "ES european-union/ES", "high seas default (no book)"}, where); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	if len(record.Books) != 3 || record.Books[0].Book != "default" || record.Books[0].StandsIn != 1 || record.Ranking.Currency != "EUR" {
		t.Errorf("run.json: %+v in %s", record.Books, record.Ranking.Currency)
	}
	// Gas at twice Madrid's price, for all, and half of the heat wanted.
	gas := "[gas]\nprice_per_kwh = 0.1248\nbasis = \"hhv\"\n"
	again, _ := rank(leastStudy + gas + "[[use]]\nname = \"all\"\ndemand = [1,1,1,1,1,1,1,1,1,1,1,1]\ndemand_kwh_m2 = 240\n[heat]\noutlet_c = [45]\n[rank]\nby = \"saving\"\n")
	if len(again) != len(first) || again[2].Gas < 1.9*first[2].Gas { // Madrid
		t.Errorf("%d rows, heat from gas at %g, before %g", len(again), again[2].Gas, first[2].Gas)
	}
	// 20 kWh/m² a month are wanted of 40 or more, so heat costs twice as much or more.
	for i := range again {
		if !(*again[i].Used <= 0.5) || *again[i].LCOH < 2*0.9**first[i].LCOH {
			t.Errorf("row %d: %g used at %g, before at %g", i, *again[i].Used, *again[i].LCOH, *first[i].LCOH)
		}
	}
}

// What is wrong with the money of a study costs no simulation: one line names
// the key and its place.
func TestBadMoney(t *testing.T) {
	heat := heatTable(t, madrid)
	weather := write(t, filepath.Join(t.TempDir(), "good.epw"), epwYear(nil))
	item := "[[cost.item]]\nname = \"film\"\nunit = \"receiver_m2\"\n"
	for _, tt := range []struct{ study, want string }{
		{"[cost]\ndiscount_rate = -1\n", ":4:1: cost.discount_rate = -1, want 0 to 1"},
		{item + "price = 2\nlife_years = 0\n", ":7:1: cost.item[0].life_years = 0, want 0.01 to 1000"},
		{item + "life_years = 3\n", "cost.item[0]"}, // no price: its heat would be free
		{"[study]\ncurrency = \"QQQ\"\n", `:4:1: study.currency = "QQQ"`},
		{"[cost]\nbook = \"european-union/XX\"\n", `:4:1: cost.book = "european-union/XX": unknown country "XX"`},
		{"[cost]\nbook = \"atlantis\"\n", `:4:1: cost.book = "atlantis", want one of`},
		{"[[use]]\nname = \"u\"\nmonths = []\n", ":5:1: use[0].months = [], want at least one month"},
		{"[[use]]\nname = \"u\"\nseason = \"heating\"\nbase_c = 15\n", ":6:1: use[0].base_c = 15, want 18.3"},
		{"[rank]\nby = \"luck\"\n", `:4:1: rank.by = "luck", want "lcoh", "saving" or "heat"`},
	} {
		dir := t.TempDir()
		study := write(t, filepath.Join(dir, "s.toml"), leastStudy+tt.study)
		out := filepath.Join(dir, "out")
		for _, words := range [][]string{{"rank", "--heat", heat}, {"screen", weather}} {
			r := stillrow(t, append(words, "--quiet", "--study", study, "--out", out)...)
			if r.status != exitUsage || !strings.Contains(r.stderr, "s.toml") || !strings.Contains(r.stderr, tt.want) || strings.Count(r.stderr, "\n") != 1 {
				t.Errorf("%s with %q: status %d: %s want one line with %q", words[0], tt.study, r.status, r.stderr, tt.want)
			}
			if left := files(t, out); len(left) > 0 {
				t.Errorf("%s with %q left %d files", words[0], tt.study, len(left))
			}
		}
	}
}

// A warning that many books call for is given once.
func TestWarningsOfManyBooks(t *testing.T) {
	m := marketsOf(t, leastStudy+"[receiver]\npreset = \"wet film\"\n", madrid, phoenix, midOcean)
	w := m.warnings()
	if len(w) != 1 || !strings.Contains(w[0], "the cost book default (and 2 more) prices 2") {
		t.Errorf("%q", w)
	}
}

// With cheap films, summer heat at 45 °C in a sunny desert costs a fraction of
// heat from gas, at the highest outlet about as much (common practice, no
// source), at the prices of the default book and with foam that bears it.
func TestDesertHeatAgainstGas(t *testing.T) {
	station := realfiles.Path(t, desertStation)
	path := write(t, filepath.Join(t.TempDir(), "study.toml"), `[receiver]
preset = "film over air gap"
foam_limit_c = 95.0
[designs]
receiver_width_m = 1.2
mirror_length_m = [0, 0.8, 1.6]
mirror_tilt_deg = { from = 60, to = 90, step = 10 }
row_pitch_m = 3.6
[heat]
outlet_c = [45, 90]
delivered_share = 0.9
[[use]]
name = "summer"
months = [5, 6, 7, 8, 9]
[cost]
book = "default"
`)
	r := stillrow(t, "site", "--quiet", "--json", "--weather", station, "--study", path)
	for _, res := range decode[struct{ Results []heatResult }](t, r).Results {
		low, high := 0.0, 1./3
		if res.Outlet == 90 {
			low, high = 0.5, 2
		}
		if !(*res.Ratio > low && *res.Ratio < high) {
			t.Errorf("%g °C: %.3f of the cost of heat from gas, want %.2g to %.2g", res.Outlet, *res.Ratio, low, high)
		}
	}
}
