package rank

import (
	"math"
	"strings"

	"stillrow/rank/geoparquet"
	"stillrow/rank/survey"
)

// RankingFile is the table of every site, outlet and use.
const RankingFile = "ranking.parquet"

// A row is one row of RankingFile; a pointer is nil where there is no best
// design. In its tags, ¤ stands for the currency.
type row struct {
	SiteID  string  `parquet:"site_id,dict" meaning:"site, as in the site table"`
	Name    string  `parquet:"name,dict" meaning:"name of the place"`
	Country string  `parquet:"country,dict" meaning:"country the place lies in or, at sea, has within 50 km, ISO 3166-1 alpha-2; else as the source of the weather spells it"`
	Book    string  `parquet:"book,dict" meaning:"cost book that fills what the study leaves out of prices, with the country within it; (no book) where the country has none of its own"`
	Lat     float64 `parquet:"lat" unit:"°" meaning:"latitude, north positive"`
	Lon     float64 `parquet:"lon" unit:"°" meaning:"longitude, east positive"`
	Use     string  `parquet:"use,dict" meaning:"use of the study, which says whose months' heat counts"`
	Outlet  float64 `parquet:"outlet_c,dict" unit:"°C" meaning:"temperature of the delivered water"`

	Buildable bool    `parquet:"buildable" meaning:"false where the receiver's materials do not bear the outlet temperature: no design then"`
	Without   *string `parquet:"without_design,dict" meaning:"why there is no best design: no heat, over the cost cap, or what the materials do not bear; null where there is one"`

	DesignID      *int32   `parquet:"design_id" meaning:"best design by the study's [rank] by, as numbered in the design table; null where there is none"`
	ReceiverWidth *float64 `parquet:"receiver_width_m" unit:"m" meaning:"its receiver width"`
	MirrorLength  *float64 `parquet:"mirror_length_m" unit:"m" meaning:"slant length of its mirror, 0 without one"`
	MirrorTilt    *float64 `parquet:"mirror_tilt_deg" unit:"°" meaning:"slope of its mirror: 90 is vertical, above 90 it overhangs the receiver; without effect where mirror_length_m is 0"`
	Setback       *float64 `parquet:"setback_m" unit:"m" meaning:"gap from its receiver to its mirror's foot"`
	Raise         *float64 `parquet:"raise_m" unit:"m" meaning:"height of its mirror's foot above the receiver"`
	RowPitch      *float64 `parquet:"row_pitch_m" unit:"m" meaning:"distance between its rows, null for a single row"`
	RowLength     *float64 `parquet:"row_length_m" unit:"m" meaning:"length of its rows, null for endless ones"`
	RowAzimuth    *float64 `parquet:"row_azimuth_deg" unit:"°" meaning:"turn of its rows' equatorward normal, positive towards west"`

	Heat      float64  `parquet:"heat_kwh_m2" unit:"kWh/m²" meaning:"its heat in the months of the use that the use's demand takes, gross at the receiver, per m² of receiver"`
	UsedShare *float64 `parquet:"used_share" meaning:"heat_kwh_m2 over all its heat in the months of the use: 1 where the use states no amount of demand"`
	months

	LCOH      *float64 `parquet:"lcoh_per_kwh" unit:"¤/kWh" meaning:"levelised cost of its heat per kWh delivered in the months of the use"`
	GasHeat   float64  `parquet:"gas_heat_per_kwh" unit:"¤/kWh" meaning:"running cost of heat from the gas boiler"`
	GasRatio  *float64 `parquet:"gas_ratio" meaning:"lcoh_per_kwh over gas_heat_per_kwh; below 1 beats gas"`
	BeatsGas  bool     `parquet:"beats_gas" meaning:"gas_ratio is below 1; false where there is no heat"`
	BreakEven *float64 `parquet:"breakeven_gas_price_per_kwh" unit:"¤/kWh of gas" meaning:"gas price at which gas_ratio is 1, on the heating value that the study's gas price is on; negative where even free gas is dearer"`
	Saving    *float64 `parquet:"saving_per_m2_year" unit:"¤/m² a year" meaning:"(gas_heat_per_kwh − lcoh_per_kwh) times the yearly heat delivered, levelised over the horizon, per m² of receiver"`
	Payback   *float64 `parquet:"payback_years" unit:"years" meaning:"first cost over what a year saves: gas not bought less running costs and replacements, mean of the horizon, undiscounted; null where the horizon ends before"`
	CO2       *float64 `parquet:"co2_avoided_kg_m2_year" unit:"kg/m² a year" meaning:"carbon dioxide of the gas not burnt (IPCC 2006, 56.1 kg/GJ lower heating value, over the boiler's efficiency), mean over the horizon, per m² of receiver; neither making the heater nor its pump's electricity is taken off"`
	groups
	Spread

	SecondID     *int32   `parquet:"runner_up_design_id" meaning:"next design by the study's [rank] by that is another heater; designs without a mirror count as one"`
	SecondLength *float64 `parquet:"runner_up_mirror_length_m" unit:"m" meaning:"slant length of its mirror"`
	SecondTilt   *float64 `parquet:"runner_up_mirror_tilt_deg" unit:"°" meaning:"slope of its mirror"`
	SecondLCOH   *float64 `parquet:"runner_up_lcoh_per_kwh" unit:"¤/kWh" meaning:"levelised cost of its heat"`
	SecondExtra  *float64 `parquet:"runner_up_extra_percent" unit:"%" meaning:"how much dearer its heat is than the best's; may be negative where the study does not rank by lcoh"`
	SecondHeat   *float64 `parquet:"runner_up_heat_kwh_m2" unit:"kWh/m²" meaning:"its heat that the use's demand takes"`
	SecondSaving *float64 `parquet:"runner_up_saving_per_m2_year" unit:"¤/m² a year" meaning:"what it saves, as saving_per_m2_year"`

	geoparquet.Shape
}

