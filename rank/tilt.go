package rank

import (
	"maps"
	"math"
	"slices"
	"strconv"
)

// TiltsFile is the table of tilts as rules of latitude.
const TiltsFile = "tilts.csv"

// A TiltFit is what one tilt of the mirror would do in a band of latitude.
type TiltFit struct {
	Tilt       float64 `json:"tilt_deg"` // of the candidates' tilts, the one that falls least short
	MeanExtra  float64 `json:"mean_extra_percent"`
	WorstExtra float64 `json:"worst_extra_percent"`
	Rule       float64 `json:"rule_tilt_deg"` // that of the TiltRule
	RuleExtra  float64 `json:"rule_mean_extra_percent"`
}

// A TiltRule gives the tilt of the mirror as a straight line over the absolute
// latitude: the least-squares line through the bands' best tilts at their mean
// latitudes, weighted by sites. It is level where all sites lie in bands of one
// latitude.
type TiltRule struct {
	Outlet    float64 `json:"outlet_c"`
	Use       string  `json:"use"`
	Bands     int     `json:"bands"`
	Sites     int     `json:"sites"`
	LatFrom   float64 `json:"latitude_from_deg"` // absolute: where the rule was found
	LatTo     float64 `json:"latitude_to_deg"`
	AtEquator float64 `json:"tilt_at_equator_deg"`
	PerDegree float64 `json:"tilt_per_degree"`
	RMS       float64 `json:"rms_error_deg"` // of the bands' best tilts
	Worst     float64 `json:"worst_error_deg"`
	MeanExtra float64 `json:"mean_extra_percent"`      // by the rule, beside each site's own best
	BandExtra float64 `json:"band_mean_extra_percent"` // by the bands' best tilts, beside the same
	WorstBand float64 `json:"worst_band_extra_percent"`
}

// ruleColumns are the columns of TiltsFile.
var ruleColumns = []sheetColumn[TiltRule]{
	{"outlet_c", "°C", "temperature of the delivered water", func(r *TiltRule) string { return short(r.Outlet) }},
	{"use", "", "use of the study", func(r *TiltRule) string { return valid(r.Use) }},
	{"bands", "", "bands of latitude whose best tilts the rule runs through, those of both hemispheres", func(r *TiltRule) string { return strconv.Itoa(r.Bands) }},
	{"sites", "", "sites in them that have a best design", func(r *TiltRule) string { return strconv.Itoa(r.Sites) }},
	{"latitude_from_deg", "°", "least absolute latitude of the bands, each at the mean of its sites: below it the rule is a guess", func(r *TiltRule) string { return fixed(&r.LatFrom) }},
	{"latitude_to_deg", "°", "greatest of the same: above it the rule is a guess", func(r *TiltRule) string { return fixed(&r.LatTo) }},
	{"tilt_at_equator_deg", "°", "tilt of the mirror = tilt_at_equator_deg + tilt_per_degree × absolute latitude, least squares weighted by sites", func(r *TiltRule) string { return fixed(&r.AtEquator) }},
	{"tilt_per_degree", "°/°", "rise of the tilt with absolute latitude; 0 where all bands have one latitude", func(r *TiltRule) string { return fixed(&r.PerDegree) }},
	{"rms_error_deg", "°", "root mean square, weighted by sites, of rule less best tilt of the band", func(r *TiltRule) string { return fixed(&r.RMS) }},
	{"worst_error_deg", "°", "greatest of these differences, without its sign", func(r *TiltRule) string { return fixed(&r.Worst) }},
	{"mean_extra_percent", "%", "how much dearer heat is by the rule than with each site's own best design, mean over the sites, between candidate tilts in proportion", func(r *TiltRule) string { return fixed(&r.MeanExtra) }},
	{"band_mean_extra_percent", "%", "the same with the best tilt of each band in place of the rule's", func(r *TiltRule) string { return fixed(&r.BandExtra) }},
	{"worst_band_extra_percent", "%", "the first of these two in the band where it is greatest", func(r *TiltRule) string { return fixed(&r.WorstBand) }},
}

