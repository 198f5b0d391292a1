package study

import (
	"errors"
	"fmt"
	"io/fs"

	"stillrow/rank"
	"stillrow/rank/cost"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
)

// A Study is a study file with every value checked and every gap filled.
type Study struct {
	Name     string
	Currency string
	Preset   string // receiver the coefficients start from
	Receiver collector.Receiver
	Mirror   collector.Mirror
	Ground   collector.Ground
	Designs  []collector.Design
	Outlets  []collector.Outlet
	Uses     []rank.Use
	Plan     cost.Plan
	Gas      cost.Gas
	Wear     simulate.Wear
	Lives    rank.Lives
	BandDeg  float64
	Settings []Setting // in the order read
	Warnings []string  // what fits together badly, though nothing is wrong
}

// DefaultBook is the cost book for places that have none of their own.
const DefaultBook = "default"

// Load reads a study from text. Costs and gas it leaves out come from a cost
// book, books/NAME.toml in the file system: the one [cost] book names, else
// the one named otherwise. An error is Faults, one for each thing wrong.
func Load(file string, text []byte, books fs.FS, otherwise string) (*Study, error) {
	doc, err := parseDocument(file, text)
	if err != nil {
		return nil, err
	}
	r := &reader{doc: doc, source: "study"}
	s := &Study{}
	book := r.book(books, otherwise)
	r.table("study")
	s.Name = r.text("study.name", byDefault("unnamed study"))
	s.Currency = r.text("study.currency", book.text("book.currency"))
	if book.reader != nil && s.Currency != book.text("book.currency").value {
		r.usesBook(book, s.Currency)
	}
	var clear int
	s.Receiver, s.Preset, clear = r.receiver()
	s.Mirror = r.mirror()
	s.Ground = r.ground()
	s.Designs = r.designs()
	s.Outlets = r.outlets()
	s.Uses = r.uses()
	s.Plan = r.plan(book)
	s.Gas = r.gas(book)
	s.Warnings = r.filmsPriced(book, s.Preset, clear)
	s.Wear, s.Lives = r.wear()
	r.table("rank")
	r.text("rank.by", byDefault("lcoh"), "lcoh")
	r.table("map")
	s.BandDeg = r.number("map.band_deg", span{lo: 0.1, hi: 90}, byDefault(2.0))
	if r.has("map.within") {
		r.fault("map.within", "map.within: this version maps every site, leave the key out")
	}
	if len(r.faults) == 0 {
		r.designCosts(s)
	}
	if err := r.finish(); err != nil {
		return nil, err
	}
	s.Settings = r.settings
	return s, nil
}

// usesBook refuses prices of a book in another currency than the study's.
func (r *reader) usesBook(b book, currency string) {
	if r.has("cost.item") && r.has("cost.labour_per_h") && r.has("gas.price_per_kwh") {
		return
	}
	r.fault("study.currency", "study.currency = %q, but the cost book %s, which fills what [cost] and [gas] leave out, is in %s",
		currency, b.name, b.text("book.currency").value)
}

// designCosts finds items that do not fit a design, as ground without a pitch.
func (r *reader) designCosts(s *Study) {
	if err := s.Plan.Validate(); err != nil {
		r.keyFault(err)
		return
	}
	for _, d := range s.Designs {
		if _, err := s.Plan.PVCost(result.Design(d)); err != nil {
			r.keyFault(err)
			return
		}
	}
}

// keyFault places an error that begins with a key of the study.
func (r *reader) keyFault(err error) {
	key := ""
	var at *cost.KeyError
	if errors.As(err, &at) {
		key = at.Key
	}
	r.fault(key, "%v", err)
}

// A book is the cost book that fills gaps.
type book struct {
	*reader // nil when it could not be read, which is a fault of the study
	name    string
}

func (r *reader) book(books fs.FS, otherwise string) book {
	r.table("cost")
	name := r.text("cost.book", byDefault(otherwise))
	text, err := fs.ReadFile(books, "books/"+name+".toml")
	if err != nil {
		r.fault("cost.book", "cost.book = %q, want one of %s", name, bookNames(books))
		return book{name: name}
	}
	doc, err := parseDocument("book "+name+".toml", text)
	if err != nil {
		r.fault("cost.book", "cost.book = %q: %v", name, err)
		return book{name: name}
	}
	return book{&reader{doc: doc, source: "book " + name + ".toml"}, name}
}

func bookNames(books fs.FS) string {
	list, _ := fs.Glob(books, "books/*.toml") // the pattern is good
	text := ""
	for i, p := range list {
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprintf("%q", p[len("books/"):len(p)-len(".toml")])
	}
	return text
}

func (b book) number(key string) fallback[float64] {
	if b.reader == nil || !b.has(key) {
		return byDefault(0.0)
	}
	return fallback[float64]{b.reader.number(key, anyNumber, byDefault(0.0)), b.source}
}

func (b book) text(key string) fallback[string] {
	if b.reader == nil || !b.has(key) {
		return byDefault("")
	}
	return fallback[string]{b.reader.text(key, byDefault("")), b.source}
}
