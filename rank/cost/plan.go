// Package cost turns the price of a heater and its yearly heat into the
// levelised cost of heat (LCOH), and sets it against heat from a gas boiler.
//
// Everything is in real terms (no inflation), before tax, in the study's
// currency and per m² of receiver, over a horizon of N years at discount rate d:
//
//	PV(cost) = Σ purchases/(1+d)^t − Σ credits/(1+d)^N + Σ_{t=1..N} running/(1+d)^t
//	PV(heat) = Σ_{t=1..N} heat·(1−fade)^(t−1)/(1+d)^t
//	LCOH     = PV(cost)/PV(heat)
//
// the form of IEA SHC Task 54 (Louvet et al. 2019, Solar Energy 193, 85–94)
// without tax. An item is bought at year 0 and again at every multiple of its
// life before N, fractions of a year discounted as such; what the last purchase
// has left at N is credited straight-line. Running costs and heat fall due at
// the end of each year.
package cost

import (
	"cmp"
	"fmt"
	"math"

	"stillrow/simulate/result"
)

// A Unit is what the price of an Item is for.
type Unit string

// Units, and how many of each one m² of receiver takes in a row of receiver
// width W, mirror length L and row pitch P.
const (
	ReceiverM2 Unit = "receiver_m2" // 1
	MirrorM2   Unit = "mirror_m2"   // L/W
	RowM       Unit = "row_m"       // 1/W
	GroundM2   Unit = "ground_m2"   // P/W, refused without a pitch
	WholeSite  Unit = "site"        // 1/site_receiver_m2
)

// A Film names the film whose wear can shorten the life of an Item.
type Film string

// Films of the heater.
const (
	ClearFilm  Film = "clear"
	BlackFilm  Film = "black"
	MirrorFilm Film = "mirror"
)

// An Item is one thing to buy, and to buy again when its life is over.
type Item struct {
	Name           string
	Unit           Unit
	Price          float64 // per unit
	LabourH        float64 // hours of work per unit, at every purchase
	LifeYears      float64
	RunningPerYear float64 // per unit
	Film           Film    // empty for an item that no film's wear shortens

	PriceRange, LabourRange, LifeRange, RunningRange Range // of the first four numbers; only package risk looks at them
}

// A Plan is the cost section of a study.
type Plan struct {
	Items          []Item
	HorizonYears   int
	DiscountRate   float64 // real, per year
	Fade           float64 // share of the heat lost per year, not reset by a replacement
	LabourPerH     float64
	SiteReceiverM2 float64 // receiver area of the whole site, m²; needed by items per site
	DeliveredShare float64 // share of the receiver's heat that reaches the user
	RunningPerKWh  float64 // pump electricity and the like, per kWh delivered

	DiscountRange, FadeRange, LabourRange, DeliveredRange, RunningRange Range // of the figures above; only package risk looks at them
}

// minLife keeps an item from being bought without end; it is about four days.
const minLife = 0.01

// A KeyError is a value of the study that is out of range.
type KeyError struct {
	Key   string // as the study file spells it
	Value any    // a number, or text
	Want  string
}

// Error gives key = value, want what is wanted.
func (e *KeyError) Error() string {
	if s, ok := e.Value.(string); ok {
		return fmt.Sprintf("%s = %q, want %s", e.Key, s, e.Want)
	}
	return fmt.Sprintf("%s = %v, want %s", e.Key, e.Value, e.Want)
}

// Validate returns a *KeyError for the first value out of range. What depends
// on the design is left to PVCost.
func (p *Plan) Validate() error {
	if len(p.Items) == 0 {
		return &KeyError{"cost.item", []Item{}, "at least one"}
	}
	share := func(v float64) bool { return v >= 0 && v <= 1 }
	for _, c := range []struct {
		key   string
		v     float64
		in    func(float64) bool
		want  string
		about Range
	}{
		{"cost.horizon_years", float64(p.HorizonYears), func(v float64) bool { return v >= 1 && v <= 100 }, "1 to 100", Range{}},
		{"cost.discount_rate", p.DiscountRate, share, "0 to 1", p.DiscountRange},
		{"cost.fade", p.Fade, func(v float64) bool { return v >= 0 && v < 1 }, "0 to below 1", p.FadeRange},
		{"cost.labour_per_h", p.LabourPerH, notNegative, "a number from 0", p.LabourRange},
		{"cost.site_receiver_m2", p.SiteReceiverM2, notNegative, "a number from 0", Range{}},
		{"cost.running_per_kwh", p.RunningPerKWh, notNegative, "a number from 0", p.RunningRange},
		{"heat.delivered_share", p.DeliveredShare, func(v float64) bool { return v > 0 && v <= 1 }, "above 0 and at most 1", p.DeliveredRange},
	} {
		if !c.in(c.v) {
			return &KeyError{c.key, c.v, c.want}
		}
		if err := c.about.validate(c.key, c.v, c.in, c.want); err != nil {
			return err
		}
	}
	for i := range p.Items {
		if err := p.validateItem(i); err != nil {
			return err
		}
	}
	return nil
}

