package raster

import (
	"fmt"
	"strings"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// A unit turns into the one that grid.Quantity names: value·factor + offset; a
// sum over a month or year is divided by its days besides.
type unit struct {
	forms          []string // spellings, the first the plainest
	factor, offset float64
	period         string // "month" or "year": the value is a sum over it
}

// name is the unit as a file name spells it.
func (u *unit) name() string { return strings.ReplaceAll(u.forms[0], " ", "_") }

// scale is the factor for a month, 1 to 12.
func (u *unit) scale(month int) float64 {
	if u.period == "month" && month > 0 {
		return u.factor / float64(weather.MonthDays[month-1])
	}
	return u.factor
}

// Energies of a day in W/m². A month's sum is spread over its days, February's
// over 28.
const (
	wattHours = 1.0 / 24
	joules    = 1.0 / 86400
)

var (
	irradiance  = append([]unit{{forms: []string{"w m2", "watt m2", "wm 2", "w per m2"}, factor: 1}}, energies()...)
	temperature = []unit{
		{forms: []string{"c", "degc", "deg c", "°c", "celsius", "degrees celsius", "degree celsius", "degrees c"}, factor: 1},
		{forms: []string{"k", "kelvin", "degk"}, factor: 1, offset: -sky.Kelvin},
		{forms: []string{"f", "degf", "deg f", "°f", "fahrenheit"}, factor: 1 / 1.8, offset: -32 / 1.8},
	}
	share = []unit{
		{forms: []string{"percent", "%", "pct"}, factor: 1},
		{forms: []string{"fraction", "1"}, factor: 100},
	}
	cloud = []unit{
		{forms: []string{"percent", "%", "pct"}, factor: 0.1},
		{forms: []string{"fraction", "1"}, factor: 10},
		{forms: []string{"tenths"}, factor: 1},
		{forms: []string{"oktas", "okta", "eighths"}, factor: 1.25},
	}
	mixing   = []unit{{forms: []string{"kg kg", "kg kg1"}, factor: 1}, {forms: []string{"g kg"}, factor: 0.001}}
	pressure = []unit{
		{forms: []string{"hpa", "mbar", "millibar"}, factor: 1},
		{forms: []string{"pa", "pascal"}, factor: 0.01},
		{forms: []string{"kpa"}, factor: 10},
	}
	speed = []unit{
		{forms: []string{"m s", "mps", "metre second", "meter second", "m s1"}, factor: 1},
		{forms: []string{"km h", "kph", "kmh"}, factor: 1 / 3.6},
		{forms: []string{"knots", "knot", "kt"}, factor: 1852.0 / 3600},
	}
	depth = []unit{
		{forms: []string{"cm", "centimetre", "centimeter"}, factor: 1},
		{forms: []string{"mm", "millimetre", "millimeter"}, factor: 0.1},
		{forms: []string{"m", "metre", "meter", "metres", "meters"}, factor: 100},
	}
	length = []unit{
		{forms: []string{"m", "metre", "meter", "metres", "meters"}, factor: 1},
		{forms: []string{"ft", "feet", "foot"}, factor: 0.3048},
	}
)

// energies are those of a day, a month and a year.
func energies() (all []unit) {
	for _, e := range []struct {
		name   string
		factor float64
	}{{"kwh", 1000 * wattHours}, {"wh", wattHours}, {"mj", 1e6 * joules}, {"kj", 1e3 * joules}, {"j", joules}} {
		for _, p := range []struct {
			period string
			words  []string
			factor float64
		}{
			{"", []string{"day", "d", "per day", "daily"}, 1},
			{"month", []string{"month", "per month", "mon", "monthly"}, 1},
			{"year", []string{"year", "per year", "yr", "a", "yearly", "annual"}, 1.0 / 365},
		} {
			u := unit{factor: e.factor * p.factor, period: p.period}
			for _, w := range p.words {
				u.forms = append(u.forms, e.name+" m2 "+w)
			}
			all = append(all, u)
		}
	}
	return all
}

// findUnit finds the one unit of a quantity among words.
func findUnit(in []string, q *quantity) (u unit, ok bool, err error) {
	var at, n, length int
	for i := range q.units {
		start, k, form := run(in, q.units[i].forms)
		if form == "" {
			continue
		}
		size := len(strings.ReplaceAll(form, " ", ""))
		overlap := ok && start < at+n && at < start+k
		switch {
		case !ok, overlap && size > length:
			u, ok, at, n, length = q.units[i], true, start, k, size
		case !overlap:
			return unit{}, false, fmt.Errorf("two units of %s, %s and %s, in %q", q.words[0], u.name(), q.units[i].name(), strings.Join(in, " "))
		}
	}
	return u, ok, nil
}

// unitOf reads a unit that stands alone.
func unitOf(s string, q *quantity) (unit, bool) {
	in := words(s)
	for i := range q.units {
		if _, n, form := run(in, q.units[i].forms); form != "" && n == len(in) {
			return q.units[i], true
		}
	}
	return unit{}, false
}
