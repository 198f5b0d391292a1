package rank

import (
	"slices"

	"stillrow/simulate/result"
)

// A Pick is what one site comes to for one outlet and use, with what every
// design would cost there.
type Pick struct {
	Outlet, Use  int       // their numbers in the options
	Market       int       // the same
	Book         string    // that the prices come from, as the ranking names it
	Best, Second int       // design numbers, -1 for none
	Refused      string    // why the materials do not allow the outlet; empty when they do
	Reason       string    // why there is no best; empty when there is
	Months       [12]bool  // that count
	Heat         []float64 // that counts, by design, kWh/m²
	LCOH         []float64 // by design; +Inf without heat
	PVCost       []float64 // by design, with the lives the site leaves the films
	Spread       Spread    // of the best

	prices *prices
	choice *choice
	block  *result.Block
	table  *result.Table
	caps   *[12]float64
}

// Money works out what the heat of a design comes to, which must have some.
func (p *Pick) Money(design int) (Money, error) {
	return p.prices.money(p.choice, p.block, p.table, p.Outlet, design, p.caps)
}

// pick shows the choice c; it shares its slices.
func (p *prices) pick(c *choice, b *result.Block, t *result.Table, market int, book string, outlet, use int, caps *[12]float64) Pick {
	k := Pick{
		Outlet: outlet, Use: use, Market: market, Book: book, Best: c.best, Second: c.second, Refused: p.refused[outlet], Reason: c.reason,
		Heat: c.heat, LCOH: c.lcoh, PVCost: c.pvCost, prices: p, choice: c, block: b, table: t, caps: caps,
	}
	for m, cap := range caps {
		k.Months[m] = cap > 0
	}
	return k
}

// Picks ranks one block without writing a file: by outlet, then use. It keeps
// the block.
func Picks(o Options, b *result.Block) ([]Pick, error) {
	markets, err := pricesOf(&o)
	if err != nil {
		return nil, err
	}
	list, err := picks(&o, markets, b)
	for i := range list {
		list[i].Spread = o.spread(b, &list[i])
	}
	return list, err
}

func picks(o *Options, markets []prices, b *result.Block) ([]Pick, error) {
	m, book, err := o.market(&b.Site)
	if err != nil {
		return nil, err
	}
	p := &markets[m]
	var list []Pick
	for out := range o.Table.Outlets {
		var priced choice
		if err := p.price(&priced, b, &o.Table, out); err != nil {
			return nil, err
		}
		for u := range o.Uses {
			c := &choice{pvCost: priced.pvCost, worn: priced.worn}
			caps := o.Uses[u].caps(&b.Site, p.market.Plan.DeliveredShare)
			p.choose(c, b, &o.Table, out, &caps)
			list = append(list, p.pick(c, b, &o.Table, m, book, out, u, &caps))
		}
	}
	return list, nil
}

// Picker makes what gives the best design of each outlet at a site, for all uses
// and each once, by outlet: the designs whose answer to changed inputs the ranking
// asks for; and, where that is to be recorded for other prices, the runner-up. It
// may be called from several goroutines at a time. A site that cannot be ranked
// has none: Add says why.
func Picker(o Options, runnerUp bool) (func(*result.Block) []result.Pick, error) {
	markets, err := pricesOf(&o)
	if err != nil {
		return nil, err
	}
	return func(b *result.Block) []result.Pick {
		if o.check(b) != nil {
			return nil
		}
		all, err := picks(&o, markets, b)
		if err != nil {
			return nil
		}
		var list []result.Pick
		for _, p := range all {
			designs := []int{p.Best, p.Second}
			if !runnerUp {
				designs = designs[:1]
			}
			for _, d := range designs {
				if one := (result.Pick{Design: d, Outlet: p.Outlet}); d >= 0 && !slices.Contains(list, one) {
					list = append(list, one)
				}
			}
		}
		return list
	}, nil
}
