// Package repair turns the raw year of a weather source into a finished one:
// the clock set, impossible values taken out, gaps filled, what the source lacks
// completed, and everything that was done counted and flagged.
//
// The order matters and is fixed: clock, limits, gaps, completion. The clock
// comes first because the limits and the filling of irradiance depend on the
// sun; only values that no clock could excuse are kept from proving it.
//
// Irradiance is filled as its ratio to what the sun would give outside the
// atmosphere in the same hour (DNI to the normal irradiance, GHI and DHI to the
// horizontal one), so that a filled hour follows the sun and closes
// GHI = DNI·sz + DHI as its neighbours do. The night is no neighbour: a gap that
// begins or ends the day is filled from the days beside it, because the ratio of
// a higher sun would make too much of a low one.
package repair

import (
	"errors"
	"fmt"
	"math"

	"stillrow/ingest/day"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// maxMissing is the share of missing values above which a file is set aside: of
// the sunlit hours for irradiance, of all hours for air temperature.
const maxMissing = 0.10

// A Clock says what the source's time stamps are trusted with.
type Clock int

const (
	Closed  Clock = iota // each month's clock is proved, and set, by GHI = DNI·sz + DHI
	Stamped              // the data set's documented convention holds as it stands
)

// Finish turns a raw year, which it uses up, into a finished site and year. An
// error is a *weather.FileError with File left to the caller: the reason why the
// source is set aside. The report is filled as far as the work went.
func Finish(raw *weather.Raw, clock Clock) (weather.Site, *weather.Year, Report, error) {
	w := &work{raw: raw, site: raw.Site}
	w.site.Flags = append([]string(nil), raw.Site.Flags...)
	err := w.finish(clock)
	if err != nil {
		return weather.Site{}, nil, w.report, err
	}
	return w.site, w.year(), w.report, nil
}

// work is one source on its way through the repairs.
type work struct {
	raw    *weather.Raw
	site   weather.Site
	days   []day.Way
	suns   []hourSun
	clear  []float64 // see clearGlobal; nil before
	report Report

	missing, filled [weather.Hours]bool // hours with at least one such value
}

func (w *work) finish(clock Clock) error {
	if err := w.check(); err != nil {
		return err
	}
	w.dropEmpty()
	w.noteReading()
	w.days = dayWays(&w.site)
	w.setClock(clock)
	w.suns = hourSuns(&w.site, w.days)
	w.limit()
	if err := w.count(); err != nil {
		return err
	}
	w.fillAir()
	w.irradiance()
	w.infrared()
	w.snow()
	w.closure()
	if err := w.sums(); err != nil {
		return err
	}
	w.degreeDays()
	for h := range weather.Hours {
		if w.missing[h] {
			w.site.MissingHours++
		}
		if w.filled[h] {
			w.site.FilledHours++
		}
	}
	w.report.FilledHours = w.site.FilledHours
	w.report.Flags = w.site.Flags
	return nil
}

// check refuses what cannot be a year of a place.
func (w *work) check() error {
	for _, c := range w.columns() {
		if n := len(*c.v); n != 0 && n != weather.Hours {
			return setAside(c.name, fmt.Errorf("%d hours, want %d", n, weather.Hours))
		}
	}
	s := &w.site
	for _, p := range [...]struct {
		field     string
		v, lo, hi float64
	}{
		{"latitude", s.Lat, -90, 90}, {"longitude", s.Lon, -180, 180}, {"time zone", s.UTCOffset, -12, 14},
		{"elevation", s.Elevation, -500, 9000},
	} {
		if !(p.v >= p.lo && p.v <= p.hi) {
			return setAside(p.field, fmt.Errorf("%g is outside %g to %g", p.v, p.lo, p.hi))
		}
	}
	for m, y := range s.Year {
		if y < 1900 || y > 2100 {
			return setAside("year", fmt.Errorf("%d of month %d is outside 1900 to 2100", y, m+1))
		}
	}
	return nil
}

// errNone says that a source lacks a whole column it cannot do without.
var errNone = errors.New("no values in the file")

func setAside(field string, err error) error { return &weather.FileError{Field: field, Err: err} }

// A column is one of the raw columns.
type column struct {
	name  string // as in the weather table; those that stay out of it likewise
	v     *[]float64
	r     sky.Range
	solar bool
	table bool // it is a column of the weather table
}

// columns lists the raw columns in the order of the weather table.
func (w *work) columns() []column {
	r := w.raw
	return []column{
		{"ghi_w_m2", &r.GHI, sky.GlobalRange, true, true},
		{"dni_w_m2", &r.DNI, sky.BeamRange, true, true},
		{"dhi_w_m2", &r.DHI, sky.DiffuseRange, true, true},
		{"air_temperature_c", &r.AirTemperature, sky.AirTemperature, false, true},
		{"wind_speed_m_s", &r.Wind, sky.Wind, false, true},
		{"sky_infrared_w_m2", &r.SkyInfrared, sky.LongWave, false, true},
		{"snow_depth_cm", &r.Snow, sky.SnowDepth, false, true},
		{"dew_point_c", &r.DewPoint, sky.DewPointRange, false, false},
		{"relative_humidity_percent", &r.RelHumidity, sky.Humidity, false, false},
		{"pressure_hpa", &r.Pressure, sky.AirPressure, false, false},
		{"total_cloud_tenths", &r.TotalCloud, sky.Cloud, false, false},
		{"opaque_cloud_tenths", &r.OpaqueCloud, sky.Cloud, false, false},
	}
}

// dropEmpty makes columns without any value nil, so that nil is the one sign of
// a column the source lacks. An irradiance column that is 0 all year is one:
// nowhere on earth is a year without sun.
func (w *work) dropEmpty() {
	for _, c := range w.columns() {
		some, positive := false, false
		for _, v := range *c.v {
			some = some || v == v
			positive = positive || v > 0
		}
		if c.solar && some && !positive {
			w.flag(FlagIrradianceZero)
			some = false
		}
		if !some {
			*c.v = nil
		}
	}
}

// year gives the finished columns.
func (w *work) year() *weather.Year {
	single := func(v []float64) []float32 {
		f := make([]float32, len(v))
		for i, x := range v {
			f[i] = float32(x)
		}
		return f
	}
	r := w.raw
	return &weather.Year{
		GHI: single(r.GHI), DNI: single(r.DNI), DHI: single(r.DHI),
		AirTemperature: single(r.AirTemperature), Wind: single(r.Wind),
		SkyInfrared: single(r.SkyInfrared), Snow: single(r.Snow),
	}
}

// degreeDays sums the heating and cooling degree days of each month from daily
// mean air temperatures.
func (w *work) degreeDays() {
	const base = 18.3
	eachDay(func(month, h int) {
		t := mean(w.raw.AirTemperature[h : h+24])
		w.site.HDD[month] += max(0, base-t)
		w.site.CDD[month] += max(0, t-base)
	})
}

// eachDay calls f with the month, from 0, and the first hour of every day.
func eachDay(f func(month, hour int)) {
	h := 0
	for m, days := range weather.MonthDays {
		for range days {
			f(m, h)
			h += 24
		}
	}
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

func missing(v float64) bool { return math.IsNaN(v) }
