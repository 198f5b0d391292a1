package study

import (
	"fmt"

	"stillrow/rank/cost"
)

var fromZero = span{lo: 0, hi: 1e9}

// plan reads [cost] and what of it stands under [heat].
func (r *reader) plan(b book) cost.Plan {
	p := cost.Plan{
		HorizonYears:   int(r.number("cost.horizon_years", span{lo: 1, hi: 100, wholeOnly: true}, b.number("cost.horizon_years"))),
		DiscountRate:   r.number("cost.discount_rate", span{lo: 0, hi: 1}, b.number("cost.discount_rate")),
		Fade:           r.number("cost.fade", span{lo: 0, hi: 1, lessThan: true}, b.number("cost.fade")),
		LabourPerH:     r.number("cost.labour_per_h", fromZero, b.number("cost.labour_per_h")),
		SiteReceiverM2: r.number("cost.site_receiver_m2", fromZero, b.number("cost.site_receiver_m2")),
		DeliveredShare: r.number("heat.delivered_share", span{lo: 0, hi: 1, aboveLo: true}, byDefault(1.0)),
		RunningPerKWh:  r.number("cost.running_per_kwh", fromZero, byDefault(0.0)),
	}
	switch n := r.tables("cost.item"); {
	case n > 0:
		p.Items = r.items(n)
	case b.reader != nil:
		b.reader.settings = nil // of the single figures, which are noted under the study's own keys
		p.Items = b.items(b.tables("cost.item"))
		for _, s := range b.reader.settings {
			if s.Source == b.source { // an item's defaults are no assumption of the book
				r.settings = append(r.settings, s)
			}
		}
	}
	return p
}

// filmsPriced compares the clear films that a book prices, where it says how
// many, with those of the receiver the prices are for.
func (r *reader) filmsPriced(b book, preset string, clear int) (warnings []string) {
	priced := int(b.number("book.clear_films").value)
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
	basis := b.text("gas.basis")
	if r.has("gas.price_per_kwh") {
		basis = byDefault(string(cost.LowerHeatingValue)) // the book's basis goes with its price
	}
	return cost.Gas{
		PricePerKWh:         r.number("gas.price_per_kwh", span{lo: 0, hi: 1e6, aboveLo: true}, b.number("gas.price_per_kwh")),
		Basis:               cost.Basis(r.text("gas.basis", basis, string(cost.LowerHeatingValue), string(cost.HigherHeatingValue))),
		BoilerEfficiency:    r.number("gas.boiler_efficiency", span{lo: 0, hi: 1.2, aboveLo: true}, b.number("gas.boiler_efficiency")),
		BoilerRunningPerKWh: r.number("gas.boiler_running_per_kwh", fromZero, b.number("gas.boiler_running_per_kwh")),
		CarbonPricePerKg:    r.number("gas.carbon_price_per_kg", fromZero, b.number("gas.carbon_price_per_kg")),
	}
}
