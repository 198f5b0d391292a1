package study

import (
	"fmt"
	"io/fs"
	"math"
	"path"
	"slices"
	"strings"

	"stillrow/rank/cost"
)

// A bookFile is one cost book, books/NAME.toml, with every key known and every
// value in range.
type bookFile struct {
	name, file string
	currency   string
	year       int // of the prices that do not say theirs
	clearFilms int // that the items price, 0 where the book does not say
	countries  []string
	figures    map[string]figure // by key, which begins with country.CODE. where it is one country's
	basis      cost.Basis        // of the gas prices
	items      []cost.Item
	itemYears  []itemYears
	itemNotes  []Setting
	base       *bookFile // gives what this one leaves out; nil for none
}

// figureKeys are the single numbers that a study and a book may both state.
var figureKeys = map[string]figureKey{
	"cost.horizon_years":         {in: span{lo: 1, hi: 100, wholeOnly: true}, fixed: true},
	"cost.discount_rate":         {in: span{lo: 0, hi: 1}},
	"cost.fade":                  {in: span{lo: 0, hi: 1, lessThan: true}},
	"cost.labour_per_h":          {in: fromZero, money: true},
	"cost.site_receiver_m2":      {in: fromZero, fixed: true},
	"gas.price_per_kwh":          {in: span{lo: 0, hi: 1e6, aboveLo: true}, money: true},
	"gas.boiler_efficiency":      {in: span{lo: 0, hi: 1.2, aboveLo: true}},
	"gas.boiler_running_per_kwh": {in: fromZero, money: true},
	"gas.carbon_price_per_kg":    {in: fromZero, money: true},
}

// bookKeys are figures that books alone state: what households pay for gas, and
// everyone for electricity, and the kWh of it that pumps take per kWh delivered.
var bookKeys = map[string]figureKey{
	"gas.household_per_kwh":     {in: span{lo: 0, hi: 1e6, aboveLo: true}, money: true},
	"electricity.price_per_kwh": {in: span{lo: 0, hi: 1e6, aboveLo: true}, money: true},
	"electricity.pump_share":    {in: span{lo: 0, hi: 1}},
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
	b.items, b.itemYears = r.items(r.tables("cost.item"), b.year, true)
	for _, s := range r.settings {
		if strings.HasPrefix(s.Source, r.source) { // an item's defaults are no assumption of the book
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
			if _, ok := r.doc.ask(prefix + key); ok {
				b.figures[prefix+key] = r.figure(prefix+key, k, true, figure{year: b.year, currency: b.currency})
			}
		}
	}
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

// figure gives a figure in the currency wanted.
func (b book) figure(key string) figure {
	f := b.find(key)
	switch {
	case f.source == "":
		return figure{source: "default"}
	case figureKeys[key].money || bookKeys[key].money:
		rate, note := b.exchange(f.currency, f.year)
		f.value, f.about, f.source = f.value*rate, f.about.Times(rate), f.source+note
	}
	return f
}

// pumping gives the running cost per kWh delivered: electricity for the pumps,
// at the place's price.
func (b book) pumping() figure {
	price, share := b.figure("electricity.price_per_kwh"), b.figure("electricity.pump_share")
	if b.bookFile == nil || price.source == "default" || share.source == "default" {
		return known(byDefault(0.0))
	}
	f := figure{value: price.value * share.value, source: fmt.Sprintf("%.4g kWh of electricity at %.4g %s; %s; %s", share.value, price.value, b.into, share.source, price.source)}
	if f.value > 0 && !(price.about.Known() && share.about.Known()) {
		p, s := price.ends(), share.ends()
		f.about = cost.Range{
			Low:  f.value / farther(price.value/p.Low, share.value/s.Low),
			High: f.value * farther(p.High/price.value, s.High/share.value),
		}
	}
	return f
}

// farther is how far, as a factor, two factors lead that vary each by itself:
// their logarithms add in quadrature.
func farther(a, b float64) float64 { return math.Exp(math.Hypot(math.Log(a), math.Log(b))) }

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

// exchange gives what brings a price to the currency wanted, and says so.
func (b book) exchange(currency string, year int) (rate float64, note string) {
	if currency == b.into {
		return 1, ""
	}
	r := b.rates.between(currency, b.into, year) // there is one: usesBook has asked
	return r.value, fmt.Sprintf("; 1 %s = %.4g %s, %d", currency, r.value, b.into, r.year)
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
		it := &items[i]
		for _, m := range []struct {
			key   string
			year  int
			v     *float64
			about *cost.Range
		}{
			{"price", f.itemYears[i].price, &it.Price, &it.PriceRange},
			{"running_per_year", f.itemYears[i].running, &it.RunningPerYear, &it.RunningRange},
		} {
			rate, note := b.exchange(f.currency, m.year)
			*m.v, *m.about = *m.v*rate, m.about.Times(rate)
			key := fmt.Sprintf("cost.item[%d].%s", i, m.key)
			for n := range notes {
				if v, ok := notes[n].Value.(float64); ok && (notes[n].Key == key || strings.HasPrefix(notes[n].Key, key+".")) {
					notes[n].Value, notes[n].Source = v*rate, notes[n].Source+note
				}
			}
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
