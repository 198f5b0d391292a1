package study

import (
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"stillrow/rank/cost"
)

// A bookFile is one cost book, books/NAME.toml, with every key known and every
// value in range. A figure may be a number, or a table that says where the
// number comes from:
//
//	{value = 33.5, year = 2024, source = "…", licence = "…"}
//	{value = 6.0, assumption = "a sentence that says why"}
type bookFile struct {
	name, file string
	currency   string
	year       int // of the prices that do not say theirs
	clearFilms int // that the items price, 0 where the book does not say
	countries  []string
	figures    map[string]figure // by key, which begins with country.CODE. where it is one country's
	basis      cost.Basis        // of the gas prices
	items      []cost.Item
	itemNotes  []Setting
	base       *bookFile // gives what this one leaves out; nil for none
}

// A figure is a number of a book and where it comes from.
type figure struct {
	value    float64
	year     int
	currency string // of money
	source   string
}

// A key of figures says what a figure may be, and whether it is money.
type figureKey struct {
	in    span
	money bool
}

// figureKeys are the single numbers that a study and a book may both state.
var figureKeys = map[string]figureKey{
	"cost.horizon_years":         {span{lo: 1, hi: 100, wholeOnly: true}, false},
	"cost.discount_rate":         {span{lo: 0, hi: 1}, false},
	"cost.fade":                  {span{lo: 0, hi: 1, lessThan: true}, false},
	"cost.labour_per_h":          {fromZero, true},
	"cost.site_receiver_m2":      {fromZero, false},
	"gas.price_per_kwh":          {span{lo: 0, hi: 1e6, aboveLo: true}, true},
	"gas.boiler_efficiency":      {span{lo: 0, hi: 1.2, aboveLo: true}, false},
	"gas.boiler_running_per_kwh": {fromZero, true},
	"gas.carbon_price_per_kg":    {fromZero, true},
}

// bookKeys are figures that books alone state: what households pay for gas, and
// everyone for electricity.
var bookKeys = map[string]figureKey{
	"gas.household_per_kwh":     {span{lo: 0, hi: 1e6, aboveLo: true}, true},
	"electricity.price_per_kwh": {span{lo: 0, hi: 1e6, aboveLo: true}, true},
}

// readBook reads a book and what it builds on; an error is Faults of the book,
// or a *fs.PathError where there is none of that name.
func readBook(books fs.FS, name string) (*bookFile, error) {
	return readBookFor(books, name, nil)
}

func readBookFor(books fs.FS, name string, above []string) (*bookFile, error) {
	text, err := fs.ReadFile(books, "books/"+name+".toml")
	if err != nil {
		return nil, err
	}
	file := "book " + name + ".toml"
	doc, err := parseDocument(file, text)
	if err != nil {
		return nil, err
	}
	r := &reader{doc: doc, source: file}
	b := &bookFile{name: name, file: file, figures: make(map[string]figure)}
	r.bookHead(b)
	r.bookFigures(b, "")
	for _, code := range b.countries {
		r.bookFigures(b, "country."+code+".")
	}
	r.table("gas")
	b.basis = cost.Basis(r.text("gas.basis", byDefault(""), string(cost.LowerHeatingValue), string(cost.HigherHeatingValue)))
	for key := range b.figures {
		if b.basis == "" && strings.HasSuffix(key, "gas.price_per_kwh") {
			b.basis = cost.LowerHeatingValue // as in a study
		}
	}
	r.settings = nil
	b.items = r.items(r.tables("cost.item"))
	for _, s := range r.settings {
		if s.Source == r.source { // an item's defaults are no assumption of the book
			b.itemNotes = append(b.itemNotes, s)
		}
	}
	if base := r.text("book.base", byDefault("")); base != "" {
		above = append(above, name)
		if slices.Contains(above, base) {
			r.fault("book.base", "book.base = %q, which builds on this book", base)
		} else if b.base, err = readBookFor(books, base, above); err != nil {
			r.fault("book.base", "book.base = %q: %s", base, firstLine(err))
		}
	}
	return b, r.finish()
}

