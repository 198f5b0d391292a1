package rank

import (
	"strings"

	"stillrow/rank/geoparquet"
	"stillrow/simulate/result"
)

// RankingFile is the table of every site, outlet and use.
const RankingFile = "ranking.parquet"

// A row is one row of RankingFile; a pointer is nil where no design delivers
// heat. In its tags, ¤ stands for the currency.
type row struct {
	SiteID  string  `parquet:"site_id,dict" meaning:"site, as in the site table"`
	Name    string  `parquet:"name,dict" meaning:"name of the place"`
	Country string  `parquet:"country,dict" meaning:"country as the source of the weather spells it"`
	Lat     float64 `parquet:"lat" unit:"°" meaning:"latitude, north positive"`
	Lon     float64 `parquet:"lon" unit:"°" meaning:"longitude, east positive"`
	Use     string  `parquet:"use,dict" meaning:"use of the study, which says whose months' heat counts"`
	Outlet  float64 `parquet:"outlet_c,dict" unit:"°C" meaning:"temperature of the delivered water"`

	Buildable bool `parquet:"buildable" meaning:"false where the receiver's materials do not bear the outlet temperature: no design then"`

	DesignID      *int32   `parquet:"design_id" meaning:"design with the cheapest heat, as numbered in the design table; null where no design delivers heat in the months of the use"`
	ReceiverWidth *float64 `parquet:"receiver_width_m" unit:"m" meaning:"its receiver width"`
	MirrorLength  *float64 `parquet:"mirror_length_m" unit:"m" meaning:"slant length of its mirror, 0 without one"`
	MirrorTilt    *float64 `parquet:"mirror_tilt_deg" unit:"°" meaning:"slope of its mirror: 90 is vertical, above 90 it overhangs the receiver; without effect where mirror_length_m is 0"`
	Setback       *float64 `parquet:"setback_m" unit:"m" meaning:"gap from its receiver to its mirror's foot"`
	Raise         *float64 `parquet:"raise_m" unit:"m" meaning:"height of its mirror's foot above the receiver"`
	RowPitch      *float64 `parquet:"row_pitch_m" unit:"m" meaning:"distance between its rows, null for a single row"`
	RowLength     *float64 `parquet:"row_length_m" unit:"m" meaning:"length of its rows, null for endless ones"`
	RowAzimuth    *float64 `parquet:"row_azimuth_deg" unit:"°" meaning:"turn of its rows' equatorward normal, positive towards west"`

	Heat float64 `parquet:"heat_kwh_m2" unit:"kWh/m²" meaning:"its heat in the months of the use, gross at the receiver, per m² of receiver"`
	months

	LCOH      *float64 `parquet:"lcoh_per_kwh" unit:"¤/kWh" meaning:"levelised cost of its heat per kWh delivered in the months of the use"`
	GasHeat   float64  `parquet:"gas_heat_per_kwh" unit:"¤/kWh" meaning:"running cost of heat from the gas boiler"`
	GasRatio  *float64 `parquet:"gas_ratio" meaning:"lcoh_per_kwh over gas_heat_per_kwh; below 1 beats gas"`
	BeatsGas  bool     `parquet:"beats_gas" meaning:"gas_ratio is below 1; false where there is no heat"`
	BreakEven *float64 `parquet:"breakeven_gas_price_per_kwh" unit:"¤/kWh of gas" meaning:"gas price at which gas_ratio is 1, on the heating value that the study's gas price is on; negative where even free gas is dearer"`
	Saving    *float64 `parquet:"saving_per_m2_year" unit:"¤/m² a year" meaning:"(gas_heat_per_kwh − lcoh_per_kwh) times the yearly heat delivered, levelised over the horizon, per m² of receiver"`

	SecondID     *int32   `parquet:"runner_up_design_id" meaning:"next design by cost that is another heater; designs without a mirror count as one"`
	SecondLength *float64 `parquet:"runner_up_mirror_length_m" unit:"m" meaning:"slant length of its mirror"`
	SecondTilt   *float64 `parquet:"runner_up_mirror_tilt_deg" unit:"°" meaning:"slope of its mirror"`
	SecondLCOH   *float64 `parquet:"runner_up_lcoh_per_kwh" unit:"¤/kWh" meaning:"levelised cost of its heat"`
	SecondExtra  *float64 `parquet:"runner_up_extra_percent" unit:"%" meaning:"how much dearer its heat is than the best"`

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

// A mark is what a map says of a place: the part of a row that a person looks
// at, under names that stand by themselves.
type mark struct {
	SiteID    string   `json:"site_id" meaning:"site, as in the site table"`
	Name      string   `json:"name" meaning:"name of the place"`
	Country   string   `json:"country" meaning:"country as the source of the weather spells it"`
	Use       string   `json:"use" meaning:"use of the study"`
	Outlet    float64  `json:"outlet_c" unit:"°C" meaning:"temperature of the delivered water"`
	Buildable bool     `json:"buildable" meaning:"false where the receiver's materials do not bear the outlet temperature: no design then"`
	DesignID  *int32   `json:"best_design_id" meaning:"design with the cheapest heat; null where no design delivers heat in the months of the use"`
	Tilt      *float64 `json:"best_tilt_deg" unit:"°" meaning:"slope of its mirror: 90 is vertical; null where the best design has no mirror"`
	Length    *float64 `json:"best_mirror_length_m" unit:"m" meaning:"slant length of its mirror, 0 without one"`
	Heat      float64  `json:"heat_kwh_m2" unit:"kWh/m²" meaning:"its heat in the months of the use, gross at the receiver, per m² of receiver"`
	LCOH      *float64 `json:"lcoh_per_kwh" unit:"¤/kWh" meaning:"levelised cost of its heat per kWh delivered in the months of the use"`
	GasHeat   float64  `json:"gas_heat_per_kwh" unit:"¤/kWh" meaning:"running cost of heat from the gas boiler"`
	GasRatio  *float64 `json:"gas_ratio" meaning:"lcoh_per_kwh over gas_heat_per_kwh; below 1 beats gas"`
	BeatsGas  bool     `json:"beats_gas" meaning:"gas_ratio is below 1; false where there is no heat"`
	BreakEven *float64 `json:"breakeven_gas_price_per_kwh" unit:"¤/kWh of gas" meaning:"gas price at which gas_ratio is 1, on the heating value that the study's gas price is on"`
	Saving    *float64 `json:"saving_per_m2_year" unit:"¤/m² a year" meaning:"what its heat saves against gas in a year, levelised over the horizon, per m² of receiver"`
	Second    *float64 `json:"runner_up_extra_percent" unit:"%" meaning:"how much dearer the next best design is"`
}

// row sets out the choice c for one site, outlet and use.
func (p *prices) row(b *result.Block, t *result.Table, o int, use string, c *choice) row {
	s := &b.Site
	r := row{
		SiteID: valid(s.ID), Name: valid(s.Name), Country: valid(s.Country), Lat: s.Lat, Lon: s.Lon,
		Use: valid(use), Outlet: t.Outlets[o], GasHeat: p.gasHeat, Buildable: p.refused[o] == "",
	}
	if c.best < 0 {
		return r
	}
	d := p.designs[c.best]
	r.DesignID = ptr(int32(c.best))
	r.ReceiverWidth, r.MirrorLength, r.MirrorTilt = &d.ReceiverWidth, &d.MirrorLength, &d.MirrorTilt
	r.Setback, r.Raise, r.RowAzimuth = &d.Setback, &d.Raise, &d.RowAzimuth
	if d.RowPitch > 0 {
		r.RowPitch = &d.RowPitch
	}
	if d.RowLength > 0 {
		r.RowLength = &d.RowLength
	}
	r.Heat = c.heat[c.best]
	var m [12]float32
	copy(m[:], b.Months(t, o, c.best))
	r.months = months{&m[0], &m[1], &m[2], &m[3], &m[4], &m[5], &m[6], &m[7], &m[8], &m[9], &m[10], &m[11]}

	lcoh := c.lcoh[c.best]
	r.LCOH = &lcoh
	r.GasRatio = ptr(p.gas.Ratio(lcoh))
	r.BeatsGas = *r.GasRatio < 1
	r.BreakEven = ptr(p.gas.BreakEvenPrice(lcoh))
	r.Saving = ptr((p.gasHeat - lcoh) * r.Heat * p.perKWh * p.crf)
	if c.second >= 0 {
		second := p.designs[c.second]
		r.SecondID = ptr(int32(c.second))
		r.SecondLength, r.SecondTilt = &second.MirrorLength, &second.MirrorTilt
		r.SecondLCOH = ptr(c.lcoh[c.second])
		r.SecondExtra = ptr(100 * (c.lcoh[c.second]/lcoh - 1))
	}
	return r
}

func (r *row) mark() mark {
	m := mark{
		SiteID: r.SiteID, Name: r.Name, Country: r.Country, Use: r.Use, Outlet: r.Outlet,
		Buildable: r.Buildable, DesignID: r.DesignID, Tilt: r.MirrorTilt, Length: r.MirrorLength, Heat: r.Heat,
		LCOH: r.LCOH, GasHeat: r.GasHeat, GasRatio: r.GasRatio, BeatsGas: r.BeatsGas,
		BreakEven: r.BreakEven, Saving: r.Saving, Second: r.SecondExtra,
	}
	if m.Length != nil && *m.Length == 0 {
		m.Tilt = nil
	}
	return m
}

// valid repairs text that is not UTF-8, which readers of the files refuse.
func valid(s string) string { return strings.ToValidUTF8(s, "\uFFFD") }

func ptr[T any](v T) *T { return &v }
