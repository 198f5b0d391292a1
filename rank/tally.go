package rank

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"stillrow/simulate/result"
)

// A tally adds up one band for one outlet and use.
type tally struct {
	Sites, NoHeat, OverCap, BeatGas int

	Latitude exact // of its absolute value over the sites that have a best
	Designs  []fit
	Tilts    []fit // by number of tilt
}

// A fit adds up one design, or the best of one tilt, over the sites of a band
// that have a best.
type fit struct {
	Regret, Extra, Lost     exact // shortfall, LCOH over the best's, saving below the best's
	WorstExtra, WorstLost   float64
	With, Without, BeatsGas int32 // sites where it is a choice, where it is none, where it beats gas
}

func (f *fit) add(regret, ratio, lost float64, beatsGas bool) {
	f.Regret.add(regret)
	f.Extra.add(ratio)
	f.Lost.add(lost)
	f.worst(ratio, lost)
	f.With++
	if beatsGas {
		f.BeatsGas++
	}
}

// worst takes the worst of other sites before they are counted.
func (f *fit) worst(extra, lost float64) {
	f.WorstExtra = max(f.WorstExtra, extra)
	if f.With == 0 || lost > f.WorstLost { // where cost decides, another design may save more
		f.WorstLost = lost
	}
}

// put adds what other sites came to.
func (f *fit) put(o *fit) {
	if o.With > 0 {
		f.worst(o.WorstExtra, o.WorstLost)
	}
	f.Regret.put(o.Regret)
	f.Extra.put(o.Extra)
	f.Lost.put(o.Lost)
	f.With, f.Without, f.BeatsGas = f.With+o.With, f.Without+o.Without, f.BeatsGas+o.BeatsGas
}

// mean is the mean regret.
func (f *fit) mean() float64 {
	if f.With == 0 {
		return math.Inf(1)
	}
	return f.Regret.value() / float64(f.With)
}

// meanExtra is the mean of how much dearer heat is, per cent.
func (f *fit) meanExtra() float64 { return 100 * (f.Extra.value()/float64(f.With) - 1) }

// compare puts the fit first that serves more sites, then the one with less
// regret.
func (f *fit) compare(o *fit) int {
	return cmp.Or(cmp.Compare(f.Without, o.Without), cmp.Compare(f.mean(), o.mean()))
}

// put adds what other sites of the band came to.
func (t *tally) put(o *tally) {
	t.Sites, t.NoHeat, t.OverCap, t.BeatGas = t.Sites+o.Sites, t.NoHeat+o.NoHeat, t.OverCap+o.OverCap, t.BeatGas+o.BeatGas
	t.Latitude.put(o.Latitude)
	for d := range t.Designs {
		t.Designs[d].put(&o.Designs[d])
	}
	for i := range t.Tilts {
		t.Tilts[i].put(&o.Tilts[i])
	}
}

// bands holds the tallies of every band that has a site: bounded by bands ×
// outlets × uses × designs. What they hold does not depend on the order of the
// sites.
type bands struct {
	height        float64
	outlets, uses int
	designs       []result.Design
	tilts         []float64       // candidates with a mirror have, rising
	tiltOf        []int           // by design, -1 without a mirror
	tallies       map[int][]tally // by band, then outlet·uses+use
	best          []int           // by tilt, for add
}

func newBands(o *Options) bands {
	bs := bands{height: o.BandDeg, outlets: len(o.Table.Outlets), uses: len(o.Uses), designs: o.Table.Designs, tallies: make(map[int][]tally)}
	for _, d := range bs.designs {
		if d.MirrorLength > 0 {
			bs.tilts = append(bs.tilts, d.MirrorTilt)
		}
	}
	slices.Sort(bs.tilts)
	bs.tilts = slices.Compact(bs.tilts)
	for _, d := range bs.designs {
		of := -1
		if d.MirrorLength > 0 {
			of, _ = slices.BinarySearch(bs.tilts, d.MirrorTilt)
		}
		bs.tiltOf = append(bs.tiltOf, of)
	}
	bs.best = make([]int, len(bs.tilts))
	return bs
}

// index numbers bands from the equator, negative in the south.
func (bs *bands) index(lat float64) int {
	i := math.Floor(edge(lat / bs.height))              // 0.3/0.1 is a little below 3
	return int(min(i, math.Ceil(edge(90/bs.height))-1)) // the pole belongs to the last
}

