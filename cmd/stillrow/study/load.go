package study

import (
	"errors"
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
	Book     string // that fills what the study leaves out of prices
	OwnBook  bool   // the study names it
	By       rank.By
	CostCap  float64 // of heat per kWh, with rank.ByHeat
	Plan     cost.Plan
	Gas      cost.Gas
	Wear     simulate.Wear
	Lives    rank.Lives
	BandDeg  float64
	Within   *AreaFile // of the map; nil for everywhere
	Spread   Spread
	Settings []Setting // in the order read
	Warnings []string  // what fits together badly, though nothing is wrong
}

// DefaultBook is the cost book for places that have none of their own.
const DefaultBook = "default"

// Load reads a study from text. Costs and gas it leaves out come from a cost
// book, books/NAME.toml in the file system: the one [cost] book names, else
// the one named otherwise. NAME/CODE is a book with its figures for one country.
// Prices of a book in another currency than the study's are exchanged by the
// rates of RatesFile. An error is Faults, one for each thing wrong.
func Load(file string, text []byte, books fs.FS, otherwise string) (*Study, error) {
	return loadIn(file, text, books, otherwise, "")
}

// loadIn takes the currency for a study that states none, "" for the book's.
func loadIn(file string, text []byte, books fs.FS, otherwise, currency string) (*Study, error) {
	doc, err := parseDocument(file, text)
	if err != nil {
		return nil, err
	}
	r := &reader{doc: doc, source: "study"}
	s := &Study{}
	book := r.book(books, otherwise)
	s.Book, s.OwnBook = book.name, r.has("cost.book")
	r.table("study")
	s.Name = r.text("study.name", byDefault("unnamed study"))
	s.Currency = r.text("study.currency", book.currencyOr(currency))
	if book.bookFile != nil {
		book.into = s.Currency
		r.usesBook(book)
	}
	var clear int
	s.Receiver, s.Preset, clear = r.receiver()
	s.Mirror = r.mirror()
	s.Ground = r.ground()
	s.Designs = r.designs()
	s.Outlets = r.outlets()
	s.Uses = r.uses()
	s.Plan = r.plan(book, s.Designs)
	s.Gas = r.gas(book)
	s.Warnings = r.filmsPriced(book, s.Preset, clear)
	s.Wear, s.Lives = r.wear()
	s.Spread = r.spread(s.Receiver.Eta0b, s.Mirror.Reflectance*s.Mirror.Cleanliness)
	s.By, s.CostCap = r.by()
	r.table("map")
	s.BandDeg = r.number("map.band_deg", span{lo: 0.1, hi: 90}, byDefault(2.0))
	s.Within = r.within()
	if len(r.faults) == 0 {
		r.designCosts(s)
	}
	if err := r.finish(); err != nil {
		return nil, err
	}
	s.Settings = r.settings
	return s, nil
}

// usesBook refuses prices of a book that no rate turns into the study's currency.
func (r *reader) usesBook(b book) {
	from := b.without()
	if from == "" {
		return
	}
	missing := !r.has("cost.item")
	for key, k := range figureKeys {
		missing = missing || k.money && !r.has(key) && b.find(key).value != 0
	}
	if missing {
		r.fault("study.currency", "study.currency = %q, but the cost book %s, which fills what [cost] and [gas] leave out, is in %s, and %s has no rate between them",
			b.into, b.name, from, RatesFile)
	}
}

// designCosts finds items that do not fit a design, as ground without a pitch,
// and items that cost nothing because their price was left out.
func (r *reader) designCosts(s *Study) {
	if err := s.Plan.Validate(); err != nil {
		r.keyFault(err)
		return
	}
	for _, d := range s.Designs {
		pv, err := s.Plan.PVCost(result.Design(d))
		if err != nil {
			r.keyFault(err)
			return
		}
		if pv == 0 && !r.unpriced(s.Plan.Items) {
			r.fault("cost.item", "cost.item: nothing of it counts for a design with receiver_width_m = %g, mirror_length_m = %g: its heat would be free", d.ReceiverWidth, d.MirrorLength)
			return
		}
	}
	r.unpriced(s.Plan.Items)
}

// unpriced finds an item of the study that costs nothing because its price was
// left out.
func (r *reader) unpriced(items []cost.Item) bool {
	for i, it := range items {
		key := index("cost.item", i) + ".price"
		if r.has("cost.item") && !r.has(key) && it.LabourH == 0 && it.RunningPerYear == 0 {
			r.fault(key, "%s is missing, and so are labour_h and running_per_year", key)
			return true
		}
	}
	return false
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
