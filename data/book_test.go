package data_test

import (
	"bytes"
	"io/fs"
	"regexp"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"stillrow/cmd/stillrow/study"
	"stillrow/data"
	"stillrow/data/world"
)

// A book has the keys of a study's [cost] and [gas]; a figure is nil where
// the book lacks the key. One that builds on another states each figure as a table
// with its origin.
type book struct {
	Book struct {
		Name, Currency, Note, Base string
		Year                       int
		ClearFilms                 int `toml:"clear_films"`
	}
	Cost struct {
		HorizonYears   any `toml:"horizon_years"`
		DiscountRate   any `toml:"discount_rate"`
		Fade           any
		LabourPerH     any `toml:"labour_per_h"`
		SiteReceiverM2 any `toml:"site_receiver_m2"`
		Item           []struct {
			Name, Unit, Film string
			Price            any
			LabourH          any `toml:"labour_h"`
			LifeYears        any `toml:"life_years"`
			RunningPerYear   any `toml:"running_per_year"`
		}
	}
	Electricity struct {
		PricePerKWh any `toml:"price_per_kwh"`
		PumpShare   any `toml:"pump_share"`
	}
	Gas struct {
		PricePerKWh         any `toml:"price_per_kwh"`
		Basis               string
		BoilerEfficiency    any `toml:"boiler_efficiency"`
		BoilerRunningPerKWh any `toml:"boiler_running_per_kwh"`
		CarbonPricePerKg    any `toml:"carbon_price_per_kg"`
	}
}

// likely is the value of a figure, 0 for none: a number, or a table that gives
// value or likely.
func likely(v any) float64 {
	switch v := v.(type) {
	case float64:
		return v
	case int64:
		return float64(v)
	case map[string]any:
		if one, ok := v["value"]; ok {
			return likely(one)
		}
		return likely(v["likely"])
	}
	return 0
}

func books(t *testing.T) map[string][]byte {
	t.Helper()
	paths, err := fs.Glob(data.FS, "books/*.toml")
	if err != nil || len(paths) == 0 {
		t.Fatalf("%d books, %v", len(paths), err)
	}
	list := map[string][]byte{}
	for _, p := range paths {
		text, err := data.FS.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		list[p] = text
	}
	return list
}

// whole gives the books that build on no other.
func whole(t *testing.T) map[string][]byte {
	list := books(t)
	for p, text := range list {
		if strings.Contains(string(text), "\nbase = ") {
			delete(list, p)
		}
	}
	return list
}

// Every book reads under the rules of the study's reader, no country has two,
// and each country named is one of the map's.
func TestBooksByCountry(t *testing.T) {
	shelf, err := study.Books(data.FS)
	if err != nil {
		t.Fatal(err)
	}
	w, err := world.Load(data.FS)
	if err != nil {
		t.Fatal(err)
	}
	with := 0
	for _, c := range w.Countries {
		if shelf.Of(c.Code) != "" {
			with++
		}
	}
	codes := regexp.MustCompile(`"[A-Z]{2}"`)
	named := 0
	for _, text := range books(t) {
		named += len(codes.FindAll(text, -1))
	}
	if with != named || with < 150 {
		t.Errorf("%d countries of the map have a book, the books name %d", with, named)
	}
	for code, want := range map[string]string{"PT": "european-union/PT", "US": "north-america/US", "IN": "india/IN", "AQ": "", "": ""} {
		if got := shelf.Of(code); got != want {
			t.Errorf("%q has the book %q, want %q", code, got, want)
		}
	}
}

func TestBooksAreComplete(t *testing.T) {
	for path, text := range whole(t) {
		var b book
		in := toml.NewDecoder(bytes.NewReader(text))
		in.DisallowUnknownFields()
		if err := in.Decode(&b); err != nil {
			t.Errorf("%s: %v", path, err)
			continue
		}
		if path != "books/"+b.Book.Name+".toml" || len(b.Book.Currency) != 3 || b.Book.Year < 2020 || b.Book.ClearFilms < 1 {
			t.Errorf("%s: [book] %+v", path, b.Book)
		}
		for key, v := range map[string]any{
			"cost.horizon_years": b.Cost.HorizonYears, "cost.discount_rate": b.Cost.DiscountRate, "cost.fade": b.Cost.Fade,
			"cost.labour_per_h": b.Cost.LabourPerH, "cost.site_receiver_m2": b.Cost.SiteReceiverM2,
			"gas.price_per_kwh": b.Gas.PricePerKWh, "gas.boiler_efficiency": b.Gas.BoilerEfficiency,
			"gas.boiler_running_per_kwh": b.Gas.BoilerRunningPerKWh, "gas.carbon_price_per_kg": b.Gas.CarbonPricePerKg,
		} {
			if v == nil {
				t.Errorf("%s: %s is missing", path, key)
			}
		}
		if b.Gas.Basis != "hhv" && b.Gas.Basis != "lhv" {
			t.Errorf("%s: gas.basis = %q", path, b.Gas.Basis)
		}
		films := map[string]bool{}
		for _, item := range b.Cost.Item {
			films[item.Film] = true
			if likely(item.LifeYears) <= 0 || likely(item.Price)+likely(item.LabourH)+likely(item.RunningPerYear) <= 0 {
				t.Errorf("%s: item %q costs nothing or lasts no time", path, item.Name)
			}
		}
		for _, film := range []string{"clear", "black", "mirror"} {
			if !films[film] {
				t.Errorf("%s: no item for the %s film", path, film)
			}
		}
	}
}

// A very cheap heater without its mirror is thought to cost 15 to 40 EUR per m²
// of receiver, labour included (the project's own expectation, no source).
func TestBooksAreCheap(t *testing.T) {
	const width = 1.0 // m of receiver to a m of row
	for path, text := range whole(t) {
		var b book
		if err := toml.Unmarshal(text, &b); err != nil {
			t.Fatal(err)
		}
		var sum float64
		for _, item := range b.Cost.Item {
			each := likely(item.Price) + likely(item.LabourH)*likely(b.Cost.LabourPerH)
			switch item.Unit {
			case "receiver_m2":
				sum += each
			case "row_m":
				sum += each / width
			case "site":
				sum += each / likely(b.Cost.SiteReceiverM2)
			}
		}
		if sum < 15 || sum > 40 {
			t.Errorf("%s: %.1f EUR per m² of receiver", path, sum)
		}
	}
}

// Beside every figure stands where it comes from.
func TestBooksGiveReasons(t *testing.T) {
	figure := regexp.MustCompile(`^[a-z0-9_]+ = [0-9.]+`)
	bare := regexp.MustCompile(`(?m)^[a-z0-9_]+ = [0-9.]`)
	for path, text := range books(t) {
		if strings.Contains(string(text), "\nbase = ") {
			_, figures, _ := strings.Cut(string(text), "\n[cost]\n")
			if bare.MatchString(figures) {
				t.Errorf("%s has a figure without an origin", path)
			}
		}
	}
	for path, text := range books(t) {
		for i, line := range strings.Split(string(text), "\n") {
			if _, why, ok := strings.Cut(line, "# "); figure.MatchString(line) && (!ok || len(why) < 10) {
				t.Errorf("%s:%d: %q gives no reason", path, i+1, line)
			}
		}
	}
}
