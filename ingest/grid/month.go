package grid

import (
	"fmt"
	"math"

	"stillrow/ingest/climate"
	"stillrow/ingest/sky"
)

// Climate gives the monthly means of cell i, each over the years that have the
// month. Humidity comes from what says it; wind only from a mean speed, since
// the mean of its components is less. An error names the months that irradiance
// or air temperature lack here.
func (b *Band) Climate(i int, ground *Ground) (*climate.Cell, error) {
	r := b.region
	for _, j := range r.needs() {
		var have months
		for t, x := range b.column(j.quantity, i) {
			have[j.months[t]-1] = have[j.months[t]-1] || x == x
		}
		if have != everyMonth {
			return nil, fmt.Errorf("no %s in %s", j.quantity, without(have))
		}
	}
	s := r.site(b.cells[i], ground)
	c := &climate.Cell{
		ID: s.ID, Name: s.Name, Source: "monthly means, " + s.Source, Lat: s.Lat, Lon: s.Lon,
		Elevation: s.Elevation, CellDeg: s.CellDeg, CellLonDeg: s.CellLonDeg, Flags: s.Flags,
		GHI: b.months(GHI, i), AirTemperature: b.months(AirTemperature, i), Wind: b.months(Wind, i),
		RelHumidity: b.humidity(i),
	}
	if ground.heights == nil && some(b.column(Pressure, i)) {
		c.Elevation, c.Flags = sky.Height(mean(b.column(Pressure, i))), []string{FlagHeightFromPressure}
	}
	if h := r.windHeight(); h > 0 {
		for m := range c.Wind {
			c.Wind[m] = sky.WindAt10(c.Wind[m], h)
		}
	}
	whole(&c.Wind)
	whole(&c.RelHumidity)
	return c, nil
}

// whole makes all months missing where one is.
func whole(v *[12]float64) {
	for _, x := range v {
		if x != x {
			for m := range v {
				v[m] = math.NaN()
			}
			return
		}
	}
}

// months averages a quantity by calendar month; NaN where it is missing.
func (b *Band) months(q Quantity, i int) (mean [12]float64) {
	var n [12]float64
	v := b.column(q, i)
	for t, x := range v {
		if m := b.region.fields[q].months[t] - 1; x == x {
			mean[m] += float64(x)
			n[m]++
		}
	}
	for m := range mean {
		mean[m] /= n[m] // 0/0 is NaN
	}
	return mean
}

// humidity gives the relative humidity of each month, %.
func (b *Band) humidity(i int) [12]float64 {
	if rh := b.months(RelHumidity, i); rh[0] == rh[0] {
		return rh
	}
	air, dew := b.months(AirTemperature, i), b.months(DewPoint, i)
	vapour, specific, pressure := b.months(VapourPressure, i), b.months(SpecificHumidity, i), b.months(Pressure, i)
	var rh [12]float64
	for m := range rh {
		e := sky.VapourPressure(dew[m])
		if e != e {
			e = vapour[m]
		}
		if e != e {
			e = sky.VapourOfSpecific(specific[m], pressure[m])
		}
		rh[m] = min(100, max(1, 100*e/sky.VapourPressure(air[m])))
	}
	return rh
}
