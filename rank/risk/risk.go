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
	"slices"
	"sync"

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

// A Model holds the draws that all places share. It is safe for concurrent use.
type Model struct {
	o       Options
	physics []change // Irradiance is left to the site
	scratch sync.Pool
	bills   bills

	mu     sync.Mutex
	biased map[string][]change // physics with the bias of a source
}

// A change is one draw of the relative change of every input of heat.
type change = [result.Params]float64

// mostSources bounds what a Model remembers of sources of weather.
const mostSources = 64

// New draws what all places share.
func New(o Options) *Model {
	if o.Draws <= 0 {
		o.Draws = DefaultDraws
	}
	m := &Model{o: o, physics: make([]change, o.Draws), biased: make(map[string][]change)}
	m.scratch.New = func() any {
		list := make([]float64, o.Draws)
		return &list
	}
	for p := range result.Params {
		if p == result.Irradiance {
			continue
		}
		at := o.Physics[p].inverse()
		for i, u := range m.draw("construction", o.Construction, p.String()) {
			m.physics[i][p] = at(u)
		}
	}
	return m
}

// source gives the draws of a source of weather, which are not to be changed.
func (m *Model) source(name string) []change {
	m.mu.Lock()
	defer m.mu.Unlock()
	list, ok := m.biased[name]
	if ok {
		return list
	}
	if len(m.biased) == mostSources {
		clear(m.biased)
	}
	list = slices.Clone(m.physics)
	at := m.o.Physics[result.Irradiance].inverse()
	for i, u := range m.draw("source", name, "bias") {
		list[i][result.Irradiance] = at(u)
	}
	m.biased[name] = list
	return list
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
	if !s.yearKnown() {
		return 1
	}
	z /= p90 * math.Sqrt(max(1, s.Years))
	if z < 0 {
		return max(0, 1+z*max(0, 1-s.YearP10))
	}
	return 1 + z*max(0, s.YearP90-1)
}

func (s *Site) yearKnown() bool { return s.YearP10 > 0 && s.YearP90 > 0 }

// yearName says what the year stands for.
func (s *Site) yearName() string {
	if s.Years > 1 {
		return fmt.Sprintf("mean weather of %g years", s.Years)
	}
	return "year"
}

// A Weather is the draws of a site. It is never changed.
type Weather struct {
	site    Site
	changes []change
}

// Site draws the weather of a place. Places of one source whose years are not
// known share their draws.
func (m *Model) Site(s Site) *Weather {
	w := &Weather{s, m.source(s.Source)}
	if !s.yearKnown() {
		return w
	}
	w.changes = slices.Clone(w.changes)
	for i, u := range m.draw("site", s.ID, "year") {
		bias := &w.changes[i][result.Irradiance]
		*bias = (1+*bias)*s.year(quantile(u)) - 1
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
	scratch := m.scratch.Get().(*[]float64)
	defer m.scratch.Put(scratch)
	costs, pv, cheaper := *scratch, m.bills.pv(money, d), 0
	for i := range costs {
		s := &money.draws[i]
		costs[i] = s.levelise(pv[i], h.Heat(w.changes[i]))
		if costs[i] < s.gas {
			cheaper++
		}
	}
	q := percentiles(costs)
	return Spread{q[0], q[1], q[2], float64(cheaper) / float64(m.o.Draws)}
}
