package study

import (
	"fmt"
	"io/fs"
	"math"
	"strings"
	"testing"
	"testing/fstest"

	"stillrow/data"
)

// Invented books: a whole one, one that builds on it, and rates.
func shelfOf(region string) fstest.MapFS {
	return fstest.MapFS{
		"books/default.toml": books["books/default.toml"],
		"books/region.toml":  {Data: []byte(region)},
		RatesFile:            {Data: []byte("[[rate]]\ncurrency = \"USD\"\nyear = 2022\nper_eur = 1.25\nsource = \"invented\"\nlicence = \"none\"\n[[rate]]\ncurrency = \"USD\"\nyear = 2024\nper_eur = 1.5\nsource = \"invented\"\nlicence = \"none\"\n")},
	}
}

const region = `[book]
name = "region"
base = "default"
currency = "USD"
year = 2024
countries = ["AA", "BB"]
[cost]
labour_per_h = {value = 12, assumption = "near enough"}
[gas]
price_per_kwh = {value = 0.05, year = 2022, source = "an office", licence = "open"}
basis = "hhv"
household_per_kwh = {value = 0.08, assumption = "near enough"}
[electricity]
price_per_kwh = {value = 0.15, assumption = "near enough"}
[country.BB.cost]
labour_per_h = {value = 3, assumption = "poor"}
`

// A figure is the country's, else the book's, else that of the book it builds
// on, each exchanged from its own currency at its own year's rate.
func TestFiguresByCountry(t *testing.T) {
	files := shelfOf(region)
	for _, tt := range []struct {
		study, book                         string
		currency                            string
		labour, gas, film, boilerEfficiency float64
	}{
		{"", "region", "USD", 12, 0.05, 2 * 1.25, 0.9},
		{"", "region/AA", "USD", 12, 0.05, 2 * 1.25, 0.9},
		{"", "region/BB", "USD", 3, 0.05, 2 * 1.25, 0.9},
		{"[study]\ncurrency = \"EUR\"\n", "region/BB", "EUR", 3 / 1.5, 0.05 / 1.25, 2, 0.9},
		{"[study]\ncurrency = \"EUR\"\n[cost]\nlabour_per_h = 7\n", "region/BB", "EUR", 7, 0.05 / 1.25, 2, 0.9},
		{"[study]\ncurrency = \"USD\"\n", "default", "USD", 20 * 1.25, 0.06 * 1.25, 2 * 1.25, 0.9},
	} {
		s, err := Load("s.toml", []byte(least+tt.study), files, tt.book)
		if err != nil {
			t.Errorf("%s: %v", tt.book, err)
			continue
		}
		got := []float64{s.Plan.LabourPerH, s.Gas.PricePerKWh, s.Plan.Items[0].Price, s.Gas.BoilerEfficiency}
		for i, want := range []float64{tt.labour, tt.gas, tt.film, tt.boilerEfficiency} {
			if math.Abs(got[i]-want) > 1e-12 {
				t.Errorf("%q on %s: labour, gas, film, boiler %v; number %d should be %g", tt.study, tt.book, got, i, want)
			}
		}
		if s.Currency != tt.currency {
			t.Errorf("%q on %s: in %s, want %s", tt.study, tt.book, s.Currency, tt.currency)
		}
	}
	s, err := Load("s.toml", []byte(least+"[study]\ncurrency = \"EUR\"\n"), files, "region/BB")
	if err != nil {
		t.Fatal(err)
	}
	for key, want := range map[string]string{
		"cost.labour_per_h": "book region.toml, assumption: poor; 1 USD = 0.6667 EUR, 2024",
		"gas.price_per_kwh": "book region.toml: an office, 2022 (open); 1 USD = 0.8 EUR, 2022",
		"gas.basis":         "book region.toml", "cost.fade": "book default.toml", "cost.item[0].price": "book default.toml",
	} {
		if got := setting(t, s, key).Source; got != want {
			t.Errorf("%s comes from %q, want %q", key, got, want)
		}
	}
}