func (p *Plan) validateItem(i int) error {
	it := p.Items[i]
	key := func(name string) string { return itemKey(i, name) }
	switch it.Unit {
	case ReceiverM2, MirrorM2, RowM, GroundM2, WholeSite:
	default:
		return &KeyError{key("unit"), string(it.Unit), "receiver_m2, mirror_m2, row_m, ground_m2 or site"}
	}
	switch it.Film {
	case "", ClearFilm, BlackFilm, MirrorFilm:
	default:
		return &KeyError{key("film"), string(it.Film), "clear, black or mirror"}
	}
	switch {
	case !notNegative(it.Price):
		return &KeyError{key("price"), it.Price, "a number from 0"}
	case !notNegative(it.LabourH):
		return &KeyError{key("labour_h"), it.LabourH, "a number from 0"}
	case !notNegative(it.RunningPerYear):
		return &KeyError{key("running_per_year"), it.RunningPerYear, "a number from 0"}
	case !(it.LifeYears > 0) || math.IsInf(it.LifeYears, 1):
		return &KeyError{key("life_years"), it.LifeYears, "above 0"}
	case it.LifeYears < minLife:
		return &KeyError{key("life_years"), it.LifeYears, fmt.Sprintf("at least %g", minLife)}
	case it.Unit == WholeSite && p.SiteReceiverM2 == 0:
		return &KeyError{"cost.site_receiver_m2", 0, "above 0: " + key("unit") + " is site"}
	}
	return cmp.Or(
		it.PriceRange.validate(key("price"), it.Price, notNegative, "a number from 0"),
		it.LabourRange.validate(key("labour_h"), it.LabourH, notNegative, "a number from 0"),
		it.RunningRange.validate(key("running_per_year"), it.RunningPerYear, notNegative, "a number from 0"),
		it.LifeRange.validate(key("life_years"), it.LifeYears, func(v float64) bool { return v >= minLife && !math.IsInf(v, 1) },
			fmt.Sprintf("at least %g", minLife)),
	)
}

// Worn returns the plan with the lives of film items cut where a film gets more
// in a year than its rated life stands for, by that factor: the life is the
// shorter of the rated and the worn one. A film without strain keeps its own.
func (p Plan) Worn(strain map[Film]float64) Plan {
	items := make([]Item, len(p.Items))
	for i, it := range p.Items {
		if s := strain[it.Film]; it.Film != "" && s > 1 {
			it.LifeYears = max(it.LifeYears/s, minLife)
			if !it.LifeRange.Known() {
				it.LifeRange = Range{max(it.LifeRange.Low/s, minLife), max(it.LifeRange.High/s, minLife)}
			}
		}
		items[i] = it
	}
	p.Items = items
	return p
}

// count is how many units of item i one m² of receiver of design d takes.
func (p *Plan) count(i int, d result.Design) (float64, error) {
	switch p.Items[i].Unit {
	case ReceiverM2:
		return 1, nil
	case MirrorM2:
		return d.MirrorLength / d.ReceiverWidth, nil
	case RowM:
		return 1 / d.ReceiverWidth, nil
	case GroundM2:
		if d.RowPitch == 0 {
			return 0, &KeyError{itemKey(i, "unit"), string(GroundM2), "another unit, or designs.row_pitch_m: a single row has no ground of its own"}
		}
		return d.RowPitch / d.ReceiverWidth, nil
	}
	return 1 / p.SiteReceiverM2, nil
}

func itemKey(i int, name string) string { return fmt.Sprintf("cost.item[%d].%s", i, name) }

func notNegative(v float64) bool { return v >= 0 && !math.IsInf(v, 1) }
