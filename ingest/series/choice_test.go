package series

import (
	"math"
	"strings"
	"testing"
	"time"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// without makes the values missing whose time f names.
func without(c *Column, f func(t time.Time) bool) {
	for i, s := range c.Axis.Stamp {
		if f(time.Unix(s, 0).UTC()) {
			c.Values[i] = float32(math.NaN())
		}
	}
}

// A month that no year has sets the place aside; the reason names all of them and
// what the best year lacks.
func TestMonthsThatLack(t *testing.T) {
	may := func(from, to int) *Series { // whole days of May to July
		s := at(0, even(stamp(2015, 5, from, 0, 0), stamp(2015, 7, to, 0, 0), 3600, false), constant(100))
		return s
	}
	for _, c := range []struct {
		name string
		s    func() *Series
		o    Options
		want string
	}{
		{"some weeks", func() *Series { return may(1, 10) }, Options{},
			": 2015 lacks January to April and July to December: 342 of the 342 sunlit hours of January are missing in ghi_w_m2, at most 10 % may be"},
		{"three days", func() *Series {
			return at(0, even(stamp(2015, 12, 30, 0, 0), stamp(2016, 1, 2, 0, 0), 3600, false), constant(1))
		}, Options{}, ": 2015 lacks January to December: 342 of the 342 "},
		{"a night and a half of temperature", func() *Series {
			s := madeYears(2001, 3, func(int, int) float64 { return 0 })
			without(&s.AirTemperature, func(t time.Time) bool { return t.Month() == 3 && t.Day() <= 2+2*(2003-t.Year()) })
			return s
		}, Options{Year: 2002}, ": 2002 lacks March: 96 of the 744 hours of March are missing in air_temperature_c, at most 10 % may be"},
		{"two months in every year", func() *Series {
			s := madeYears(2001, 3, func(int, int) float64 { return 0 })
			without(&s.GHI, func(t time.Time) bool {
				return t.Month() == 2 && t.Day() <= 20+t.Year()%2 || t.Month() == 9 && t.Day() > 26
			})
			return s
		}, Options{}, ": no year from 2001 to 2003 has February and September: at best, in 2002, 240 of the 336 sunlit hours of February are missing in ghi_w_m2"},
	} {
		_, err := c.s().Raw(c.o)
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	// 2003 lacks two days of March's temperature only: it serves.
	s := madeYears(2001, 3, func(int, int) float64 { return 0 })
	without(&s.AirTemperature, func(t time.Time) bool { return t.Month() == 3 && t.Day() <= 2+2*(2003-t.Year()) })
	if r := rawOf(t, s, Options{}); r.Site.Year[2] != 2003 {
		t.Errorf("March of %d, want 2003", r.Site.Year[2])
	}
	// Nights without irradiance are no lack.
	s = madeYears(2001, 1, func(int, int) float64 { return 0 })
	without(&s.GHI, func(t time.Time) bool { return t.Hour() < 3 || t.Hour() > 20 })
	rawOf(t, s, Options{})
}

// A month that begins before the data or ends behind them is not made up of
// another year's: only what local time moves is.
func TestNoBorrowedMonths(t *testing.T) {
	a := even(stamp(2015, 1, 11, 0, 0), stamp(2016, 1, 11, 0, 0), 3600, false)
	_, err := at(0, a, constant(100)).Raw(Options{})
	if err == nil || !strings.HasPrefix(err.Error(), ": no year from 2015 to 2016 has January: at best, in 2015, ") {
		t.Errorf("11 January to 10 January: %v", err)
	}
}

// Columns that a data set must have.
func TestColumnsNeeded(t *testing.T) {
	a := even(stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0), 3600, false)
	c := filled(a, constant(100))
	site := weather.Site{Lat: 30}
	for _, x := range []struct {
		s    Series
		want string
	}{
		{Series{GHI: c}, "air_temperature_c: no such column"},
		{Series{AirTemperature: c}, "ghi_w_m2: no such column, nor both"},
		{Series{AirTemperature: c, DNI: c}, "ghi_w_m2: no such column, nor both"},
		{Series{AirTemperature: c, DHI: c}, "ghi_w_m2: no such column, nor both"},
		{Series{AirTemperature: c, DNI: c, DHI: c}, ""},
		{Series{AirTemperature: c, DirectHorizontal: c, DHI: c}, ""},
		{Series{AirTemperature: c, GHI: c, WindEast: c, WindNorth: filled(even(a.Stamp[0], a.Stamp[99], 3600, false), constant(1))},
			"wind_speed_m_s: its two components have different times"},
	} {
		x.s.Site = site
		if _, err := x.s.Raw(Options{}); x.want == "" && err != nil || x.want != "" && (err == nil || !strings.Contains(err.Error(), x.want)) {
			t.Errorf("%v, want %q", err, x.want)
		}
	}
}

// Direct irradiance on the horizontal stands in for what lacks, and only for
// that; wind is that of its components; humidity is the first of four.
func TestCompletedColumns(t *testing.T) {
	a := even(stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0), 3600, false)
	col := func(v float64) Column { return filled(a, constant(v)) }
	base := Series{Site: weather.Site{Lat: 30}, AirTemperature: col(20), DirectHorizontal: col(300)}
	s := base
	s.DHI = col(100)
	if r := rawOf(t, &s, Options{}); r.GHI[12] != 400 || r.DHI[12] != 100 || r.DNI != nil {
		t.Errorf("direct and diffuse: %v %v", r.GHI[12], r.DHI[12])
	}
	s = base
	s.GHI = col(450)
	if r := rawOf(t, &s, Options{}); r.DHI[12] != 150 || r.DNI != nil {
		t.Errorf("global and direct: %v", r.DHI[12])
	}
	s.GHI = col(299)
	if r := rawOf(t, &s, Options{}); r.DHI[12] != 0 {
		t.Errorf("direct above global: %v", r.DHI[12])
	}
	s.DNI = col(500)
	if r := rawOf(t, &s, Options{}); r.DHI != nil || r.DNI[12] != 500 {
		t.Errorf("direct beside DNI: %v", r.DHI[12])
	}

	s = base
	s.GHI, s.WindEast, s.WindNorth, s.WindHeight = col(400), col(-3), col(4), 2
	s.VapourPressure, s.SpecificHumidity, s.Pressure = col(sky.VapourPressure(10)), col(0.009), col(900)
	r := rawOf(t, &s, Options{})
	if r.Wind[5] != 5 || r.WindHeight != 2 || math.Abs(r.DewPoint[5]-10) > 1e-4 {
		t.Errorf("wind %v at %v m, dew point %v", r.Wind[5], r.WindHeight, r.DewPoint[5])
	}
	s.VapourPressure = Column{}
	s.Pressure.Values[7] = float32(math.NaN())
	r = rawOf(t, &s, Options{})
	// e = q·p/(0.622 + 0.378·q) = 12.95 hPa at 900 hPa: dew point 10.81 °C; at the
	// standard 1013.25 hPa of sea level 14.58 hPa, 12.60 °C.
	if math.Abs(r.DewPoint[5]-10.81) > 0.05 || math.Abs(r.DewPoint[7]-12.60) > 0.05 {
		t.Errorf("dew points of a specific humidity: %.2f, %.2f", r.DewPoint[5], r.DewPoint[7])
	}
	s.RelHumidity = col(50)
	if r = rawOf(t, &s, Options{}); r.RelHumidity[5] != 50 || r.DewPoint != nil {
		t.Errorf("relative humidity comes before: %v", r.DewPoint)
	}
	s.DewPoint = col(9)
	if r = rawOf(t, &s, Options{}); r.DewPoint[5] != 9 || r.RelHumidity != nil {
		t.Error("the dew point comes first")
	}
}

