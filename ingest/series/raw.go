package series

import (
	"errors"
	"fmt"
	"math"

	"stillrow/ingest/weather"
)

// Options say how a Series becomes a year.
type Options struct {
	Year int // the calendar year to take; 0: each month from the year most typical of it
}

// Raw makes a raw year on the hours of local standard time.
//
// Each month comes from a year that has it, at most 10 % of its irradiance and
// its air temperature missing; of several years from the one most typical of the
// month (see typical). Hours that local time moves beyond the ends of the data
// are taken from the same hours of the year before or after, where the data
// have them. A 29 February is dropped.
//
// Direct irradiance on the horizontal becomes the global or diffuse that lacks.
// Where the hours' means are of intervals that lie off the hours, as when stamps
// on the hour are the middle of theirs, ClockMin says by how much.
// Errors are *weather.FileError with File left to the caller.
func (s *Series) Raw(o Options) (*weather.Raw, error) {
	y := &year{s: s, site: s.Site}
	if err := y.place(); err != nil {
		return nil, err
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
	offset int64    // s of local standard time ahead of the stamps
	tracks []*track // of the axes met

	ghi, dni, dhi, direct                *hourly
	air, dew, humidity, vapour, specific *hourly
	pressure, infrared, cloud, wind      *hourly
	snow                                 *hourly

	sun   *hourly   // global irradiance, of its parts where there is none
	clear clearYear // made when needed
	from  [12]int   // year of each month
}

// place settles local time.
func (y *year) place() error {
	for _, p := range [...]struct {
		field     string
		v, lo, hi float64
	}{{"latitude", y.site.Lat, -90, 90}, {"longitude", y.site.Lon, -180, 180}} {
		if !(p.v >= p.lo && p.v <= p.hi) {
			return &weather.FileError{Field: p.field, Err: fmt.Errorf("%g is outside %g to %g", p.v, p.lo, p.hi)}
		}
	}
	if !y.s.Local {
		y.site.UTCOffset = math.Round(y.site.Lon/15) + 0 // of −0 too
		y.offset = int64(y.site.UTCOffset) * 3600
	}
	return nil
}

// sky gives the clear sky of the site, made once.
func (y *year) sky() clearYear {
	if y.clear == nil {
		y.clear = newClearYear(&y.site)
	}
	return y.clear
}

// track lays an axis on local time, once for all the columns with the same times.
func (y *year) track(a *Axis) (*track, error) {
	for _, t := range y.tracks {
		if t.axis.same(a) {
			return t, nil
		}
	}
	t, err := newTrack(a, y.offset)
	if err == nil {
		y.tracks = append(y.tracks, t)
	}
	return t, err
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
	solar := func(name string, in course) kind { return kind{name, true, in} }
	state := func(name string) kind { return kind{name: name} }
	for _, c := range [...]struct {
		kind kind
		from *Column
		to   **hourly
	}{
		{solar("ghi_w_m2", along((*clearHour).global)), &s.GHI, &y.ghi},
		{solar("dni_w_m2", along(normal)), &s.DNI, &y.dni},
		{solar("dhi_w_m2", s.diffuseCourse()), &s.DHI, &y.dhi},
		{solar("direct horizontal irradiance", along(beam)), &s.DirectHorizontal, &y.direct},
		{state("air_temperature_c"), &s.AirTemperature, &y.air},
		{state("dew_point_c"), &s.DewPoint, &y.dew},
		{state("relative_humidity_percent"), &s.RelHumidity, &y.humidity},
		{state("vapour pressure"), &s.VapourPressure, &y.vapour},
		{state("specific humidity"), &s.SpecificHumidity, &y.specific},
		{state("pressure_hpa"), &s.Pressure, &y.pressure},
		{state("sky_infrared_w_m2"), &s.SkyInfrared, &y.infrared},
		{state("total_cloud_tenths"), &s.TotalCloud, &y.cloud},
		{state("wind_speed_m_s"), &wind, &y.wind},
		{state("snow_depth_cm"), &s.Snow, &y.snow},
	} {
		if c.from.Axis == nil {
			continue
		}
		t, err := y.track(c.from.Axis)
		if err != nil {
			return &weather.FileError{Field: c.kind.name, Err: err}
		}
		if *c.to, err = c.from.hours(c.kind, t, y.sky); err != nil {
			return err
		}
	}
	switch {
	case y.air == nil:
		return &weather.FileError{Field: "air_temperature_c", Err: errors.New("no such column")}
	case y.ghi == nil && (y.dhi == nil || y.dni == nil && y.direct == nil):
		return &weather.FileError{Field: "ghi_w_m2", Err: errors.New("no such column, nor both direct and diffuse irradiance to make it of")}
	}
	y.sun = y.global()
	return y.oneClock()
}

// diffuseCourse gives the course of the diffuse irradiance within long intervals,
// beside the direct one where the same intervals have it.
func (s *Series) diffuseCourse() course {
	switch {
	case s.DirectHorizontal.beside(s.DHI):
		return besides(func(i int, _ []clearHour) float64 { return float64(s.DirectHorizontal.Values[i]) })
	case s.GHI.beside(s.DHI):
		return besides(func(i int, _ []clearHour) float64 { return float64(s.GHI.Values[i]) - float64(s.DHI.Values[i]) })
	case s.DNI.beside(s.DHI):
		return besides(func(i int, hours []clearHour) float64 {
			return float64(s.DNI.Values[i]) * meanOf(beam, hours) / meanOf(normal, hours)
		})
	}
	return along(diffuse)
}

// beside tells whether a column has a value for each record of another, at the
// same times.
func (c Column) beside(other Column) bool {
	return c.Axis != nil && other.Axis != nil && len(c.Values) == len(other.Values) && c.Axis.same(other.Axis)
}

// oneClock refuses irradiances whose hours lie off by different times: the sun
// of an hour could not be that of all.
func (y *year) oneClock() error {
	for _, c := range [...]*hourly{y.ghi, y.dni, y.dhi, y.direct} {
		if c != nil && c.off != y.sun.off {
			return &weather.FileError{Field: c.name, Err: fmt.Errorf("its values are for %+d min from the middle of the hours, those of %s for %+d",
				c.off/60, y.sun.name, y.sun.off/60)}
		}
	}
	return nil
}

// raw puts the chosen months together.
func (y *year) raw() *weather.Raw {
	s := y.s
	r := &weather.Raw{
		Site: y.site, WindHeight: s.WindHeight, Independent: s.Independent && y.ownHours(),
		BadCells: s.BadCells, BadCellCount: s.BadCellCount,
		GHI: y.full(y.ghi), DNI: y.full(y.dni), DHI: y.full(y.dhi),
		AirTemperature: y.joined(y.air), Pressure: y.full(y.pressure), Wind: y.joined(y.wind),
		SkyInfrared: y.full(y.infrared), TotalCloud: y.full(y.cloud), Snow: y.full(y.snow),
	}
	r.Site.Year = y.from
	if y.made() {
		r.Site.Year = s.MonthYears
	}
	y.complete(r)
	y.moisten(r)
	for m := range r.Site.ClockMin {
		r.Site.ClockMin[m] = int(y.sun.off / 60)
	}
	if y.sun.hasLeapDay(y.from[1]) || y.air.hasLeapDay(y.from[1]) {
		r.LeapHours = 24
	}
	main := s.GHI
	if main.Axis == nil {
		main = s.DHI
	}
	if step := main.Axis.Step; step < 3600 {
		r.PartHours = weather.Hours * int(3600/step)
	}
	return r
}

// ownHours tells whether the hours of the irradiances are the data set's own. Those
// of longer intervals have the course of a clear sky at the clock that is taken for
// right, and would prove whatever it is.
func (y *year) ownHours() bool {
	for _, c := range [...]Column{y.s.GHI, y.s.DNI, y.s.DHI, y.s.DirectHorizontal} {
		if c.Axis != nil && c.Axis.Step > 3600 {
			return false
		}
	}
	return true
}

// made tells whether the data are one year made of months of several.
func (y *year) made() bool { return y.s.MonthYears != [12]int{} }
