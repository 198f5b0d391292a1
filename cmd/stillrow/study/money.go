package study

import (
	"fmt"
	"slices"
	"strings"

	"stillrow/rank/cost"
	"stillrow/simulate/collector"
)

var fromZero = span{lo: 0, hi: 1e9}

// plan reads [cost] and what of it stands under [heat]. Of a book's items it
// leaves out those per m² of ground where a single row has none.
func (r *reader) plan(b book, designs []collector.Design) cost.Plan {
	horizon := r.filled("cost.horizon_years", b)
	discount, fade := r.filled("cost.discount_rate", b), r.filled("cost.fade", b)
	labour, site := r.filled("cost.labour_per_h", b), r.filled("cost.site_receiver_m2", b)
	delivered := r.figure("heat.delivered_share", figureKey{in: span{lo: 0, hi: 1, aboveLo: true}}, false, known(byDefault(1.0)))
	running := r.figure("cost.running_per_kwh", figureKey{in: fromZero}, false, b.pumping())
	p := cost.Plan{
		HorizonYears: int(horizon.value), SiteReceiverM2: site.value,
		DiscountRate: discount.value, DiscountRange: discount.about,
		Fade: fade.value, FadeRange: fade.about,
		LabourPerH: labour.value, LabourRange: labour.about,
		DeliveredShare: delivered.value, DeliveredRange: delivered.about,
		RunningPerKWh: running.value, RunningRange: running.about,
	}
	switch n := r.tables("cost.item"); {
	case n > 0:
		p.Items, _ = r.items(n, 0, false)
	case b.bookFile != nil:
		var notes []Setting
		p.Items, notes = b.exchangedItems()
		if slices.ContainsFunc(designs, func(d collector.Design) bool { return d.RowPitch == 0 }) {
			p.Items, notes = withoutGround(p.Items, notes)
		}
		r.settings = append(r.settings, notes...)
	}
	return p
}

// withoutGround takes the items per m² of ground out of a book's. Of what is
// noted of them their unit stays, with the reason; those left keep their numbers
// in the notes.
func withoutGround(items []cost.Item, notes []Setting) (left []cost.Item, noted []Setting) {
	for i, it := range items {
		if it.Unit != cost.GroundM2 {
			left = append(left, it)
			continue
		}
		key := fmt.Sprintf("cost.item[%d].", i)
		notes = slices.DeleteFunc(notes, func(s Setting) bool { return strings.HasPrefix(s.Key, key) && s.Key != key+"unit" })
		for n := range notes {
			if notes[n].Key == key+"unit" {
				notes[n].Source += fmt.Sprintf("; %s is left out: without designs.row_pitch_m a row has no ground of its own", it.Name)
			}
		}
	}
	return left, notes
}

// filled reads a figure that the book has where the study has not.
func (r *reader) filled(key string, b book) figure {
	return r.figure(key, figureKeys[key], false, b.figure(key))
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

// itemYears are the years of an item's prices.
type itemYears struct{ price, running int }

// items reads [[cost.item]], whose prices are of a year where they do not say
// theirs; tables must say their origin where strict.
func (r *reader) items(n, year int, strict bool) ([]cost.Item, []itemYears) {
	list, years := make([]cost.Item, n), make([]itemYears, n)
	for i := range list {
		key := func(name string) string { return fmt.Sprintf("cost.item[%d].%s", i, name) }
		for _, must := range []string{"name", "unit", "life_years"} {
			if !r.has(key(must)) {
				r.fault(key(must), "%s is missing", key(must))
			}
		}
		part := func(name string, in span, otherwise float64) figure {
			return r.figure(key(name), figureKey{in: in}, strict, figure{value: otherwise, year: year, source: "default"})
		}
		list[i] = cost.Item{
			Name: r.text(key("name"), byDefault("")),
			Unit: cost.Unit(r.text(key("unit"), byDefault(""), string(cost.ReceiverM2), string(cost.MirrorM2),
				string(cost.RowM), string(cost.GroundM2), string(cost.WholeSite))),
		}
		price, labour := part("price", fromZero, 0), part("labour_h", fromZero, 0)
		life, running := part("life_years", span{lo: 0.01, hi: 1000}, 1), part("running_per_year", fromZero, 0)
		list[i].Price, list[i].PriceRange = price.value, price.about
		list[i].LabourH, list[i].LabourRange = labour.value, labour.about
		list[i].LifeYears, list[i].LifeRange = life.value, life.about
		list[i].RunningPerYear, list[i].RunningRange = running.value, running.about
		years[i] = itemYears{price.year, running.year}
		if r.has(key("film")) {
			list[i].Film = cost.Film(r.text(key("film"), byDefault(""), string(cost.ClearFilm), string(cost.BlackFilm), string(cost.MirrorFilm)))
		}
	}
	return list, years
}

// gas reads [gas].
func (r *reader) gas(b book) cost.Gas {
	r.table("gas")
	basis := b.gasBasis()
	if r.has("gas.price_per_kwh") {
		basis = byDefault(string(cost.LowerHeatingValue)) // the book's basis goes with its price
	}
	price := r.filled("gas.price_per_kwh", b)
	basisOf := r.text("gas.basis", basis, string(cost.LowerHeatingValue), string(cost.HigherHeatingValue))
	efficiency, running := r.filled("gas.boiler_efficiency", b), r.filled("gas.boiler_running_per_kwh", b)
	carbon := r.filled("gas.carbon_price_per_kg", b)
	return cost.Gas{
		Basis:       cost.Basis(basisOf),
		PricePerKWh: price.value, PriceRange: price.about,
		BoilerEfficiency: efficiency.value, EfficiencyRange: efficiency.about,
		BoilerRunningPerKWh: running.value, RunningRange: running.about,
		CarbonPricePerKg: carbon.value, CarbonRange: carbon.about,
	}
}
