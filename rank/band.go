package rank

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strconv"

	"stillrow/simulate/result"
)

// BandsFile is the table of latitude bands.
const BandsFile = "bands.csv"

// A Band is what one fixed design would do in a whole band of latitude: the
// design that falls least short, in the mean over the band's sites, of each
// site's own best by what the study ranks by; and what one fixed tilt would do
// there, were each site free to take its best design of that tilt. A design
// that is no choice at a site where another is comes after all that are. Counts
// of sites leave none out.
type Band struct {
	LatFrom float64 `json:"lat_from_deg"` // this latitude is in the band
	LatTo   float64 `json:"lat_to_deg"`   // this one is not, but the pole
	Outlet  float64 `json:"outlet_c"`
	Use     string  `json:"use"`
	Sites   int     `json:"sites"`
	NoHeat  int     `json:"sites_without_heat"`            // where no design delivers any
	OverCap int     `json:"sites_over_cost_cap,omitempty"` // where all that do cost too much

	DesignID     *int           `json:"design_id"` // nil where no site has a best
	Design       *result.Design `json:"design"`
	MeanExtra    *float64       `json:"mean_extra_percent"`             // over the sites where the design is a choice
	WorstExtra   *float64       `json:"worst_extra_percent"`            // over the same
	MeanLost     *float64       `json:"mean_lost_saving_per_m2_year"`   // over the same
	WorstLost    *float64       `json:"worst_lost_saving_per_m2_year"`  // over the same
	DesignNoHeat int            `json:"sites_without_heat_from_design"` // where another design is a choice

	Tilt *TiltFit `json:"tilt"` // nil where no design with a mirror is a choice

	BeatGas           int `json:"sites_beating_gas"` // with each site's own best
	BeatGasWithDesign int `json:"sites_beating_gas_with_design"`
}

