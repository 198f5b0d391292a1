package rank

import (
	"fmt"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// A Market is what heaters and gas cost where one cost book holds. Prices of
// all markets are in one currency.
type Market struct {
	Book string // name of the book, as results give it
	Plan cost.Plan
	Gas  cost.Gas
}

// noBook is put after the name of a book that stands in for a missing one.
const noBook = " (no book)"

// A BookSum counts the sites that one book priced.
type BookSum struct {
	Book    string  `json:"book"` // as in the column of that name
	Sites   int     `json:"sites"`
	GasHeat float64 `json:"gas_heat_per_kwh"`
}

// market gives the number of the prices that hold at a site and the name of
// the book they come from. A site without a market of its own takes the first.
func (o *Options) market(s *result.Site) (int, string, error) {
	m := 0
	if o.MarketOf != nil {
		m = o.MarketOf(*s)
	}
	switch {
	case m == -1:
		return 0, o.Markets[0].Book + noBook, nil
	case m < 0 || m >= len(o.Markets):
		return 0, "", fmt.Errorf("site %s: market %d, want -1 to %d", s.ID, m, len(o.Markets)-1)
	}
	return m, o.Markets[m].Book, nil
}

// country names the country of a site.
func (o *Options) country(s *result.Site) string {
	if o.CountryOf == nil {
		return s.Country
	}
	return o.CountryOf(*s)
}

// pricesOf works out what every site of each market shares.
func pricesOf(o *Options) ([]prices, error) {
	if err := o.validate(); err != nil {
		return nil, err
	}
	list := make([]prices, len(o.Markets))
	for i := range list {
		var err error
		if list[i], err = newPrices(o, &o.Markets[i]); err != nil {
			return nil, o.inMarket(i, err)
		}
	}
	return list, nil
}

// inMarket says which of several books an error is about.
func (o *Options) inMarket(i int, err error) error {
	if len(o.Markets) == 1 {
		return err
	}
	return fmt.Errorf("book %s: %w", o.Markets[i].Book, err)
}
