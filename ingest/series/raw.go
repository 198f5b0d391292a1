package series

import (
	"errors"
	"fmt"
	"math"
	"time"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// Options say how a Series becomes a year.
type Options struct {
	Year int // the calendar year to take; 0: each month from the year most typical of it
}

// maxMissing is the share of a month's hours, sunlit ones for irradiance, that
// may lack values if the month is to serve.
const maxMissing = 0.10

// Raw makes a raw year on the hours of local standard time.
//
// Each month comes from a year that has it, at most 10 % of its irradiance and
// its air temperature missing; of several years from the one most typical of the
// month (see typical). Hours that local time moves beyond the ends of the data
// are taken from the same hours of the year before or after, where the data
// have them. A 29 February is dropped.
//
// Direct irradiance on the horizontal becomes the global or diffuse that lacks.
// Errors are *weather.FileError with File left to the caller.
func (s *Series) Raw(o Options) (*weather.Raw, error) {
	y := &year{s: s, site: s.Site}
	if !s.Local {
		y.site.UTCOffset = math.Round(s.Site.Lon / 15)
		y.offset = int64(y.site.UTCOffset) * 3600
	}
	if err := y.columns(); err != nil {
		return nil, err
	}
	if err := y.choose(o.Year); err != nil {
		return nil, err
	}
	return y.raw(), nil
}

// A year is a Series on its way to a raw year.
type year struct {
	s      *Series
	site   weather.Site
	offset int64 // s of local standard time ahead of the stamps

	ghi, dni, dhi, direct                *hourly
	air, dew, humidity, vapour, specific *hourly
	pressure, infrared, cloud, wind      *hourly
	snow                                 *hourly

	clear clearYear // made when needed
	from  [12]int   // year of each month
}

// sky gives the clear sky of the site, made once.
func (y *year) sky() clearYear {
	if y.clear == nil {
		// Local stamps carry their zone in the site.
		y.clear = newClearYear(&y.site, y.site.UTCOffset)
	}
	return y.clear
}

// columns brings every column to hours.
func (y *year) columns() error {
	s := y.s
	wind := s.Wind
	if wind.Axis == nil && s.WindEast.Axis != nil && s.WindNorth.Axis != nil {
		var err error
		if wind, err = speed(s.WindEast, s.WindNorth); err != nil {
			return err
		}
	}
	for _, c := range []struct {
		name  string
		from  Column
		to    **hourly
		shape func(clearHour) float64
	}{
		{"ghi_w_m2", s.GHI, &y.ghi, clearHour.global},
		{"dni_w_m2", s.DNI, &y.dni, func(c clearHour) float64 { return c.normal }},
		{"dhi_w_m2", s.DHI, &y.dhi, func(c clearHour) float64 { return c.diffuse }},
		{"direct horizontal irradiance", s.DirectHorizontal, &y.direct, func(c clearHour) float64 { return c.beam }},
		{"air_temperature_c", s.AirTemperature, &y.air, nil},
		{"dew_point_c", s.DewPoint, &y.dew, nil},
		{"relative_humidity_percent", s.RelHumidity, &y.humidity, nil},
		{"vapour pressure", s.VapourPressure, &y.vapour, nil},
		{"specific humidity", s.SpecificHumidity, &y.specific, nil},
		{"pressure_hpa", s.Pressure, &y.pressure, nil},
		{"sky_infrared_w_m2", s.SkyInfrared, &y.infrared, nil},
		{"total_cloud_tenths", s.TotalCloud, &y.cloud, nil},
		{"wind_speed_m_s", wind, &y.wind, nil},
		{"snow_depth_cm", s.Snow, &y.snow, nil},
	} {
		if c.from.Axis == nil {
			continue
		}
		if err := c.from.Axis.check(); err != nil {
			return &weather.FileError{Field: c.name, Err: err}
		}
		var shape func(int64) float64
		if c.shape != nil {
			of := c.shape
			shape = func(hour int64) float64 { return of(y.sky().hour(hour)) }
		}
		h, err := c.from.hours(c.name, y.offset, shape)
		if err != nil {
			return err
		}
		*c.to = h
	}
	switch {
	case y.air == nil:
		return &weather.FileError{Field: "air_temperature_c", Err: errors.New("no such column")}
	case y.ghi == nil && (y.dhi == nil || y.dni == nil && y.direct == nil):
		return &weather.FileError{Field: "ghi_w_m2", Err: errors.New("no such column, nor both direct and diffuse irradiance to make it of")}
	}
	return nil
}

// speed gives the wind of its components.
func speed(east, north Column) (Column, error) {
	a, b := east.Axis, north.Axis
	same := len(a.Stamp) == len(b.Stamp) && a.Step == b.Step && a.From == b.From && a.Instant == b.Instant
	for i := 0; same && i < len(a.Stamp); i++ {
		same = a.Stamp[i] == b.Stamp[i]
	}
	if !same {
		return Column{}, &weather.FileError{Field: "wind_speed_m_s", Err: errors.New("its two components have different times")}
	}
	v := make([]float32, len(east.Values))
	for i, u := range east.Values {
		v[i] = float32(math.Hypot(float64(u), float64(north.Values[i])))
	}
	return Column{Axis: a, Values: v}, nil
}

// hoursOf is the local hour since 1970 at which a month of a year begins.
func hoursOf(year, month int) int64 {
	return time.Date(year, time.Month(month), 1, 0, 0, 0, 0, time.UTC).Unix() / 3600
}

// month gives the hours of a month of a year without leap day. One that the
// data do not reach is taken from the year after or before.
func (c *hourly) month(year, month int, to []float64) {
	start := hoursOf(year, month)
	for h := range to {
		hour := start + int64(h)
		to[h] = c.at(hour)
		if c.has(hour) {
			continue
		}
		for _, other := range [...]int{year + 1, year - 1} {
			if near := hoursOf(other, month) + int64(h); c.has(near) {
				to[h] = c.at(near)
				break
			}
		}
	}
}

// full gives a column on the hours of the year.
func (y *year) full(c *hourly) []float64 {
	if c == nil {
		return nil
	}
	v := make([]float64, weather.Hours)
	at := 0
	for m, days := range weather.MonthDays {
		c.month(y.from[m], m+1, v[at:at+24*days])
		at += 24 * days
	}
	return v
}

// raw puts the chosen months together.
func (y *year) raw() *weather.Raw {
	s := y.s
	r := &weather.Raw{
		Site: y.site, WindHeight: s.WindHeight, Independent: s.Independent,
		BadCells: s.BadCells, BadCellCount: s.BadCellCount,
		GHI: y.full(y.ghi), DNI: y.full(y.dni), DHI: y.full(y.dhi),
		AirTemperature: y.joined(y.air), Pressure: y.full(y.pressure), Wind: y.joined(y.wind),
		SkyInfrared: y.full(y.infrared), TotalCloud: y.full(y.cloud), Snow: y.full(y.snow),
	}
	r.Site.Year = y.from
	if s.MonthYears != [12]int{} {
		r.Site.Year = s.MonthYears
	}
	if y.direct != nil {
		direct := y.full(y.direct)
		switch {
		case r.GHI == nil:
			r.GHI = combine(r.DHI, direct, 1)
		case r.DHI == nil && r.DNI == nil:
			r.DHI = combine(r.GHI, direct, -1)
			for h, x := range r.DHI {
				if x < 0 { // direct rounded above global
					r.DHI[h] = 0
				}
			}
		}
	}
	y.moisten(r)
	for _, c := range []*hourly{y.ghi, y.dni, y.dhi} {
		if c != nil {
			for m := range r.Site.ClockMin {
				r.Site.ClockMin[m] = int(c.off / 60)
			}
			break
		}
	}
	if y.hasLeapDay() {
		r.LeapHours = 24
	}
	if a := y.main().Axis; a.Step < 3600 {
		r.PartHours = int(3600 / a.Step)
	}
	return r
}

// hasLeapDay tells whether the February taken has a day that is dropped.
func (y *year) hasLeapDay() bool {
	march := hoursOf(y.from[1], 3)
	if march-hoursOf(y.from[1], 2) == 28*24 {
		return false
	}
	noon := y.air.at(march - 12)
	return noon == noon
}

// main is the column of irradiance.
func (y *year) main() Column {
	if y.ghi != nil {
		return y.s.GHI
	}
	return y.s.DHI
}

func combine(a, b []float64, sign float64) []float64 {
	sum := make([]float64, len(a))
	for h := range sum {
		sum[h] = a[h] + sign*b[h]
	}
	return sum
}

// moisten completes the humidity: the dew point is that of the first given of dew
// point, relative humidity, vapour pressure and specific humidity.
func (y *year) moisten(r *weather.Raw) {
	switch {
	case y.dew != nil:
		r.DewPoint = y.joined(y.dew)
	case y.humidity != nil:
		r.RelHumidity = y.joined(y.humidity)
	case y.vapour != nil:
		r.DewPoint = y.joined(y.vapour)
		for h, e := range r.DewPoint {
			r.DewPoint[h] = sky.DewPointOf(e)
		}
	case y.specific != nil:
		r.DewPoint = y.joined(y.specific)
		for h, q := range r.DewPoint {
			p := sky.Pressure(y.site.Elevation)
			if r.Pressure != nil {
				p = r.Pressure[h]
			}
			r.DewPoint[h] = sky.DewPointOf(sky.VapourOfSpecific(q, p))
		}
	}
}

// missingIn counts the hours of v that lack a value, of all or of the sunlit
// ones.
func missingIn(v []float64, sunlit clearYear) (missing, of int) {
	for h, x := range v {
		if sunlit != nil && !sunlit[h].lit() {
			continue
		}
		of++
		if x != x {
			missing++
		}
	}
	return missing, of
}

// serves says why a month of a year cannot, nil when it can.
func (y *year) serves(year, month int) error {
	days := weather.MonthDays[month-1]
	v := make([]float64, 24*days)
	at := hourOfYear(month, 1, 0)
	need := []*hourly{y.ghi, y.air}
	if y.ghi == nil {
		need = []*hourly{y.dhi, y.dni, y.air}
		if y.dni == nil {
			need[1] = y.direct
		}
	}
	for _, c := range need {
		c.month(year, month, v)
		missing, of := missingIn(v, nil)
		if missing > 0 && c != y.air {
			missing, of = missingIn(v, y.sky()[at:at+len(v)])
		}
		if float64(missing) > maxMissing*float64(of) {
			return fmt.Errorf("%s: %d of %d hours of %s %d are missing", c.name, missing, of, time.Month(month), year)
		}
	}
	return nil
}
