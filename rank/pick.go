package rank

import (
	"stillrow/simulate/result"
)

// A Pick is what one site comes to for one outlet and use, with what every
// design would cost there.
type Pick struct {
	Outlet, Use  int       // their numbers in the options
	Best, Second int       // design numbers, -1 for none
	Refused      string    // why the materials do not allow the outlet; empty when they do
	Months       [12]bool  // that count
	Heat         []float64 // of those months, by design, kWh/m²
	LCOH         []float64 // by design; +Inf without heat
	PVCost       []float64 // by design, with the lives the site leaves the films
}

// Picks ranks one block without writing a file: by outlet, then use.
func Picks(o Options, b *result.Block) ([]Pick, error) {
	if err := o.validate(); err != nil {
		return nil, err
	}
	p, err := newPrices(&o)
	if err != nil {
		return nil, err
	}
	var list []Pick
	for out := range o.Table.Outlets {
		var priced choice
		if err := p.price(&priced, b, &o.Table, out); err != nil {
			return nil, err
		}
		for u := range o.Uses {
			c := choice{pvCost: priced.pvCost}
			window := o.Uses[u].window(&b.Site)
			p.choose(&c, b, &o.Table, out, window)
			list = append(list, Pick{out, u, c.best, c.second, p.refused[out], window, c.heat, c.lcoh, c.pvCost})
		}
	}
	return list, nil
}