// A typical year made elsewhere keeps the years of its months. Its hours in UTC
// go round the ends of the nominal year, and nothing is smoothed.
func TestMadeYear(t *testing.T) {
	years := [12]int{2003, 1999, 2010, 2004, 2000, 2001, 2015, 2002, 2009, 2007, 2011, 2005}
	a := even(stamp(NominalYear, 1, 1, 0, 0), stamp(NominalYear+1, 1, 1, 0, 0), 3600, true)
	start := a.Stamp[0]
	s := at(-90, a, func(s int64) float64 { return float64((s - start) / 3600) })
	s.MonthYears = years
	r := rawOf(t, s, Options{})
	if r.Site.Year != years || r.LeapHours != 0 || r.Site.UTCOffset != -6 {
		t.Errorf("years %v, %d leap hours, zone %v", r.Site.Year, r.LeapHours, r.Site.UTCOffset)
	}
	for h, x := range r.AirTemperature {
		utc := (h + 6) % weather.Hours
		if utc >= leapHour {
			utc += 24
		}
		if x != float64(utc) {
			t.Fatalf("hour %d has that of %v, want %d", h, x, utc)
		}
	}
}

// Seven years of known sums; the poor and the rich year lie straight between
// them: of sums 90, 95 … 120 the tenth percentile is 93, the ninetieth 117.
func TestSpreadOfYears(t *testing.T) {
	level := func(year, _ int) float64 { return float64((year-2000)*3%7) - 3 } // −3…3
	s := madeYears(2001, 7, level)
	s.GHI = filled(s.GHI.Axis, func(stamp int64) float64 {
		return 105 + 5*level(time.Unix(stamp, 0).UTC().Year(), 0)
	})
	near := func(r *weather.Raw, p10, p90 float64) {
		t.Helper()
		if math.Abs(r.Site.YearP10-p10) > 1e-6 || math.Abs(r.Site.YearP90-p90) > 1e-6 {
			t.Errorf("%v and %v, want %v and %v", r.Site.YearP10, r.Site.YearP90, p10, p90)
		}
	}
	near(rawOf(t, s, Options{}), 93./105, 117./105)
	near(rawOf(t, s, Options{Year: 2003}), 93./105, 117./105)
	// Days that the best year lacks are filled in the measure of the sky: next to
	// nothing changes.
	without(&s.GHI, func(t time.Time) bool { return t.Year() == 2002 && t.Day() <= 2 })
	r := rawOf(t, s, Options{})
	if math.Abs(r.Site.YearP10-93./105) > 2e-3 || math.Abs(r.Site.YearP90-117./105) > 2e-3 {
		t.Errorf("with days missing: %v, %v", r.Site.YearP10, r.Site.YearP90)
	}
	// Years without an August do not count.
	without(&s.GHI, func(t time.Time) bool { return t.Month() == 8 && t.Year() <= 2003 })
	if r := rawOf(t, s, Options{}); r.Site.YearP10 != 0 || r.Site.YearP90 != 0 {
		t.Errorf("of four whole years: %v, %v", r.Site.YearP10, r.Site.YearP90)
	}
}