// bestTilt is the tilt that suits the tally's sites, nil where no design with a
// mirror is a choice.
func (bs *bands) bestTilt(t *tally) *TiltFit {
	best := -1
	for i := range t.Tilts {
		if t.Tilts[i].With > 0 && (best < 0 || t.Tilts[i].compare(&t.Tilts[best]) < 0) {
			best = i
		}
	}
	if best < 0 {
		return nil
	}
	f := &t.Tilts[best]
	return &TiltFit{Tilt: bs.tilts[best], MeanExtra: f.meanExtra(), WorstExtra: 100 * (f.WorstExtra - 1)}
}

// A tiltPoint is one band as a rule of latitude sees it.
type tiltPoint struct {
	*TiltFit
	latitude float64 // mean of its absolute value over the sites, degrees
	sites    float64 // that have a best
	tilts    []fit
}

// rules works out a rule for every outlet and use, in this order, and puts
// what it does into the bands. It leaves out those where no mirror is a choice.
func (bs *bands) rules(o *Options, list []Band) (rules []TiltRule) {
	order := slices.Sorted(maps.Keys(bs.tallies)) // as the list's
	n := bs.outlets * bs.uses
	for k := range n {
		var points []tiltPoint
		for i, key := range order {
			if at := list[i*n+k].Tilt; at != nil {
				t := &bs.tallies[key][k]
				sites := float64(t.chosen())
				points = append(points, tiltPoint{at, t.Latitude.value() / sites, sites, t.Tilts})
			}
		}
		if len(points) > 0 {
			r := TiltRule{Outlet: o.Table.Outlets[k/bs.uses], Use: o.Uses[k%bs.uses].Name}
			r.fit(points, bs.tilts)
			rules = append(rules, r)
		}
	}
	return rules
}

// oneLatitude is how far apart, in degrees, bands may lie and still be of one
// latitude: the scatter of their sites is no slope.
const oneLatitude = 0.1

// fit draws the line through the bands and judges it.
func (r *TiltRule) fit(points []tiltPoint, tilts []float64) {
	var n, x, y float64
	for _, p := range points {
		n, x, y = n+p.sites, x+p.sites*p.latitude, y+p.sites*p.Tilt
	}
	x, y = x/n, y/n
	var xx, xy float64
	r.LatFrom, r.LatTo = points[0].latitude, points[0].latitude
	for _, p := range points {
		xx += p.sites * (p.latitude - x) * (p.latitude - x)
		xy += p.sites * (p.latitude - x) * (p.Tilt - y)
		r.LatFrom, r.LatTo = min(r.LatFrom, p.latitude), max(r.LatTo, p.latitude)
	}
	if r.LatTo-r.LatFrom > oneLatitude {
		r.PerDegree = xy / xx
	}
	r.AtEquator = y - r.PerDegree*x
	r.Bands, r.Sites = len(points), int(n)
	for _, p := range points {
		p.Rule = r.AtEquator + r.PerDegree*p.latitude
		p.RuleExtra = p.extra(p.Rule, tilts)
		off := math.Abs(p.Rule - p.Tilt)
		r.RMS += p.sites * off * off / n
		r.Worst = max(r.Worst, off)
		r.MeanExtra += p.sites * p.RuleExtra / n
		r.BandExtra += p.sites * p.MeanExtra / n
		r.WorstBand = max(r.WorstBand, p.RuleExtra)
	}
	r.RMS = math.Sqrt(r.RMS)
}

// extra gives how much dearer heat is in the mean, per cent, with a tilt
// between those of the candidates, in proportion to the nearest ones that are a
// choice; beyond the last it is that of the last.
func (p *tiltPoint) extra(tilt float64, tilts []float64) float64 {
	lo, hi := -1, -1
	for i, t := range tilts {
		switch {
		case p.tilts[i].With == 0:
		case t <= tilt:
			lo = i
		case hi < 0:
			hi = i
		}
	}
	switch {
	case lo < 0:
		return p.tilts[hi].meanExtra()
	case hi < 0:
		return p.tilts[lo].meanExtra()
	}
	u := (tilt - tilts[lo]) / (tilts[hi] - tilts[lo])
	return (1-u)*p.tilts[lo].meanExtra() + u*p.tilts[hi].meanExtra()
}