// bandColumns are the columns of BandsFile.
var bandColumns = []sheetColumn[Band]{
	{"lat_from_deg", "°", "southern edge of the band, in it", func(b *Band) string { return short(b.LatFrom) }},
	{"lat_to_deg", "°", "northern edge of the band, not in it unless it is the pole", func(b *Band) string { return short(b.LatTo) }},
	{"outlet_c", "°C", "temperature of the delivered water", func(b *Band) string { return short(b.Outlet) }},
	{"use", "", "use of the study", func(b *Band) string { return valid(b.Use) }},
	{"sites", "", "sites in the band", func(b *Band) string { return strconv.Itoa(b.Sites) }},
	{"sites_without_heat", "", "sites where no design delivers heat in the months of the use", func(b *Band) string { return strconv.Itoa(b.NoHeat) }},
	{"sites_over_cost_cap", "", "sites where designs deliver heat but none within the cost cap of the study", func(b *Band) string { return strconv.Itoa(b.OverCap) }},
	{"design_id", "", "the one fixed design that suits the band best; empty where no site has a best design", func(b *Band) string {
		if b.DesignID == nil {
			return ""
		}
		return strconv.Itoa(*b.DesignID)
	}},
	{"receiver_width_m", "m", "its receiver width", ofDesign(func(d *result.Design) float64 { return d.ReceiverWidth })},
	{"mirror_length_m", "m", "slant length of its mirror, 0 without one", ofDesign(func(d *result.Design) float64 { return d.MirrorLength })},
	{"mirror_tilt_deg", "°", "slope of its mirror: 90 is vertical, above 90 it overhangs the receiver; empty without a mirror", func(b *Band) string {
		if b.Design == nil || b.Design.MirrorLength == 0 {
			return ""
		}
		return short(b.Design.MirrorTilt)
	}},
	{"setback_m", "m", "gap from its receiver to its mirror's foot", ofDesign(func(d *result.Design) float64 { return d.Setback })},
	{"raise_m", "m", "height of its mirror's foot above the receiver", ofDesign(func(d *result.Design) float64 { return d.Raise })},
	{"row_pitch_m", "m", "distance between its rows, 0 for a single row", ofDesign(func(d *result.Design) float64 { return d.RowPitch })},
	{"row_length_m", "m", "length of its rows, 0 for endless ones", ofDesign(func(d *result.Design) float64 { return d.RowLength })},
	{"row_azimuth_deg", "°", "turn of its rows' equatorward normal, positive towards west", ofDesign(func(d *result.Design) float64 { return d.RowAzimuth })},
	{"mean_extra_percent", "%", "how much dearer its heat is than that of each site's own best, mean over the sites where it delivers heat", func(b *Band) string { return fixed(b.MeanExtra) }},
	{"worst_extra_percent", "%", "the same at the worst of those sites", func(b *Band) string { return fixed(b.WorstExtra) }},
	{"mean_lost_saving_per_m2_year", "¤/m² a year", "saving against gas given up beside each site's own best, per m² of receiver, mean over the same sites", func(b *Band) string { return fixed(b.MeanLost) }},
	{"worst_lost_saving_per_m2_year", "¤/m² a year", "the same at the worst of those sites", func(b *Band) string { return fixed(b.WorstLost) }},
	{"sites_without_heat_from_design", "", "sites where it delivers no heat, or none within the cost cap, though another design does", func(b *Band) string { return strconv.Itoa(b.DesignNoHeat) }},
	{"best_tilt_deg", "°", "the one fixed tilt that suits the band best, each site having its best design of that tilt; empty where no mirror is a choice", ofTilt(func(t *TiltFit) string { return short(t.Tilt) })},
	{"best_tilt_mean_extra_percent", "%", "how much dearer heat is with that tilt than with each site's own best design, mean over the sites", ofTilt(func(t *TiltFit) string { return fixed(&t.MeanExtra) })},
	{"best_tilt_worst_extra_percent", "%", "the same at the worst site", ofTilt(func(t *TiltFit) string { return fixed(&t.WorstExtra) })},
	{"rule_tilt_deg", "°", "tilt by the rule of tilts.csv at the band's mean latitude", ofTilt(func(t *TiltFit) string { return fixed(&t.Rule) })},
	{"rule_mean_extra_percent", "%", "how much dearer heat is with the rule's tilt than with each site's own best design, mean over the sites, between candidate tilts in proportion", ofTilt(func(t *TiltFit) string { return fixed(&t.RuleExtra) })},
	{"sites_beating_gas", "", "sites whose own best design beats gas", func(b *Band) string { return strconv.Itoa(b.BeatGas) }},
	{"sites_beating_gas_with_design", "", "sites where the band's design beats gas", func(b *Band) string { return strconv.Itoa(b.BeatGasWithDesign) }},
}

func ofDesign(of func(*result.Design) float64) func(*Band) string {
	return func(b *Band) string {
		if b.Design == nil {
			return ""
		}
		return short(of(b.Design))
	}
}

func ofTilt(of func(*TiltFit) string) func(*Band) string {
	return func(b *Band) string {
		if b.Tilt == nil {
			return ""
		}
		return of(b.Tilt)
	}
}

// A tally adds up one band for one outlet and use.
type tally struct {
	sites, noHeat, overCap, beatGas int

	latitude float64 // sum of its absolute value over the sites that have a best
	designs  []fit
	tilts    []fit // by number of tilt
}

// A fit adds up one design, or the best of one tilt, over the sites of a band
// that have a best.
type fit struct {
	regret, extra, lost     float64 // sums: shortfall, LCOH over the best's, saving below the best's
	worstExtra, worstLost   float64
	with, without, beatsGas int32 // sites where it is a choice, where it is none, where it beats gas
}

func (f *fit) add(regret, ratio, lost float64, beatsGas bool) {
	f.with++
	f.regret += regret
	f.extra += ratio
	f.lost += lost
	f.worstExtra = max(f.worstExtra, ratio)
	if f.with == 1 || lost > f.worstLost { // where cost decides, another design may save more
		f.worstLost = lost
	}
	if beatsGas {
		f.beatsGas++
	}
}