// months is the heat of every calendar month, whether the use wants it or not.
type months struct {
	M01 *float32 `parquet:"month_01_kwh_m2" unit:"kWh/m²" meaning:"its heat in January, whether or not the use wants it"`
	M02 *float32 `parquet:"month_02_kwh_m2" unit:"kWh/m²" meaning:"the same in February"`
	M03 *float32 `parquet:"month_03_kwh_m2" unit:"kWh/m²" meaning:"the same in March"`
	M04 *float32 `parquet:"month_04_kwh_m2" unit:"kWh/m²" meaning:"the same in April"`
	M05 *float32 `parquet:"month_05_kwh_m2" unit:"kWh/m²" meaning:"the same in May"`
	M06 *float32 `parquet:"month_06_kwh_m2" unit:"kWh/m²" meaning:"the same in June"`
	M07 *float32 `parquet:"month_07_kwh_m2" unit:"kWh/m²" meaning:"the same in July"`
	M08 *float32 `parquet:"month_08_kwh_m2" unit:"kWh/m²" meaning:"the same in August"`
	M09 *float32 `parquet:"month_09_kwh_m2" unit:"kWh/m²" meaning:"the same in September"`
	M10 *float32 `parquet:"month_10_kwh_m2" unit:"kWh/m²" meaning:"the same in October"`
	M11 *float32 `parquet:"month_11_kwh_m2" unit:"kWh/m²" meaning:"the same in November"`
	M12 *float32 `parquet:"month_12_kwh_m2" unit:"kWh/m²" meaning:"the same in December"`
}

// groups is the levelised cost by what its items are counted per; together
// they are lcoh_per_kwh.
type groups struct {
	OfReceiver *float64 `parquet:"lcoh_receiver_per_kwh" unit:"¤/kWh" meaning:"part of lcoh_per_kwh: items per m² of receiver, their labour, replacements and running costs included"`
	OfMirror   *float64 `parquet:"lcoh_mirror_per_kwh" unit:"¤/kWh" meaning:"the same, items per m² of mirror"`
	OfRow      *float64 `parquet:"lcoh_row_per_kwh" unit:"¤/kWh" meaning:"the same, items per m of row"`
	OfGround   *float64 `parquet:"lcoh_ground_per_kwh" unit:"¤/kWh" meaning:"the same, items per m² of ground"`
	OfSite     *float64 `parquet:"lcoh_site_per_kwh" unit:"¤/kWh" meaning:"the same, items per site"`
	OfKWh      *float64 `parquet:"lcoh_running_per_kwh" unit:"¤/kWh" meaning:"the same, what every kWh costs to run"`
}

// A mark is what a map says of a place: the part of a row that a person looks
// at, under names that stand by themselves.
type mark struct {
	SiteID    string   `json:"site_id" meaning:"site, as in the site table"`
	Name      string   `json:"name" meaning:"name of the place"`
	Country   string   `json:"country" meaning:"country, as in ranking.parquet"`
	Book      string   `json:"book" meaning:"cost book of its prices, as in ranking.parquet"`
	Use       string   `json:"use" meaning:"use of the study"`
	Outlet    float64  `json:"outlet_c" unit:"°C" meaning:"temperature of the delivered water"`
	Buildable bool     `json:"buildable" meaning:"false where the receiver's materials do not bear the outlet temperature: no design then"`
	Without   *string  `json:"without_design" meaning:"why there is no best design; null where there is one"`
	DesignID  *int32   `json:"best_design_id" meaning:"best design by the study's [rank] by; null where there is none"`
	Tilt      *float64 `json:"best_tilt_deg" unit:"°" meaning:"slope of its mirror: 90 is vertical; null where the best design has no mirror"`
	Length    *float64 `json:"best_mirror_length_m" unit:"m" meaning:"slant length of its mirror, 0 without one"`
	Heat      float64  `json:"heat_kwh_m2" unit:"kWh/m²" meaning:"its heat in the months of the use that the use's demand takes, gross at the receiver, per m² of receiver"`
	LCOH      *float64 `json:"lcoh_per_kwh" unit:"¤/kWh" meaning:"levelised cost of its heat per kWh delivered in the months of the use"`
	GasHeat   float64  `json:"gas_heat_per_kwh" unit:"¤/kWh" meaning:"running cost of heat from the gas boiler"`
	GasRatio  *float64 `json:"gas_ratio" meaning:"lcoh_per_kwh over gas_heat_per_kwh; below 1 beats gas"`
	BeatsGas  bool     `json:"beats_gas" meaning:"gas_ratio is below 1; false where there is no heat"`
	BreakEven *float64 `json:"breakeven_gas_price_per_kwh" unit:"¤/kWh of gas" meaning:"gas price at which gas_ratio is 1, on the heating value that the study's gas price is on"`
	Saving    *float64 `json:"saving_per_m2_year" unit:"¤/m² a year" meaning:"what its heat saves against gas in a year, levelised over the horizon, per m² of receiver"`
	Payback   *float64 `json:"payback_years" unit:"years" meaning:"first cost over what a year saves, replacements paid; null where the horizon ends before"`
	CO2       *float64 `json:"co2_avoided_kg_m2_year" unit:"kg/m² a year" meaning:"carbon dioxide of the gas not burnt, per m² of receiver"`
	Second    *float64 `json:"runner_up_extra_percent" unit:"%" meaning:"how much dearer the next best design is"`
	Spread
}

