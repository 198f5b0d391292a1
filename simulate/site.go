package simulate

import (
	"stillrow/ingest/weather"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
)

// block is how many lanes go through the year together: their state at one
// outlet stays in the first-level cache.
const block = 256

// Site simulates one site: all designs and outlets.
func (p *Plan) Site(s weather.Site, y *weather.Year) (*result.Block, error) {
	if err := y.Validate(); err != nil {
		return nil, err
	}
	r, _ := p.runs.Get().(*run)
	if r == nil {
		r = newRun(p)
	}
	defer p.runs.Put(r)
	r.begin(s, y)
	if p.Wear != nil {
		r.site = r.strain(&p.Options, r.warmth)
	}
	b := &result.Block{Site: result.Site(s), Heat: make([]float32, len(p.Outlets)*len(p.Designs)*12)}
	if p.Wear != nil {
		b.Stress = make([]float32, len(p.Outlets)*len(p.Designs)*result.Stresses)
	}
	for g := range p.groups {
		r.group(g)
		p.take(b, g, r)
	}
	if p.Pick != nil {
		if err := r.again(b, p.Pick(b)); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// take copies what a group's lanes gave to the designs they stand for.
func (p *Plan) take(b *result.Block, g int, r *run) {
	lanes := p.groups[g].field.Lanes
	for o := range p.Outlets {
		for d, l := range p.lanes {
			if l.group != g {
				continue
			}
			from, to := o*lanes+l.lane, o*len(p.Designs)+d
			copy(b.Heat[to*12:][:12], r.months[from*12:])
			if b.Stress != nil {
				copy(b.Stress[to*result.Stresses:][:result.Stresses], r.stress[from*result.Stresses:])
			}
		}
	}
}

// A run takes one site through its year, group by group, and then another site
// in the same memory.
type run struct {
	plan *Plan
	siteYear
	hours   []kernel.Hour   // of the group at hand
	hand    int             // its number
	lines   [][]kernel.Line // of each outlet
	regimes []kernel.Regime // of each outlet
	warmth  *kernel.Warmth  // nil without stresses
	lights  []thinLight     // of its sunlit hours; nil without stresses
	doses   [2][]float64    // of the group at hand, see lightSum.doses
	site    siteStrain
	replay  replay

	months []float32 // of the group's lanes: outlet, lane, month; kWh/m²
	stress []float32 // outlet, lane, stress
}

func newRun(p *Plan) *run {
	r := &run{plan: p, hours: make([]kernel.Hour, weather.Hours), regimes: make([]kernel.Regime, len(p.Outlets))}
	for range p.Outlets {
		r.lines = append(r.lines, make([]kernel.Line, weather.Hours))
	}
	if p.Wear != nil {
		r.warmth = newWarmth(*p.Wear)
		r.lights = make([]thinLight, weather.Hours)
	}
	return r
}

// begin readies a run for a site.
func (r *run) begin(s weather.Site, y *weather.Year) {
	p := r.plan
	r.siteYear.begin(p.sun, s, y, &p.Receiver)
	r.kernelLines(r.lines, p.Outlets, &p.Receiver)
	for o, out := range p.Outlets {
		r.regimes[o] = r.regime(out, &p.Receiver)
	}
}

// group takes the lanes of a group through the year, a block at a time.
func (r *run) group(i int) {
	g := &r.plan.groups[i]
	n := len(r.plan.Outlets) * g.field.Lanes
	r.hoursOf(i)
	r.months = make([]float32, n*12)
	if r.warmth != nil {
		r.stress = make([]float32, n*result.Stresses)
	}
	for lo := 0; lo < g.field.Lanes; lo += block {
		r.march(g, lo, min(block, g.field.Lanes-lo))
	}
}

// hoursOf works out the hours of a group.
func (r *run) hoursOf(group int) {
	g := &r.plan.groups[group]
	r.kernelHours(r.hours, g.azimuth, &r.plan.Options, r.lights)
	if r.lights != nil {
		var sum lightSum
		for h := range r.lights {
			if r.sky[h].sunlit() {
				sum.add(&r.lights[h])
			}
		}
		r.doses[0], r.doses[1] = sum.doses(g, r.plan.Mirror)
	}
	r.hand = group
}

// march takes lanes lo to lo+n through the year at every outlet.
func (r *run) march(g *group, lo, n int) {
	f := &g.field
	banks := make([]*kernel.Bank, len(r.regimes))
	warm, freezing := make([][]float32, len(r.regimes)), make([][]float32, len(r.regimes))
	for o := range banks {
		banks[o] = kernel.NewBank(n)
		banks[o].Start(&r.regimes[o])
		warm[o], freezing[o] = make([]float32, n), make([]float32, n)
	}
	var strain *strainYear
	if r.warmth != nil && !r.plan.PickedStress {
		strain = newStrainYear(g.strains, f.Sky, f.Ground, g.azimuth, r.where(), &r.plan.Receiver, lo, n)
	}
	s := make([]float32, n)
	for h := range r.hours {
		f.Light(s, lo, &r.hours[h])
		if strain != nil && r.sky[h].sunlit() {
			strain.hour(s, &r.lights[h], r.air(h), &r.plan.Options, r.year.DNI[h] > 0)
		}
		for o, b := range banks {
			b.Advance(s, &r.regimes[o], &r.hours[h], &r.lines[o][h])
			if r.warmth != nil {
				b.Warm(r.warmth, warm[o], freezing[o])
			}
		}
		if h == len(r.hours)-1 || r.month[h+1] != r.month[h] {
			for o, b := range banks {
				for i, q := range b.Heat {
					r.months[(o*f.Lanes+lo+i)*12+int(r.month[h])] = q / 1000
					b.Heat[i] = 0
				}
			}
		}
	}
	if r.warmth == nil {
		return
	}
	for o := range banks {
		for i := range n {
			dst := r.stress[(o*f.Lanes+lo+i)*result.Stresses:][:result.Stresses]
			r.plan.Wear.storeDoses(dst, r.doses[0][lo+i], r.doses[1][lo+i])
			dst[result.WarmReceiver], dst[result.FreezingHours] = warm[o][i], freezing[o][i]
			r.site.store(dst)
			if strain != nil {
				strain.store(dst, i)
			} else {
				unpicked(dst)
			}
		}
	}
}
