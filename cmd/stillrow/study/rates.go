package study

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
)

// RatesFile holds the exchange rates: [[rate]] currency, year, per_eur (units of
// the currency for a euro, the mean of the year), source and licence.
const RatesFile = "rates.toml"

// A rate turns money of one currency into another at a year's mean.
type rate struct {
	currency string
	year     int
	value    float64
}

// rates are units of a currency for a euro.
type rates []rate

// readRates reads the rates; no file is no rates.
func readRates(files fs.FS) (rates, error) {
	text, err := fs.ReadFile(files, RatesFile)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	doc, err := parseDocument(RatesFile, text)
	if err != nil {
		return nil, err
	}
	r := &reader{doc: doc, source: RatesFile}
	list := make(rates, r.tables("rate"))
	for i := range list {
		key := func(name string) string { return fmt.Sprintf("rate[%d].%s", i, name) }
		for _, must := range []string{"currency", "year", "per_eur", "source", "licence"} {
			if !r.has(key(must)) {
				r.fault(key(must), "%s is missing", key(must))
			}
		}
		list[i] = rate{
			r.text(key("currency"), byDefault("")),
			int(r.number(key("year"), yearSpan, byDefault(0.0))),
			r.number(key("per_eur"), span{lo: 0, hi: 1e9, aboveLo: true}, byDefault(1.0)),
		}
		r.text(key("source"), byDefault(""))
		r.text(key("licence"), byDefault(""))
	}
	return list, r.finish()
}

// between gives what a unit of one currency is in another, at the means of the
// year, or of the stated year nearest to it; its value is 0 where no rate leads
// from one to the other. Prices are not brought to another year.
func (l rates) between(from, into string, year int) rate {
	if from == into {
		return rate{into, year, 1}
	}
	best := rate{currency: into}
	for _, r := range l {
		a, b := l.perEuro(from, r.year), l.perEuro(into, r.year)
		if a > 0 && b > 0 && (best.value == 0 || math.Abs(float64(r.year-year)) < math.Abs(float64(best.year-year))) {
			best.year, best.value = r.year, b/a
		}
	}
	return best
}

func (l rates) perEuro(currency string, year int) float64 {
	if currency == "EUR" {
		return 1
	}
	for _, r := range l {
		if r.currency == currency && r.year == year {
			return r.value
		}
	}
	return 0
}
