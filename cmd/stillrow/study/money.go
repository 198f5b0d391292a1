package study

import (
	"fmt"

	"stillrow/rank/cost"
)

var fromZero = span{lo: 0, hi: 1e9}

// plan reads [cost] and what of it stands under [heat].
func (r *reader) plan(b book) cost.Plan {
	p := cost.Plan{
		HorizonYears:   int(r.figure("cost.horizon_years", b)),
		DiscountRate:   r.figure("cost.discount_rate", b),
		Fade:           r.figure("cost.fade", b),
		LabourPerH:     r.figure("cost.labour_per_h", b),
		SiteReceiverM2: r.figure("cost.site_receiver_m2", b),
		DeliveredShare: r.number("heat.delivered_share", span{lo: 0, hi: 1, aboveLo: true}, byDefault(1.0)),
		RunningPerKWh:  r.number("cost.running_per_kwh", fromZero, byDefault(0.0)),
	}
	switch n := r.tables("cost.item"); {
	case n > 0:
		p.Items = r.items(n)
	case b.bookFile != nil:
		var notes []Setting
		p.Items, notes = b.exchangedItems()
		r.settings = append(r.settings, notes...)
	}
	return p
}

// figure reads a number that the book has where the study has not.
func (r *reader) figure(key string, b book) float64 {
	return r.number(key, figureKeys[key].in, b.number(key))
}

// filmsPriced compares the clear films that a book prices, where it says how
// many, with those of the receiver the prices are for.
func (r *reader) filmsPriced(b book, preset string, clear int) (warnings []string) {
	if b.bookFile == nil {
		return nil
	}
	priced := b.priced().clearFilms
	if preset == "" || priced == 0 || priced == clear || r.has("cost.item") {
		return nil
	}
	outcome := "too cheap"
	if priced > clear {
		outcome = "too dear"
	}
	return []string{fmt.Sprintf("clear films: the cost book %s prices %d, the receiver %q has %d, so heat comes out %s; list what it is made of under [[cost.item]]",
		b.name, priced, preset, clear, outcome)}
}

// items reads [[cost.item]].
func (r *reader) items(n int) []cost.Item {
	list := make([]cost.Item, n)
	for i := range list {
		key := func(name string) string { return fmt.Sprintf("cost.item[%d].%s", i, name) }
		for _, must := range []string{"name", "unit", "life_years"} {
			if !r.has(key(must)) {
				r.fault(key(must), "%s is missing", key(must))
			}
		}
		list[i] = cost.Item{
			Name: r.text(key("name"), byDefault("")),
			Unit: cost.Unit(r.text(key("unit"), byDefault(""), string(cost.ReceiverM2), string(cost.MirrorM2),
				string(cost.RowM), string(cost.GroundM2), string(cost.WholeSite))),
			Price:          r.number(key("price"), fromZero, byDefault(0.0)),
			LabourH:        r.number(key("labour_h"), fromZero, byDefault(0.0)),
			LifeYears:      r.number(key("life_years"), span{lo: 0.01, hi: 1000}, byDefault(1.0)),
			RunningPerYear: r.number(key("running_per_year"), fromZero, byDefault(0.0)),
		}
		if r.has(key("film")) {
			list[i].Film = cost.Film(r.text(key("film"), byDefault(""), string(cost.ClearFilm), string(cost.BlackFilm), string(cost.MirrorFilm)))
		}
	}
	return list
}

// gas reads [gas].
func (r *reader) gas(b book) cost.Gas {
	r.table("gas")
	basis := b.gasBasis()
	if r.has("gas.price_per_kwh") {
		basis = byDefault(string(cost.LowerHeatingValue)) // the book's basis goes with its price
	}
	return cost.Gas{
		PricePerKWh:         r.figure("gas.price_per_kwh", b),
		Basis:               cost.Basis(r.text("gas.basis", basis, string(cost.LowerHeatingValue), string(cost.HigherHeatingValue))),
		BoilerEfficiency:    r.figure("gas.boiler_efficiency", b),
		BoilerRunningPerKWh: r.figure("gas.boiler_running_per_kwh", b),
		CarbonPricePerKg:    r.figure("gas.carbon_price_per_kg", b),
	}
}
