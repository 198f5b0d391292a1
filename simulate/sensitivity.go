package simulate

import (
	"fmt"
	"math"
	"slices"

	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
)

// again takes the picks of a site through the year again, with each input
// changed either way, and looks at their strain if nobody has yet.
func (r *run) again(b *result.Block, picks []result.Pick) error {
	if len(picks) == 0 {
		return nil
	}
	p := r.plan
	list := make([]result.Sensitivity, len(picks))
	seen := make(map[result.Pick]bool, len(picks))
	for i, k := range picks {
		if k.Design < 0 || k.Design >= len(p.Designs) || k.Outlet < 0 || k.Outlet >= len(p.Outlets) {
			return fmt.Errorf("pick %d: design %d at outlet %d, want one of %d designs and %d outlets", i, k.Design, k.Outlet, len(p.Designs), len(p.Outlets))
		}
		if seen[k] {
			return fmt.Errorf("pick %d: design %d at outlet %d is picked twice", i, k.Design, k.Outlet)
		}
		seen[k] = true
		list[i].Pick = k
	}
	b.Sensitivities = list
	at := &r.replay
	at.run = r
	for g := range p.groups {
		here := func(k *result.Sensitivity) bool { return p.lanes[k.Design].group == g }
		at.lanes = at.lanes[:0]
		for i := range list {
			if l := p.lanes[list[i].Design]; here(&list[i]) && !slices.Contains(at.lanes, l.lane) {
				at.lanes = append(at.lanes, l.lane)
			}
		}
		if len(at.lanes) == 0 {
			continue
		}
		at.brighten(g)
		if p.Wear != nil && p.PickedStress {
			at.strain(b, g)
		}
		for o := range p.Outlets {
			at.picks = at.picks[:0]
			for i := range list {
				if list[i].Outlet == o && here(&list[i]) {
					at.picks = append(at.picks, &list[i])
				}
			}
			if len(at.picks) > 0 {
				at.outlet(o)
			}
		}
	}
	return nil
}

// The lights of an hour that a replay keeps for each lane: what the receiver
// absorbs; the part of it that the mirror sends, to be told apart for a change
// of its reflectance; and what it absorbs under a dimmer and a brighter sky.
const (
	plain = iota
	mirrored
	dim
	bright
	lights
)

// A replay takes picks through the year again, a group at a time. Its memory
// serves the next site.
type replay struct {
	*run
	lanes []int                 // picked, of the group
	shine []float32             // W/m² absorbed: hour, light, lane
	picks []*result.Sensitivity // of the group, at one outlet
	lines []kernel.Line         // with an input changed

	rows     []int     // of the group's beam that its hours use, in their order
	narrowed []int32   // of each row of the group's beam: its place in rows
	beam     []float32 // these rows, see narrow
}

// brighten works out the lights of the picked lanes of a group.
func (at *replay) brighten(group int) {
	if at.hand != group {
		at.hoursOf(group)
	}
	n := len(at.lanes)
	p, g := at.plan, &at.plan.groups[group]
	if need := weather.Hours * lights * n; cap(at.shine) < need {
		at.shine = make([]float32, need)
	} else {
		at.shine = at.shine[:need]
	}
	if at.lines == nil {
		at.lines = make([]kernel.Line, weather.Hours)
		at.narrowed = make([]int32, collector.Rows)
	}
	// Each lane twice: as it is, then the part that comes by the mirror.
	f := kernel.Field{Lanes: 2 * n, Sky: make([]float32, 2*n), Ground: make([]float32, 2*n), Beam: at.narrow(g)}
	for i, l := range at.lanes {
		f.Sky[i], f.Sky[n+i] = g.field.Sky[l], float32(p.Mirror.Rho()*g.heaters[l].Mirrored)
		f.Ground[i], f.Ground[n+i] = g.field.Ground[l], g.field.Ground[l]
	}
	for h := range at.hours {
		k := at.hours[h]
		shine := at.shine[h*lights*n:][:lights*n]
		if at.dark(h) {
			clear(shine)
			continue
		}
		dimmer, brighter := at.skies(h, &k, &p.Options)
		for j, row := range k.Row[:k.N] {
			k.Row[j] = at.narrowed[row]
		}
		dimmer.N, brighter.N = k.N, k.N
		dimmer.Row, brighter.Row = k.Row, k.Row
		f.Light(shine[:2*n], 0, &k)
		f.Light(shine[dim*n:][:n], 0, &dimmer)
		f.Light(shine[bright*n:][:n], 0, &brighter)
	}
}

