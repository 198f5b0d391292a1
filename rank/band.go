package rank

import (
	"cmp"
	"encoding/csv"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"

	"stillrow/simulate/result"
)

// BandsFile is the table of latitude bands.
const BandsFile = "bands.csv"

// A Band is what one fixed design would do in a whole band of latitude: the
// design whose heat is, in the mean over the band's sites, least dear against
// each site's own best. A design that delivers no heat at a site where another
// does comes after all that do. Counts of sites leave none out.
type Band struct {
	LatFrom float64 `json:"lat_from_deg"` // this latitude is in the band
	LatTo   float64 `json:"lat_to_deg"`   // this one is not, but the pole
	Outlet  float64 `json:"outlet_c"`
	Use     string  `json:"use"`
	Sites   int     `json:"sites"`
	NoHeat  int     `json:"sites_without_heat"` // where no design delivers any

	DesignID     *int           `json:"design_id"` // nil where no site has heat
	Design       *result.Design `json:"design"`
	MeanExtra    *float64       `json:"mean_extra_percent"`             // over the sites where the design delivers heat
	WorstExtra   *float64       `json:"worst_extra_percent"`            // over the same
	DesignNoHeat int            `json:"sites_without_heat_from_design"` // where another design delivers some

	BeatGas           int `json:"sites_beating_gas"` // with each site's own best
	BeatGasWithDesign int `json:"sites_beating_gas_with_design"`
}

// bandColumns are the columns of BandsFile.
var bandColumns = []struct {
	name, unit, meaning string
	text                func(*Band) string
}{
	{"lat_from_deg", "°", "southern edge of the band, in it", func(b *Band) string { return short(b.LatFrom) }},
	{"lat_to_deg", "°", "northern edge of the band, not in it unless it is the pole", func(b *Band) string { return short(b.LatTo) }},
	{"outlet_c", "°C", "temperature of the delivered water", func(b *Band) string { return short(b.Outlet) }},
	{"use", "", "use of the study", func(b *Band) string { return valid(b.Use) }},
	{"sites", "", "sites in the band", func(b *Band) string { return strconv.Itoa(b.Sites) }},
	{"sites_without_heat", "", "sites where no design delivers heat in the months of the use", func(b *Band) string { return strconv.Itoa(b.NoHeat) }},
	{"design_id", "", "the one fixed design that suits the band best; empty where no site has heat", func(b *Band) string {
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
	{"mean_extra_percent", "%", "how much dearer its heat is than each site's own best, mean over the sites where it delivers heat", func(b *Band) string { return percent(b.MeanExtra) }},
	{"worst_extra_percent", "%", "the same at the worst of those sites", func(b *Band) string { return percent(b.WorstExtra) }},
	{"sites_without_heat_from_design", "", "sites where it delivers no heat though another design does", func(b *Band) string { return strconv.Itoa(b.DesignNoHeat) }},
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

// short is the shortest decimal that reads back as v.
func short(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func percent(v *float64) string {
	if v == nil {
		return ""
	}
	return strconv.FormatFloat(*v, 'f', 4, 64)
}

func writeBands(w io.Writer, bands []Band) error {
	out := csv.NewWriter(w)
	line := make([]string, len(bandColumns))
	for i, c := range bandColumns {
		line[i] = c.name
	}
	if err := out.Write(line); err != nil {
		return err
	}
	for i := range bands {
		for k, c := range bandColumns {
			line[k] = c.text(&bands[i])
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// A tally adds up one band for one outlet and use.
type tally struct {
	sites, noHeat, beatGas int
	designs                []designTally
}

// A designTally adds up one design over the sites of a band where any design
// delivers heat.
type designTally struct {
	ratio, worst            float64 // sum and largest of LCOH over the site's best
	with, without, beatsGas int32   // sites with heat from it, without, beating gas with it
}

// bands holds the tallies of every band that has a site: bounded by bands ×
// outlets × uses × designs.
type bands struct {
	height        float64
	outlets, uses int
	designs       int
	tallies       map[int][]tally // by band, then outlet·uses+use
}

// index numbers bands from the equator, negative in the south.
func (bs *bands) index(lat float64) int {
	i := math.Floor(edge(lat / bs.height))              // 0.3/0.1 is a little below 3
	return int(min(i, math.Ceil(edge(90/bs.height))-1)) // the pole belongs to the last
}

// add counts the choice of one site.
func (bs *bands) add(lat float64, outlet, use int, c *choice, gasHeat float64) {
	i := bs.index(lat)
	if bs.tallies[i] == nil {
		list := make([]tally, bs.outlets*bs.uses)
		for k := range list {
			list[k].designs = make([]designTally, bs.designs)
		}
		bs.tallies[i] = list
	}
	t := &bs.tallies[i][outlet*bs.uses+use]
	t.sites++
	if c.best < 0 {
		t.noHeat++
		return
	}
	best := c.lcoh[c.best]
	if best/gasHeat < 1 {
		t.beatGas++
	}
	for d, lcoh := range c.lcoh {
		dt := &t.designs[d]
		if math.IsInf(lcoh, 1) {
			dt.without++
			continue
		}
		dt.with++
		dt.ratio += lcoh / best
		dt.worst = max(dt.worst, lcoh/best)
		if lcoh/gasHeat < 1 {
			dt.beatsGas++
		}
	}
}

// list works out the bands, from south to north, each by outlet and use.
func (bs *bands) list(p *prices, outlets []float64, uses []Use) []Band {
	var list []Band
	for _, i := range slices.Sorted(maps.Keys(bs.tallies)) {
		for k := range bs.tallies[i] {
			t := &bs.tallies[i][k]
			b := Band{
				LatFrom: max(edge(float64(i)*bs.height), -90), LatTo: min(edge(float64(i+1)*bs.height), 90),
				Outlet: outlets[k/bs.uses], Use: uses[k%bs.uses].Name,
				Sites: t.sites, NoHeat: t.noHeat, BeatGas: t.beatGas,
			}
			if t.noHeat < t.sites {
				d := t.best(p)
				dt := t.designs[d]
				b.DesignID, b.Design = &d, &p.designs[d]
				b.MeanExtra = ptr(100 * (dt.ratio/float64(dt.with) - 1))
				b.WorstExtra = ptr(100 * (dt.worst - 1))
				b.DesignNoHeat, b.BeatGasWithDesign = int(dt.without), int(dt.beatsGas)
			}
			list = append(list, b)
		}
	}
	return list
}

// best is the design that suits the tally's sites, of which one has heat.
func (t *tally) best(p *prices) int {
	best := 0
	for d := range t.designs {
		a, b := &t.designs[d], &t.designs[best]
		if cmp.Or(cmp.Compare(a.without, b.without), cmp.Compare(a.mean(), b.mean()), cmp.Compare(p.mirror(d), p.mirror(best))) < 0 {
			best = d
		}
	}
	return best
}

func (d *designTally) mean() float64 {
	if d.with == 0 {
		return math.Inf(1)
	}
	return d.ratio / float64(d.with)
}
