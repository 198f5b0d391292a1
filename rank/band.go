package rank

import (
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