// narrow gives the rows of a group's beam that its hours use, for the lanes at
// hand: as they are, then the part that comes by the mirror. It says in narrowed
// where each row went. Many hours come by the same rows.
func (at *replay) narrow(g *group) (beam []float32) {
	clear(at.narrowed)
	for h := range at.hours {
		k := &at.hours[h]
		for _, row := range k.Row[:k.N] {
			at.narrowed[row] = 1
		}
	}
	at.rows = at.rows[:0]
	for row, used := range at.narrowed {
		if used > 0 {
			at.narrowed[row] = int32(len(at.rows))
			at.rows = append(at.rows, row)
		}
	}
	n, all := len(at.lanes), g.field.Lanes
	if need := 2 * n * len(at.rows); cap(at.beam) < need {
		at.beam = make([]float32, need)
	} else {
		at.beam = at.beam[:need]
	}
	// Reading comes first and by itself: most of it comes from afar, and a
	// processor asks for as much at a time as it sees ahead.
	for j, row := range at.rows {
		from, whole := g.field.Beam[row*all:][:all], at.beam[2*n*j:][:n]
		for i, l := range at.lanes {
			whole[i] = from[l]
		}
	}
	for j, row := range at.rows {
		whole, mirrored := at.beam[2*n*j:][:n], at.beam[2*n*j+n:][:n]
		direct, gain := g.direct[row/collector.S2Bins*all:][:all], at.plan.gain[row]
		for i, l := range at.lanes {
			mirrored[i] = max(0, whole[i]-float32(gain*direct[l]))
		}
	}
	return at.beam
}

// dark says whether nothing shines in hour h.
func (at *replay) dark(h int) bool {
	k := &at.hours[h]
	return k.N == 0 && k.Sky == 0 && k.Ground == 0
}

// strain looks at the strain of the lanes at hand and writes it into the block,
// for all their designs and all outlets.
func (at *replay) strain(b *result.Block, group int) {
	p, g, n := at.plan, &at.plan.groups[group], len(at.lanes)
	sky, ground := make([]float32, n), make([]float32, n)
	for i, l := range at.lanes {
		sky[i], ground[i] = g.field.Sky[l], g.field.Ground[l]
	}
	y := newStrainYear(g.strains.narrow(at.lanes), sky, ground, g.azimuth, at.where(), &p.Receiver, 0, n)
	for h := range at.hours {
		if at.sky[h].sunlit() {
			s := at.shine[(h*lights+plain)*n:][:n]
			y.hour(s, &at.lights[h], at.air(h), &p.Options, at.year.DNI[h] > 0)
		}
	}
	for d, l := range p.lanes {
		i := slices.Index(at.lanes, l.lane)
		if l.group != group || i < 0 {
			continue
		}
		for o := range p.Outlets {
			y.store(b.Stress[(o*len(p.Designs)+d)*result.Stresses:][:result.Stresses], i)
		}
	}
}

// skies gives an hour under a dimmer and a brighter sky. The sun stands where it
// stood: only the beam counted for each instant changes.
func (at *replay) skies(h int, was *kernel.Hour, o *Options) (dimmer, brighter kernel.Hour) {
	var rays [instants]collector.Ray
	y, sky := at.year, &at.sky[h]
	l := collector.Light{Rays: rays[:sky.n]}
	for i, v := range sky.at[:sky.n] {
		l.Rays[i].Up = v.Up
	}
	shine := func(by float64) {
		l.Shine(by*float64(y.GHI[h]), by*float64(y.DNI[h]), by*float64(y.DHI[h]), sky.fraction, sky.distance, o.Ground)
	}
	shine(1)
	var weight [instants]float64 // per W/m² of beam
	for i, ray := range l.Rays {
		if ray.DNI > 0 {
			weight[i] = float64(was.Weight[i]) / ray.DNI
		}
	}
	other := func(k *kernel.Hour, by float64) {
		shine(by)
		k.Sky, k.Ground = diffuse(&l, o)
		for i, ray := range l.Rays {
			k.Weight[i] = float32(weight[i] * ray.DNI)
		}
	}
	step := result.Steps[result.Irradiance]
	other(&dimmer, 1-step)
	other(&brighter, 1+step)
	return dimmer, brighter
}

// A variant is one of the years a pick goes through again: it absorbs times
// its light light, and extra times what the mirror sends.
type variant struct {
	param        result.Param
	high         bool
	light        int
	times, extra float32
}

