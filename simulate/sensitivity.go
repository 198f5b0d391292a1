package simulate

import (
	"fmt"
	"slices"

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
		at.lanes, at.picks = at.lanes[:0], at.picks[:0]
		for o := range p.Outlets {
			for i := range list {
				l := p.lanes[list[i].Design]
				if list[i].Outlet != o || l.group != g {
					continue
				}
				at.picks = append(at.picks, &list[i])
				if !slices.Contains(at.lanes, l.lane) {
					at.lanes = append(at.lanes, l.lane)
				}
			}
		}
		if len(at.picks) > 0 {
			at.years(b, g)
		}
	}
	return nil
}

// The lights of an hour, each of them of all picked lanes: what the receiver
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
	picks []*result.Sensitivity // of the group, by outlet

	rows     []int     // of the group's beam that its hours use, in their order
	narrowed []int32   // of each row of the group's beam: its place in rows
	beam     []float32 // these rows, see narrow
}

// years takes the picks of a group through the year, with each input changed
// either way, and writes the strain of their lanes into the block if nobody has
// yet.
func (at *replay) years(b *result.Block, group int) {
	if at.hand != group {
		at.hoursOf(group)
	}
	p, g, n := at.plan, &at.plan.groups[group], len(at.lanes)
	// Each lane twice: as it is, then the part that comes by the mirror.
	f := kernel.Field{Lanes: 2 * n, Sky: make([]float32, 2*n), Ground: make([]float32, 2*n), Beam: at.narrow(g)}
	for i, l := range at.lanes {
		f.Sky[i], f.Sky[n+i] = g.field.Sky[l], float32(p.Mirror.Rho()*g.heaters[l].Mirrored)
		f.Ground[i], f.Ground[n+i] = g.field.Ground[l], g.field.Ground[l]
	}
	var strain *strainYear
	if p.Wear != nil && p.PickedStress {
		strain = newStrainYear(g.strains.narrow(at.lanes), f.Sky[:n], f.Ground[:n], g.azimuth, at.where(), &p.Receiver, 0, n)
	}
	v := at.variants()
	shine, lit := make([]float32, lights*n), true
	for h := range at.hours {
		if at.dark(h) {
			if lit {
				clear(shine)
				v.light(shine)
			}
			lit = false
		} else {
			at.shine(shine, &f, h)
			v.light(shine)
			lit = true
		}
		if strain != nil && at.sky[h].sunlit() {
			strain.hour(shine[plain*n:][:n], &at.lights[h], at.air(h), &p.Options, at.year.DNI[h] > 0)
		}
		v.hour(h)
	}
	if strain != nil {
		at.store(b, group, strain)
	}
}

// shine works out the lights of an hour.
func (at *replay) shine(shine []float32, f *kernel.Field, h int) {
	n, k := len(at.lanes), at.hours[h]
	for j, row := range k.Row[:k.N] {
		k.Row[j] = at.narrowed[row]
	}
	dimmer, brighter := at.skies(h, &k, &at.plan.Options)
	f.Light(shine[:2*n], 0, &k)
	f.Light(shine[dim*n:][:n], 0, &dimmer)
	f.Light(shine[bright*n:][:n], 0, &brighter)
}

// narrow gives the rows of a group's beam that its hours use, for the lanes at
// hand: as they are, then the part that comes by the mirror. It says in narrowed
// where each row went. Many hours come by the same rows.
func (at *replay) narrow(g *group) (beam []float32) {
	if at.narrowed == nil {
		at.narrowed = make([]int32, collector.Rows)
	}
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

// store writes the strain of the lanes at hand into the block, for all their
// designs and all outlets.
func (at *replay) store(b *result.Block, group int, y *strainYear) {
	p := at.plan
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
	y, sky := at.year, &at.sky[h]
	ghi, dni, dhi := float64(y.GHI[h]), float64(y.DNI[h]), float64(y.DHI[h])
	spread := func(by float64) (l collector.Light) {
		l.Spread(by*ghi, by*dni, by*dhi, sky.fraction, sky.distance, o.Ground)
		return l
	}
	now := spread(1)
	other := func(by float64) (k kernel.Hour) {
		l := spread(by)
		k.N, k.Row = was.N, was.Row
		k.Sky, k.Ground = diffuse(&l, o)
		now.Scale(k.Weight[:], was.Weight[:], sky.at[:sky.n], dni, dhi, by, &l)
		return k
	}
	step := result.Steps[result.Irradiance]
	return other(1 - step), other(1 + step)
}
