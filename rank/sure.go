package rank

import (
	"math"
	"slices"
	"sync"

	"stillrow/rank/cost"
	"stillrow/rank/risk"
	"stillrow/simulate/result"
)

// A Sure works out how sure the cost of a site's best designs is, by the draws
// of a risk model over the sensitivities that the block of the site carries. It
// is safe for concurrent use.
type Sure struct {
	o     Options
	model *risk.Model
	money []*risk.Money // of each market

	mu     sync.Mutex
	recent []drawn // the last few sites, the oldest first
}

// A drawn is a site's weather as drawn, which never changes.
type drawn struct {
	site    risk.Site
	weather *risk.Weather
}

// mostRecent is how many sites are ranked at the same time at most without
// drawing their weather over and over.
const mostRecent = 64

// NewSure draws the prices of every market of the options.
func NewSure(o Options, model *risk.Model, doubt cost.Doubt) *Sure {
	s := &Sure{o: o, model: model}
	for i := range o.Markets {
		m := &o.Markets[i]
		s.money = append(s.money, model.Money(m.Plan.Risk(m.Book, &m.Gas, doubt)))
	}
	return s
}

// Spread serves as Options.Spread. It is empty for a block without
// sensitivities and for a pick without a best design.
func (s *Sure) Spread(b *result.Block, p *Pick) Spread {
	d, heat, from, ok := s.design(b, p)
	if !ok {
		return Spread{}
	}
	out := SpreadOf(s.model.Spread(s.money[p.Market], s.at(&b.Site, p), &d, heat))
	if from != p.Best {
		out.From = ptr(int32(from))
	}
	return out
}

// Tornado gives what each input that is not known does to the cost of the
// pick's best design alone, the widest first; none where there is nothing to work
// it out of.
func (s *Sure) Tornado(b *result.Block, p *Pick) []risk.Bar {
	d, heat, _, ok := s.design(b, p)
	if !ok {
		return nil
	}
	_, bars := s.model.Tornado(s.money[p.Market], s.at(&b.Site, p), &d, heat)
	return bars
}

// at gives the draws of a site's weather. Picks of a site come one after the
// other, so those of the last sites are kept. A levelised cost is that of all years of
// the horizon, so what a poor and a rich year are apart enters it as the mean of
// as many years, taken as independent of each other: by its square root less.
func (s *Sure) at(site *result.Site, p *Pick) *risk.Weather {
	want := risk.Site{
		ID: site.ID, Source: site.Source, YearP10: site.YearP10, YearP90: site.YearP90,
		Years: float64(s.o.Markets[p.Market].Plan.HorizonYears),
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range s.recent {
		if s.recent[i].site == want {
			return s.recent[i].weather
		}
	}
	if len(s.recent) == mostRecent {
		s.recent = slices.Delete(s.recent, 0, 1)
	}
	w := s.model.Site(want)
	s.recent = append(s.recent, drawn{want, w})
	return w
}

// design gives the pick's best design and its heat as the model takes them, and
// the design whose sensitivities serve.
func (s *Sure) design(b *result.Block, p *Pick) (d risk.Design, heat risk.Heater, from int, ok bool) {
	if p.Best < 0 || b.Sensitivities == nil {
		return d, nil, 0, false
	}
	sens, from := s.sensitivity(b, p)
	if sens == nil {
		return d, nil, 0, false
	}
	var strain map[cost.Film]float64
	if b.Stress != nil {
		strain = s.o.Lives.Strain(b, &s.o.Table, p.Outlet, p.Best)
	}
	d, err := s.o.Markets[p.Market].Plan.RiskDesign(s.o.Table.Designs[p.Best], strain)
	if err != nil {
		return d, nil, 0, false // Add has told it
	}
	return d, newHeater(sens, b.Months(&s.o.Table, p.Outlet, p.Best), p.caps), from, true
}

// sensitivity gives that of the pick's best design, or where another study made
// it the best and none was recorded, the relative one of the recorded design of
// the outlet whose geometry is nearest.
func (s *Sure) sensitivity(b *result.Block, p *Pick) (*result.Sensitivity, int) {
	t := &s.o.Table
	var near *result.Sensitivity
	least := math.Inf(1)
	for i := range b.Sensitivities {
		one := &b.Sensitivities[i]
		if one.Outlet != p.Outlet {
			continue
		}
		if one.Design == p.Best {
			return one, p.Best
		}
		if d := apart(&t.Designs[one.Design], &t.Designs[p.Best]); d < least {
			near, least = one, d
		}
	}
	if near == nil {
		return nil, 0
	}
	scaled := like(near, b.Months(t, p.Outlet, near.Design), b.Months(t, p.Outlet, p.Best))
	if t.Designs[p.Best].MirrorLength == 0 {
		copy(scaled.Low[result.Reflectance][:], b.Months(t, p.Outlet, p.Best))
		scaled.High[result.Reflectance] = scaled.Low[result.Reflectance]
	}
	return &scaled, near.Design
}

// mostChange is how much more of a change of heat a design may take over from
// another, in proportion to their heat: where the other hardly delivers in a
// month, its relative change means nothing.
const mostChange = 3

// like gives a design of heat ours the relative changes, month by month, of the
// design of heat theirs.
func like(s *result.Sensitivity, theirs, ours []float32) result.Sensitivity {
	scaled := *s
	for m, own := range ours {
		factor := float32(0)
		if theirs[m] > 0 {
			factor = min(own/theirs[m], mostChange)
		}
		for q := range result.Params {
			scaled.Low[q][m] = max(0, own+factor*(s.Low[q][m]-theirs[m]))
			scaled.High[q][m] = max(0, own+factor*(s.High[q][m]-theirs[m]))
		}
	}
	return scaled
}

// apart measures how different two heaters are: lengths in m, and 20° of tilt
// like a metre.
func apart(a, b *result.Design) float64 {
	sum := 0.0
	for _, d := range []float64{
		a.MirrorLength - b.MirrorLength, (a.MirrorTilt - b.MirrorTilt) / 20, a.Setback - b.Setback, a.Raise - b.Raise,
		a.ReceiverWidth - b.ReceiverWidth, a.RowPitch - b.RowPitch, (a.RowAzimuth - b.RowAzimuth) / 20,
	} {
		sum += d * d
	}
	return sum
}

// newHeater gives the heat that counts in the months of caps.
func newHeater(s *result.Sensitivity, months []float32, caps *[12]float64) risk.Heater {
	var all [12]bool
	limited := false
	for m, cap := range caps {
		all[m] = cap > 0
		limited = limited || cap > 0 && !math.IsInf(cap, 1)
	}
	if !limited {
		r := s.Response(months, all)
		return &r
	}
	var c capped
	for m, cap := range caps {
		if cap > 0 {
			var one [12]bool
			one[m] = true
			c = append(c, cappedMonth{s.Response(months, one), cap})
		}
	}
	return c
}

// A capped heater counts each month's heat up to what the month wants.
type capped []cappedMonth

type cappedMonth struct {
	result.Response
	cap float64
}

func (c capped) Heat(change [result.Params]float64) (sum float64) {
	for i := range c {
		sum += min(c[i].Response.Heat(change), c[i].cap)
	}
	return sum
}