// mean is the mean regret.
func (f *fit) mean() float64 {
	if f.with == 0 {
		return math.Inf(1)
	}
	return f.regret / float64(f.with)
}

// meanExtra is the mean of how much dearer heat is, per cent.
func (f *fit) meanExtra() float64 { return 100 * (f.extra/float64(f.with) - 1) }

// compare puts the fit first that serves more sites, then the one with less
// regret.
func (f *fit) compare(o *fit) int {
	return cmp.Or(cmp.Compare(f.without, o.without), cmp.Compare(f.mean(), o.mean()))
}

// bands holds the tallies of every band that has a site: bounded by bands ×
// outlets × uses × designs.
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

// tally gives that of a latitude.
func (bs *bands) tally(lat float64, outlet, use int) *tally {
	i := bs.index(lat)
	if bs.tallies[i] == nil {
		list := make([]tally, bs.outlets*bs.uses)
		for k := range list {
			list[k].designs, list[k].tilts = make([]fit, len(bs.designs)), make([]fit, len(bs.tilts))
		}
		bs.tallies[i] = list
	}
	return &bs.tallies[i][outlet*bs.uses+use]
}

// add counts the choice of one site at the prices it was made with.
func (bs *bands) add(lat float64, outlet, use int, c *choice, p *prices) {
	t := bs.tally(lat, outlet, use)
	t.sites++
	if c.best < 0 {
		if c.reason == overCap {
			t.overCap++
		} else {
			t.noHeat++
		}
		return
	}
	best := c.lcoh[c.best]
	if best/p.gasHeat < 1 {
		t.beatGas++
	}
	t.latitude += math.Abs(lat)
	most := p.saving(best, c.heat[c.best])
	count := func(f *fit, d int) {
		if d < 0 || math.IsInf(c.score[d], 1) {
			f.without++
			return
		}
		f.add(p.regret(c, d), c.lcoh[d]/best, most-p.saving(c.lcoh[d], c.heat[d]), c.lcoh[d]/p.gasHeat < 1)
	}
	for i := range bs.best {
		bs.best[i] = -1
	}
	for d := range bs.designs {
		count(&t.designs[d], d)
		if i := bs.tiltOf[d]; i >= 0 && p.better(c.score, d, bs.best[i]) {
			bs.best[i] = d
		}
	}
	for i, d := range bs.best {
		count(&t.tilts[i], d)
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
				Sites: t.sites, NoHeat: t.noHeat, OverCap: t.overCap, BeatGas: t.beatGas,
			}
			if t.chosen() > 0 {
				d := bs.bestDesign(t)
				f := &t.designs[d]
				b.DesignID, b.Design = &d, &bs.designs[d]
				b.MeanExtra, b.WorstExtra = ptr(f.meanExtra()), ptr(100*(f.worstExtra-1))
				b.MeanLost, b.WorstLost = ptr(f.lost/float64(f.with)), ptr(f.worstLost)
				b.DesignNoHeat, b.BeatGasWithDesign = int(f.without), int(f.beatsGas)
				b.Tilt = bs.bestTilt(t)
			}
			list = append(list, b)
		}
	}
	return list
}

// chosen counts the sites that have a best.
func (t *tally) chosen() int { return t.sites - t.noHeat - t.overCap }

// bestDesign is the design that suits the tally's sites, of which one has a best.
func (bs *bands) bestDesign(t *tally) int {
	mirror := func(d int) float64 { return bs.designs[d].MirrorLength / bs.designs[d].ReceiverWidth }
	best := 0
	for d := range t.designs {
		if cmp.Or(t.designs[d].compare(&t.designs[best]), cmp.Compare(mirror(d), mirror(best))) < 0 {
			best = d
		}
	}
	return best
}

// edge rounds to 1e-9 degrees.
func edge(deg float64) float64 { return math.Round(deg*1e9) / 1e9 }