// bookHead reads [book].
func (r *reader) bookHead(b *bookFile) {
	r.table("book")
	if name := r.text("book.name", byDefault(b.name)); name != b.name {
		r.fault("book.name", "book.name = %q, want %q as the file is called", name, b.name)
	}
	r.text("book.note", byDefault(""))
	b.currency = r.text("book.currency", byDefault(""))
	if b.currency == "" {
		r.fault("book.currency", "book.currency is missing")
	}
	b.year = int(r.number("book.year", yearSpan, byDefault(0.0)))
	b.clearFilms = int(r.number("book.clear_films", span{lo: 0, hi: 9, wholeOnly: true}, byDefault(0.0)))
	v, ok := r.doc.ask("book.countries")
	if !ok {
		return
	}
	list, ok := v.([]any)
	if !ok {
		r.fault("book.countries", "book.countries = %s, want a list of codes", show(v))
		return
	}
	for i := range list {
		key := index("book.countries", i)
		code := r.text(key, byDefault(""))
		switch {
		case len(code) != 2 || strings.Trim(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "":
			r.fault(key, "%s = %q, want two capitals as in ISO 3166", key, code)
		case slices.Contains(b.countries, code):
			r.fault(key, "book.countries lists %q twice", code)
		}
		b.countries = append(b.countries, code)
	}
}

var yearSpan = span{lo: 1990, hi: 2100, wholeOnly: true}

// bookFigures reads every figure there is under a prefix.
func (r *reader) bookFigures(b *bookFile, prefix string) {
	for _, keys := range []map[string]figureKey{figureKeys, bookKeys} {
		for key, k := range keys {
			if f, ok := r.bookFigure(prefix+key, k.in, b); ok {
				b.figures[prefix+key] = f
			}
		}
	}
}

func (r *reader) bookFigure(key string, in span, b *bookFile) (figure, bool) {
	v, ok := r.doc.ask(key)
	if !ok {
		return figure{}, false
	}
	f := figure{year: b.year, currency: b.currency, source: r.source}
	if _, isTable := v.(map[string]any); !isTable {
		f.value = r.number(key, in, byDefault(0.0))
		return f, true
	}
	part := func(name string) string { return key + "." + name }
	if !r.has(part("value")) {
		r.fault(key, "%s is missing", part("value"))
	}
	f.value = r.number(part("value"), in, byDefault(0.0))
	f.year = int(r.number(part("year"), yearSpan, byDefault(float64(b.year))))
	source, licence := r.text(part("source"), byDefault("")), r.text(part("licence"), byDefault(""))
	assumption := r.text(part("assumption"), byDefault(""))
	switch {
	case assumption != "" && source+licence != "":
		r.fault(part("assumption"), "%s beside a source, want one of them", part("assumption"))
	case assumption != "":
		f.source = fmt.Sprintf("%s, assumption: %s", r.source, assumption)
	case source == "" || licence == "" || !r.has(part("year")):
		r.fault(key, "%s has no origin, want source, licence and year, or assumption", key)
	default:
		f.source = fmt.Sprintf("%s: %s, %d (%s)", r.source, source, f.year, licence)
	}
	return f, true
}

// A book is the cost book that fills a study's gaps, for one country of it or
// for none in particular.
type book struct {
	*bookFile        // nil when it could not be read, which is a fault of the study
	name      string // as a study writes it: NAME or NAME/CODE
	country   string
	rates     rates
	into      string // currency that prices are wanted in
}

// book reads the book that the study names, or the one named otherwise.
func (r *reader) book(books fs.FS, otherwise string) book {
	r.table("cost")
	b := book{name: r.text("cost.book", byDefault(otherwise))}
	name, country, ofCountry := strings.Cut(b.name, "/")
	file, err := readBook(books, name)
	if _, isFaults := err.(Faults); err != nil && !isFaults {
		r.fault("cost.book", "cost.book = %q, want one of %s", b.name, bookNames(books))
		return b
	}
	if err == nil {
		b.rates, err = readRates(books)
	}
	switch {
	case err != nil:
		r.fault("cost.book", "cost.book = %q: %s", b.name, firstLine(err))
	case ofCountry && !slices.Contains(file.countries, country):
		r.fault("cost.book", "cost.book = %q: unknown country %q, the book %s has %s", b.name, country, name, orNone(file.countries))
	default:
		b.bookFile, b.country, b.into = file, country, file.currency
	}
	return b
}

func orNone(list []string) string {
	if len(list) == 0 {
		return "none"
	}
	return strings.Join(list, ", ")
}

func firstLine(err error) string {
	line, _, _ := strings.Cut(err.Error(), "\n")
	return line
}

func bookNames(books fs.FS) string {
	list, _ := fs.Glob(books, "books/*.toml") // the pattern is good
	for i, p := range list {
		list[i] = fmt.Sprintf("%q", strings.TrimSuffix(path.Base(p), ".toml"))
	}
	return strings.Join(list, ", ")
}

// currencyOr gives a currency, or that of the book's own prices for "".
func (b book) currencyOr(currency string) fallback[string] {
	if b.bookFile == nil || currency != "" {
		return byDefault(currency)
	}
	return fallback[string]{b.currency, b.file}
}

// number gives a figure in the currency wanted.
func (b book) number(key string) fallback[float64] {
	f := b.find(key)
	if f.source == "" {
		return byDefault(0.0)
	}
	v := fallback[float64]{f.value, f.source}
	if figureKeys[key].money {
		v.value, v.source = b.exchange(f.value, f.source, f.currency, f.year)
	}
	return v
}

// find gives a figure: the country's own, else the book's, else what the book
// builds on has, else nothing.
func (b book) find(key string) figure {
	for f := b.bookFile; f != nil; f = f.base {
		for _, k := range []string{"country." + b.country + "." + key, key} {
			if fig, ok := f.figures[k]; ok {
				return fig
			}
		}
	}
	return figure{}
}

func (b book) exchange(v float64, source, currency string, year int) (float64, string) {
	if currency == b.into {
		return v, source
	}
	rate := b.rates.between(currency, b.into, year) // there is one: usesBook has asked
	return v * rate.value, fmt.Sprintf("%s; 1 %s = %.4g %s, %d", source, currency, rate.value, b.into, rate.year)
}

// gasBasis gives the basis of the gas price that number gives.
func (b book) gasBasis() fallback[string] {
	for f := b.bookFile; f != nil; f = f.base {
		if f.basis != "" {
			return fallback[string]{string(f.basis), f.file}
		}
	}
	return byDefault("")
}

// priced gives the file of the chain whose items count.
func (b book) priced() *bookFile {
	for f := b.bookFile; f != nil; f = f.base {
		if len(f.items) > 0 || f.base == nil {
			return f
		}
	}
	return nil
}

// exchangedItems gives the items with prices in the currency wanted, and the
// settings to note for them.
func (b book) exchangedItems() (items []cost.Item, notes []Setting) {
	f := b.priced()
	items, notes = slices.Clone(f.items), slices.Clone(f.itemNotes)
	for i := range items {
		items[i].Price, _ = b.exchange(items[i].Price, "", f.currency, f.year)
		items[i].RunningPerYear, _ = b.exchange(items[i].RunningPerYear, "", f.currency, f.year)
	}
	for i, n := range notes {
		v, ok := n.Value.(float64)
		if ok && (strings.HasSuffix(n.Key, ".price") || strings.HasSuffix(n.Key, ".running_per_year")) {
			notes[i].Value, notes[i].Source = b.exchange(v, n.Source, f.currency, f.year)
		}
	}
	return items, notes
}

// without gives the first currency of the chain that no rate leads from.
func (b book) without() (currency string) {
	for f := b.bookFile; f != nil; f = f.base {
		if b.rates.between(f.currency, b.into, f.year).value == 0 {
			return f.currency
		}
	}
	return ""
}