func (v *variant) of(s *result.Sensitivity) *[12]float32 {
	if v.high {
		return &s.High[v.param]
	}
	return &s.Low[v.param]
}

// outlet takes the picks at an outlet through their years.
func (at *replay) outlet(o int) {
	eta, rho := float32(result.Steps[result.Eta0b]), float32(result.Steps[result.Reflectance])
	dimmer := variant{result.Irradiance, false, dim, 1, 0}
	brighter := variant{result.Irradiance, true, bright, 1, 0}
	sameLoss := []variant{
		{result.Eta0b, false, plain, 1 - eta, 0}, {result.Eta0b, true, plain, 1 + eta, 0},
		{result.Reflectance, false, plain, 1, -rho}, {result.Reflectance, true, plain, 1, rho},
	}
	r := at.plan.Receiver
	if r.C6 == 0 { // the sun has no part in the loss
		sameLoss = append(sameLoss, dimmer, brighter)
	} else {
		step := result.Steps[result.Irradiance]
		at.years(o, at.shaded(o, -step), dimmer)
		at.years(o, at.shaded(o, step), brighter)
	}
	at.years(o, at.run.lines[o], sameLoss...)
	step := result.Steps[result.C1]
	at.years(o, at.leakier(o, -step), variant{result.C1, false, plain, 1, 0})
	at.years(o, at.leakier(o, step), variant{result.C1, true, plain, 1, 0})
}

// leakier gives the lines of an outlet with c1 changed by a share.
func (at *replay) leakier(o int, change float64) []kernel.Line {
	r := at.plan.Receiver
	more := r.C1 * change
	r.C1 += more
	wet, dry := r.Capacity(), r.C5
	// exp(−(U+more)/C) is the known exp(−U/C) times this.
	wetter, drier := float32(fallen(more, wet)), float32(fallen(more, dry))
	for h, was := range at.run.lines[o] {
		l := r.Linear(at.air(h), at.plan.Outlets[o])
		inv := 1 / l.U
		k := kernel.Line{
			Base: float32(l.Run - l.At*inv), InvU: float32(inv), U: float32(l.U),
			Wet: kernel.Decay{Hour: was.Wet.Hour * wetter, Time: float32(wet * inv / 3600)},
			Dry: kernel.Decay{Hour: was.Dry.Hour * drier, Time: float32(dry * inv / 3600)},
		}
		if math.Abs(l.U-float64(was.U)-more) > 1e-5*l.U { // a slope that is kept positive
			k.Wet.Hour, k.Dry.Hour = float32(fallen(l.U, wet)), float32(fallen(l.U, dry))
		}
		at.lines[h] = k
	}
	return at.lines
}

// shaded gives the lines of an outlet with the irradiance changed by a share:
// of the loss only the part c6 follows it.
func (at *replay) shaded(o int, change float64) []kernel.Line {
	r := &at.plan.Receiver
	for h, l := range at.run.lines[o] {
		w := at.air(h)
		l.Base -= float32(change*r.C6*r.WindFactor*w.Wind*w.GHI) * l.InvU
		at.lines[h] = l
	}
	return at.lines
}

// years takes the picks through the year once for each variant.
func (at *replay) years(o int, lines []kernel.Line, variants ...variant) {
	type source struct {
		light, mirrored int // where in the lights of an hour
		times, extra    float32
	}
	n := len(at.lanes)
	var from []source // of each lane of the bank
	var to []*[12]float32
	for _, s := range at.picks {
		lane := slices.Index(at.lanes, at.plan.lanes[s.Design].lane)
		for _, v := range variants {
			from = append(from, source{v.light*n + lane, mirrored*n + lane, v.times, v.extra})
			to = append(to, v.of(s))
		}
	}
	bank := kernel.NewBank(len(from))
	bank.Start(&at.regimes[o])
	s := make([]float32, len(from))
	for h := range at.hours {
		if at.dark(h) {
			clear(s)
		} else {
			shine := at.shine[h*lights*n:][:lights*n]
			for i, f := range from {
				s[i] = float32(f.times*shine[f.light]) + float32(f.extra*shine[f.mirrored])
			}
		}
		bank.Advance(s, &at.regimes[o], &at.hours[h], &lines[h])
		if h == len(at.hours)-1 || at.month[h+1] != at.month[h] {
			for i, q := range bank.Heat {
				to[i][at.month[h]] = q / 1000
				bank.Heat[i] = 0
			}
		}
	}
}
