// Package risk tells how sure a levelised cost of heat is: a Monte Carlo over
// prices, lives, the receiver, the mirror, the weather and the gas price, and
// each of these alone.
//
// A Model draws every input by inverting its distribution at Draws stratified
// points of (0, 1): one point in each of Draws equal parts, in an order shuffled
// by a generator that the input's name alone seeds (Latin hypercube sampling;
// McKay, Beckman and Conover 1979, Technometrics 21, 239–245). So a result
// depends neither on the order of sites nor on the number of workers, and inputs
// of one name are one draw: prices, lives, labour and gas of a market; the
// coefficients of a construction; the bias of a source of weather; the year of a
// site.
//
// With n draws the standard error of a percentile is at most about that of
// independent draws, 1.25·s/√n for P50 and 1.71·s/√n for P10 and P90 where s is the
// standard deviation of a cost that is about normal, and √(p(1−p)/n) for a
// probability p: with n = 500, 0.06·s, 0.08·s and 0.022.
package risk

import (
	"fmt"
	"math"

	"stillrow/simulate/result"
)

// A Heater knows the heat of one design at one place, kWh per m² of receiver
// in the first year, as far as a use counts it.
type Heater interface {
	// Heat is the heat when each input is changed by a relative amount, 0 for
	// none: −0.1 is a tenth less.
	Heat(change [result.Params]float64) float64
}

// Options are what all places share. The zero value knows everything but money.
type Options struct {
	Draws        int                   // 0 for DefaultDraws
	Seed         uint64                // of every draw, with the input's name
	Construction string                // names the receiver and mirror that Physics is about
	Physics      [result.Params]Normal // relative change; that of Irradiance is the bias of a source of weather
}

// DefaultDraws is enough for percentiles to one or two percent of the cost.
const DefaultDraws = 500

// A Model holds the draws that all places share. It is never changed after New.
type Model struct {
	o       Options
	physics [][result.Params]float64 // by draw; Irradiance is left to the site
}

// New draws what all places share.
func New(o Options) *Model {
	if o.Draws <= 0 {
		o.Draws = DefaultDraws
	}
	m := &Model{o: o, physics: make([][result.Params]float64, o.Draws)}
	for p := range result.Params {
		if p == result.Irradiance {
			continue
		}
		for i, u := range m.draw("construction", o.Construction, p.String()) {
			m.physics[i][p] = o.Physics[p].at(u)
		}
	}
	return m
}

// A Site is the weather of a place.
type Site struct {
	ID, Source       string  // the bias of a source is one draw for all its sites
	YearP10, YearP90 float64 // irradiation of the 10th and the 90th percentile year over the mean of all years; 0 for unknown
	Years            float64 // that the heat is the mean of: 0 or 1 for any one year, the horizon for the years of a heater
}

// year is the ratio of a year's irradiation to the mean year's at a standard
// normal z: the stated percentiles are met, either side is half of a normal.
func (s *Site) year(z float64) float64 {
	const p90 = 1.2815515655446004 // of the standard normal
	if !(s.YearP10 > 0 && s.YearP90 > 0) {
		return 1
	}
	z /= p90 * math.Sqrt(max(1, s.Years))
	if z < 0 {
		return max(0, 1+z*max(0, 1-s.YearP10))
	}
	return 1 + z*max(0, s.YearP90-1)
}

// yearName says what the year stands for.
func (s *Site) yearName() string {
	if s.Years > 1 {
		return fmt.Sprintf("mean weather of %g years", s.Years)
	}
	return "year"
}

// A Weather is the draws of a site: the relative change of every input of heat.
type Weather struct {
	site    Site
	changes [][result.Params]float64 // by draw
}

// Site draws the weather of a place. It may be called from several goroutines
// at a time.
func (m *Model) Site(s Site) *Weather {
	w := &Weather{site: s, changes: make([][result.Params]float64, m.o.Draws)}
	bias := m.draw("source", s.Source, "bias")
	year := m.draw("site", s.ID, "year")
	for i := range w.changes {
		w.changes[i] = m.physics[i]
		w.changes[i][result.Irradiance] = (1+m.o.Physics[result.Irradiance].at(bias[i]))*s.year(quantile(year[i])) - 1
	}
	return w
}

// A Spread is how sure a levelised cost is. Percentiles are +Inf where so many
// draws have no heat.
type Spread struct {
	P10, P50, P90 float64 // of the levelised cost, per kWh delivered
	BeatsGas      float64 // share of the draws in which it is below the cost of heat from gas
}

// Spread draws the levelised cost of a design, whose heat h gives, at a place.
func (m *Model) Spread(money *Money, w *Weather, d *Design, h Heater) Spread {
	costs := make([]float64, m.o.Draws)
	cheaper := 0
	for i := range costs {
		s := &money.draws[i]
		costs[i] = s.lcoh(d, h.Heat(w.changes[i]))
		if costs[i] < s.gas {
			cheaper++
		}
	}
	q := percentiles(costs)
	return Spread{q[0], q[1], q[2], float64(cheaper) / float64(m.o.Draws)}
}