// band gives the tallies of a band.
func (bs *bands) band(i int) []tally {
	if bs.tallies[i] == nil {
		list := make([]tally, bs.outlets*bs.uses)
		for k := range list {
			list[k].Designs, list[k].Tilts = make([]fit, len(bs.designs)), make([]fit, len(bs.tilts))
		}
		bs.tallies[i] = list
	}
	return bs.tallies[i]
}

// put adds the tallies of other sites.
func (bs *bands) put(tallies map[int][]tally) {
	for i, list := range tallies {
		own := bs.band(i)
		for k := range own {
			own[k].put(&list[k])
		}
	}
}

// fits says whether tallies are of the same outlets, uses, designs and tilts.
func (bs *bands) fits(tallies map[int][]tally) bool {
	for _, list := range tallies {
		if len(list) != bs.outlets*bs.uses {
			return false
		}
		for k := range list {
			if len(list[k].Designs) != len(bs.designs) || len(list[k].Tilts) != len(bs.tilts) {
				return false
			}
		}
	}
	return true
}

// add counts the choice of one site at the prices it was made with.
func (bs *bands) add(lat float64, outlet, use int, c *choice, p *prices) {
	t := &bs.band(bs.index(lat))[outlet*bs.uses+use]
	t.Sites++
	if c.best < 0 {
		if c.reason == overCap {
			t.OverCap++
		} else {
			t.NoHeat++
		}
		return
	}
	best := c.lcoh[c.best]
	if best/p.gasHeat < 1 {
		t.BeatGas++
	}
	t.Latitude.add(math.Abs(lat))
	most := p.saving(best, c.heat[c.best])
	count := func(f *fit, d int) {
		if d < 0 || math.IsInf(c.score[d], 1) {
			f.Without++
			return
		}
		f.add(p.regret(c, d), c.lcoh[d]/best, most-p.saving(c.lcoh[d], c.heat[d]), c.lcoh[d]/p.gasHeat < 1)
	}
	for i := range bs.best {
		bs.best[i] = -1
	}
	for d := range bs.designs {
		count(&t.Designs[d], d)
		if i := bs.tiltOf[d]; i >= 0 && p.better(c.score, d, bs.best[i]) {
			bs.best[i] = d
		}
	}
	for i, d := range bs.best {
		count(&t.Tilts[i], d)
	}
}

// list works out the bands, from south to north, each by outlet and use.
func (bs *bands) list(o *Options) []Band {
	var list []Band
	for _, i := range slices.Sorted(maps.Keys(bs.tallies)) {
		for k := range bs.tallies[i] {
			t := &bs.tallies[i][k]
			b := Band{
				LatFrom: max(edge(float64(i)*bs.height), -90), LatTo: min(edge(float64(i+1)*bs.height), 90),
				Outlet: o.Table.Outlets[k/bs.uses], Use: o.Uses[k%bs.uses].Name,
				Sites: t.Sites, NoHeat: t.NoHeat, OverCap: t.OverCap, BeatGas: t.BeatGas,
			}
			if t.chosen() > 0 {
				d := bs.bestDesign(t)
				f := &t.Designs[d]
				b.DesignID, b.Design = &d, &bs.designs[d]
				b.MeanExtra, b.WorstExtra = ptr(f.meanExtra()), ptr(100*(f.WorstExtra-1))
				b.MeanLost, b.WorstLost = ptr(f.Lost.value()/float64(f.With)), ptr(f.WorstLost)
				b.DesignNoHeat, b.BeatGasWithDesign = int(f.Without), int(f.BeatsGas)
				b.Tilt = bs.bestTilt(t)
			}
			list = append(list, b)
		}
	}
	return list
}

// chosen counts the sites that have a best.
func (t *tally) chosen() int { return t.Sites - t.NoHeat - t.OverCap }

// bestDesign is the design that suits the tally's sites, of which one has a best.
func (bs *bands) bestDesign(t *tally) int {
	mirror := func(d int) float64 { return bs.designs[d].MirrorLength / bs.designs[d].ReceiverWidth }
	best := 0
	for d := range t.Designs {
		if cmp.Or(t.Designs[d].compare(&t.Designs[best]), cmp.Compare(mirror(d), mirror(best))) < 0 {
			best = d
		}
	}
	return best
}

// edge rounds to 1e-9 degrees.
func edge(deg float64) float64 { return math.Round(deg*1e9) / 1e9 }