// rowOf sets out the finding f of one place for one layer. The row points into
// f.
func rowOf(s *survey.Survey, layer *survey.Layer, p *survey.Place, f *survey.Finding) row {
	r := row{
		SiteID: p.ID, Name: p.Name, Country: p.Country, Book: p.Book, Lat: p.Lat, Lon: p.Lon,
		Use: layer.Use, Outlet: layer.Outlet, GasHeat: f.GasHeat, Buildable: !f.Refused, Heat: f.Heat, BeatsGas: f.BeatsGas,
	}
	if f.Design < 0 {
		r.Without = &s.Reasons[f.Without]
		return r
	}
	d := &s.Designs[f.Design]
	r.DesignID = &f.Design
	r.ReceiverWidth, r.MirrorLength, r.MirrorTilt = &d.ReceiverWidth, &d.MirrorLength, &d.MirrorTilt
	r.Setback, r.Raise, r.RowAzimuth = &d.Setback, &d.Raise, &d.RowAzimuth
	if d.RowPitch > 0 {
		r.RowPitch = &d.RowPitch
	}
	if d.RowLength > 0 {
		r.RowLength = &d.RowLength
	}
	m := &f.Months
	r.months = months{&m[0], &m[1], &m[2], &m[3], &m[4], &m[5], &m[6], &m[7], &m[8], &m[9], &m[10], &m[11]}
	r.UsedShare, r.LCOH, r.GasRatio = known(&f.UsedShare), known(&f.LCOH), known(&f.Ratio)
	r.BreakEven, r.Saving, r.Payback, r.CO2 = known(&f.BreakEven), known(&f.Saving), known(&f.Payback), known(&f.CO2)
	part := &f.Split
	r.groups = groups{
		known(&part[survey.PerReceiver]), known(&part[survey.PerMirror]), known(&part[survey.PerRow]),
		known(&part[survey.PerGround]), known(&part[survey.PerSite]), known(&part[survey.PerKWh]),
	}
	r.Spread = Spread{P10: known(&f.P10), P50: known(&f.P50), P90: known(&f.P90), BeatsGas: known(&f.Sure)}
	if f.From >= 0 {
		r.From = &f.From
	}
	if f.Second >= 0 {
		second := &s.Designs[f.Second]
		r.SecondID = &f.Second
		r.SecondLength, r.SecondTilt = &second.MirrorLength, &second.MirrorTilt
		r.SecondLCOH, r.SecondHeat = known(&f.SecondLCOH), known(&f.SecondHeat)
		r.SecondExtra, r.SecondSaving = known(&f.SecondExtra), known(&f.SecondSaving)
	}
	return r
}

// known gives nil for a number that a finding has not.
func known(v *float64) *float64 {
	if math.IsNaN(*v) || math.IsInf(*v, 0) {
		return nil
	}
	return v
}

func (r *row) mark() mark {
	m := mark{
		SiteID: r.SiteID, Name: r.Name, Country: r.Country, Book: r.Book, Use: r.Use, Outlet: r.Outlet,
		Buildable: r.Buildable, Without: r.Without, DesignID: r.DesignID, Tilt: r.MirrorTilt, Length: r.MirrorLength, Heat: r.Heat,
		LCOH: r.LCOH, GasHeat: r.GasHeat, GasRatio: r.GasRatio, BeatsGas: r.BeatsGas,
		BreakEven: r.BreakEven, Saving: r.Saving, Payback: r.Payback, CO2: r.CO2, Second: r.SecondExtra, Spread: r.Spread,
	}
	if m.Length != nil && *m.Length == 0 {
		m.Tilt = nil
	}
	return m
}

// valid repairs text that is not UTF-8, which readers of the files refuse.
func valid(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

func ptr[T any](v T) *T { return &v }