// Each slip in a book is one line that names the book, the line and the column.
func TestBadBooks(t *testing.T) {
	for _, tt := range []struct{ name, text, old, new, want string }{
		{"unknown key", region, "[gas]", "labor_per_h = 2\n[gas]", `book region.toml:9:1: unknown key cost.labor_per_h: is labour_per_h meant?`},
		{"unknown country's table", region, "country.BB", "country.CC", `book region.toml:15:10: unknown key country.CC`},
		{"negative", region, "value = 3,", "value = -3,", `book region.toml:16:17: country.BB.cost.labour_per_h.value = -3, want 0 to 1e+09`},
		{"no value", region, "value = 12, ", "", `book region.toml:8:1: cost.labour_per_h.value is missing`},
		{"no origin", region, `, assumption = "poor"`, "", `book region.toml:16:1: country.BB.cost.labour_per_h has no origin`},
		{"no licence", region, `, licence = "open"`, "", `book region.toml:10:1: gas.price_per_kwh has no origin`},
		{"no year", region, "year = 2022, ", "", `book region.toml:10:1: gas.price_per_kwh has no origin`},
		{"two origins", region, `licence = "open"`, `licence = "open", assumption = "no"`, `gas.price_per_kwh.assumption beside a source`},
		{"basis", region, `"hhv"`, `"net"`, `book region.toml:11:1: gas.basis = "net", want "lhv" or "hhv"`},
		{"code", region, `"BB"]`, `"bb"]`, `book region.toml:6:20: book.countries[1] = "bb", want two capitals`},
		{"code twice", region, `"BB"]`, `"BB", "AA"]`, `book.countries lists "AA" twice`},
		{"other name", region, `name = "region"`, `name = "place"`, `book.name = "place", want "region"`},
		{"no currency", region, "currency = \"USD\"\n", "", `book.currency is missing`},
		{"on itself", region, `"default"`, `"region"`, `book.base = "region", which builds on this book`},
		{"on nothing", region, `"default"`, `"nowhere"`, `book region.toml:3:1: book.base = "nowhere"`},
		{"not TOML", region, "[gas]", "[gas", `book region.toml:9:`},
	} {
		text := strings.Replace(tt.text, tt.old, tt.new, 1)
		if text == tt.text {
			t.Fatalf("%s: %q is not in the book", tt.name, tt.old)
		}
		files := shelfOf(text)
		_, err := Load("s.toml", []byte(least), files, "region")
		if err == nil || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want one line with %s", tt.name, err, tt.want)
		}
		if _, err := Books(files); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: Books: %v, want %s in it", tt.name, err, tt.want)
		}
	}
	for _, tt := range []struct{ text, book, want string }{
		{least, "region/CC", `cost.book = "region/CC": unknown country "CC", the book region has AA, BB`},
		{least, "default/AA", `unknown country "AA", the book default has none`},
		{least, "nowhere/AA", `cost.book = "nowhere/AA", want one of "default", "region"`},
		{"[study]\ncurrency = \"SEK\"\n" + least, "region", `s.toml:2:1: study.currency = "SEK", but the cost book region, which fills what [cost] and [gas] leave out, is in USD`},
	} {
		if _, err := Load("s.toml", []byte(tt.text), shelfOf(region), tt.book); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %s", tt.book, err, tt.want)
		}
	}
	files := shelfOf(region)
	files["books/second.toml"] = &fstest.MapFile{Data: []byte(strings.Replace(region, `"region"`, `"second"`, 1))}
	if _, err := Books(files); err == nil || !strings.Contains(err.Error(), "country AA is in the book region/AA too") {
		t.Errorf("a country in two books: %v", err)
	}
	files = shelfOf(region)
	files[RatesFile] = &fstest.MapFile{Data: []byte("[[rate]]\ncurrency = \"USD\"\nyear = 2022\nper_eur = 0\n")}
	if _, err := Load("s.toml", []byte(least), files, "region"); err == nil || !strings.Contains(err.Error(), "rates.toml:") {
		t.Errorf("bad rates: %v", err)
	}
}

// Sites of several countries: one study a book, in one currency.
func TestLoadEach(t *testing.T) {
	names := []string{"north-america/US", "european-union/PT", "european-union/BG", "india/IN", "european-union/PT", DefaultBook}
	list, err := LoadEach("s.toml", []byte(least), data.FS, names)
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != 5 {
		t.Fatalf("%d studies, want 5", len(list))
	}
	rest := func(s *Study) string { // as text, for NaN is what is not stated
		return fmt.Sprintf("%+v", []any{s.Designs, s.Outlets, s.Preset, s.Receiver.Eta0b, s.Receiver.C1, s.Mirror, s.Ground, s.Uses, s.Wear, s.Lives, s.BandDeg})
	}
	for name, s := range list {
		if s.Currency != "EUR" {
			t.Errorf("%s is in %s", name, s.Currency)
		}
		if rest(s) != rest(list[names[0]]) {
			t.Errorf("%s: more than the money differs", name)
		}
	}
	// Eurostat's 10.6 EUR/h for Bulgaria, 2024; the EIA's 7.66 $ per 1000 cubic
	// feet of 304.2 kWh, 2022, at the European Central Bank's 1.053 $ (from memory).
	if got := list["european-union/BG"].Plan.LabourPerH; got != 10.6 {
		t.Errorf("labour in Bulgaria %g", got)
	}
	if got, want := list["north-america/US"].Gas.PricePerKWh, 7.66/304.2/1.053; math.Abs(got/want-1) > 0.002 {
		t.Errorf("gas in the United States %g EUR/kWh, want %g", got, want)
	}
	if list, err = LoadEach("s.toml", []byte(least), data.FS, []string{"north-america/US", "india/IN"}); err != nil || list["india/IN"].Currency != "USD" {
		t.Errorf("books in dollars: %v", err)
	}
	if _, err := LoadEach("s.toml", []byte(least), data.FS, []string{"nowhere"}); err == nil {
		t.Error("no error for a book that is not there")
	}
}

// Gas heat of the published prices, by hand: 0.0624 €/kWh at 0.90 and 0.1233 at
// 0.92 of the higher heating value give 0.0693 and 0.134 €/kWh (Eurostat's means
// of the Union, second half of 2024). The boiler of the books has 0.90 of the
// lower heating value, 0.90/1.109 of the higher one.
func TestGasHeatOfTheUnion(t *testing.T) {
	s, err := Load("s.toml", []byte(least), data.FS, "european-union/PT")
	if err != nil {
		t.Fatal(err)
	}
	g := s.Gas
	g.BoilerRunningPerKWh = 0
	if got, want := g.HeatCost(), 0.0693*1.109; math.Abs(got/want-1) > 0.001 {
		t.Errorf("gas heat %.4f, want %.4f EUR/kWh", got, want)
	}
}

func FuzzReadBook(f *testing.F) {
	f.Add([]byte(region))
	text, err := fs.ReadFile(data.FS, "books/north-america.toml")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Fuzz(func(_ *testing.T, text []byte) {
		files := shelfOf(string(text))
		if b, err := readBook(files, "region"); err == nil {
			for _, c := range b.countries {
				book{bookFile: b, country: c, into: b.currency}.figure("gas.price_per_kwh")
			}
		}
	})
}
