package series

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"stillrow/ingest/weather"
)

func stamp(year, month, day, hour, minute int) int64 {
	return time.Date(year, time.Month(month), day, hour, minute, 0, 0, time.UTC).Unix()
}

// even is an axis of records from a time on up to another; without leap days, if
// wanted.
func even(from, to, step int64, noleap bool) *Axis {
	a := &Axis{Step: step}
	for s := from; s < to; s += step {
		if t := time.Unix(s, 0).UTC(); noleap && t.Month() == time.February && t.Day() == 29 {
			continue
		}
		a.Stamp = append(a.Stamp, s)
	}
	return a
}

// filled is a column of an axis by a function of the stamp.
func filled(a *Axis, f func(s int64) float64) Column {
	c := Column{Axis: a, Values: make([]float32, len(a.Stamp))}
	for i, s := range a.Stamp {
		c.Values[i] = float32(f(s))
	}
	return c
}

func constant(v float64) func(int64) float64 { return func(int64) float64 { return v } }

// at is a series with a place and the two columns that it cannot do without.
func at(lon float64, a *Axis, f func(s int64) float64) *Series {
	c := filled(a, f)
	return &Series{Site: weather.Site{ID: "made", Lat: 30, Lon: lon}, GHI: c, AirTemperature: c}
}

func rawOf(t testing.TB, s *Series, o Options) *weather.Raw {
	t.Helper()
	r, err := s.Raw(o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Axes that make no hours are refused, each in its own words.
func TestAxisErrors(t *testing.T) {
	start := stamp(2015, 1, 1, 0, 0)
	hours := func(s ...int64) *Axis {
		a := &Axis{Step: 3600}
		for _, h := range s {
			a.Stamp = append(a.Stamp, start+h*3600/60)
		}
		return a
	}
	for _, c := range []struct {
		name string
		a    *Axis
		want string
	}{
		{"none", &Axis{Step: 3600}, "no records"},
		{"no step", &Axis{Stamp: []int64{start}}, "records of 0s: want hours"},
		{"7 minutes", even(start, start+4200, 420, false), "records of 7m0s: want hours"},
		{"90 minutes", even(start, start+86400, 5400, false), "records of 1h30m0s: want hours"},
		{"5 hours", even(start, start+864000, 5*3600, false), "records of 5h0m0s: want hours"},
		{"days", even(start, start+864000, 86400, false), "records of 24h0m0s: want hours"},
		{"uneven", hours(0, 60, 150), "record 3 is stamped 2015-01-01 02:30, 1h30m0s after the one before"},
		{"duplicated", hours(0, 60, 60), "record 3 is stamped 2015-01-01 01:00, 0s after"},
		{"falling", hours(0, 60, 120, 60), "record 4 is stamped 2015-01-01 01:00, -1h0m0s after"},
		{"too long", hours(0, 60*24*366*220), "at most 1756800 are read"},
		{"intervals of instants", &Axis{Stamp: []int64{start}, Step: 3600, Instant: true, From: -60}, "instants with an interval"},
		{"a day before its stamp", &Axis{Stamp: []int64{start}, Step: 3600, From: -86400}, "begin -86400 s after"},
		{"the year 1", &Axis{Stamp: []int64{stamp(1, 1, 1, 0, 0)}, Step: 3600}, "want years 1600 to 2600"},
		{"no year", &Axis{Stamp: []int64{math.MinInt64, math.MaxInt64}, Step: 3600}, "want years 1600 to 2600"},
		{"a leap over all time", &Axis{Stamp: []int64{start, start + (math.MaxInt64-start)/3600*3600}, Step: 3600}, "at most 1756800 are read"},
	} {
		s := at(0, c.a, constant(1))
		_, err := s.Raw(Options{})
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "ghi_w_m2") {
			t.Errorf("%s: %v, want ghi_w_m2 and %q", c.name, err, c.want)
		}
	}
	s := at(0, hours(0, 60), constant(1))
	s.GHI.Values = s.GHI.Values[:1]
	if _, err := s.Raw(Options{}); err == nil || !strings.Contains(err.Error(), "1 values at 2 stamps") {
		t.Errorf("a value short: %v", err)
	}
	for _, site := range []weather.Site{{Lat: math.NaN()}, {Lon: 181}, {Lon: math.Inf(-1)}} {
		s.Site = site
		if _, err := s.Raw(Options{}); err == nil || !strings.Contains(err.Error(), "tude: ") {
			t.Errorf("%v, %v: %v", site.Lat, site.Lon, err)
		}
	}
}

// Whatever the longitude, the calendar and the months left out, an hour of local
// time has the value of its instant; where one year's data do not reach, of the
// instant a year off. The instants are counted by package time in a calendar with
// leap days and by 365 days a year in one without.
func TestLocalHours(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lon := float64(rapid.IntRange(-180, 180).Draw(t, "lon"))
		noleap := rapid.Bool().Draw(t, "noleap")
		first := rapid.IntRange(2014, 2017).Draw(t, "first")
		years := rapid.IntRange(1, 3).Draw(t, "years")
		from := rapid.SampledFrom([]int64{0, -3600, -1800}).Draw(t, "from")
		a := even(stamp(first, 1, 1, 0, 0)-from, stamp(first+years, 1, 1, 0, 0)-from, 3600, noleap && from == 0)
		a.From = from
		s := at(lon, a, func(s int64) float64 { return float64(floorDiv(s+from, 3600)) })
		year := first + rapid.IntRange(0, years-1).Draw(t, "year")
		r, err := s.Raw(Options{Year: year})
		if err != nil {
			t.Fatal(err)
		}
		zone := int(math.Round(lon / 15))
		if r.Site.UTCOffset != float64(zone) {
			t.Fatalf("zone %v, want %d", r.Site.UTCOffset, zone)
		}
		lo, hi := stamp(first, 1, 1, 0, 0)/3600, stamp(first+years, 1, 1, 0, 0)/3600
		h := 0
		for m, days := range weather.MonthDays {
			for d := range days {
				for clock := range 24 {
					instant := func(year int) int64 {
						if !noleap || from != 0 {
							return stamp(year, m+1, d+1, clock-zone, 0) / 3600
						}
						n := 365*year*24 + h - zone // in a calendar of 365 days
						y, of := n/weather.Hours, n%weather.Hours
						utc := time.Date(2015, 1, 1, of, 0, 0, 0, time.UTC)
						return stamp(y, int(utc.Month()), utc.Day(), utc.Hour(), 0) / 3600
					}
					want := instant(year)
					if want < lo {
						want = instant(year + 1)
					} else if want >= hi {
						want = instant(year - 1)
					}
					if got := r.GHI[h]; got != float64(float32(want)) {
						t.Fatalf("%d-%02d-%02d %02d h: the value of %s, want of %s", year, m+1, d+1, clock,
							stampText(int64(got)*3600), stampText(want*3600))
					}
					h++
				}
			}
		}
		leap := 0
		if leapYear(year) && !(noleap && from == 0) {
			leap = 24
		}
		if r.LeapHours != leap || r.Site.ClockMin != [12]int{} {
			t.Fatalf("%d leap hours, clock %v", r.LeapHours, r.Site.ClockMin)
		}
	})
}

// A gap behind a 29 February that the calendar leaves out lies where it lay.
func TestGapBehindSkippedDay(t *testing.T) {
	whole := even(stamp(2016, 1, 1, 0, 0), stamp(2017, 1, 1, 0, 0), 3600, true)
	a := &Axis{Step: 3600}
	for _, s := range whole.Stamp {
		if s < stamp(2016, 4, 10, 6, 0) || s >= stamp(2016, 4, 10, 9, 0) {
			a.Stamp = append(a.Stamp, s)
		}
	}
	r := rawOf(t, at(0, a, func(s int64) float64 { return float64(s / 3600 % 24) }), Options{})
	for h, x := range r.AirTemperature {
		if gap := h >= monthStart[3]+9*24+6 && h < monthStart[3]+9*24+9; gap != (x != x) || !gap && x != float64(h%24) {
			t.Fatalf("hour %d: %v", h, x)
		}
	}
}

// Zones at the ends of longitude and halfway between two: away from Greenwich.
func TestZones(t *testing.T) {
	a := even(stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0), 3600, false)
	for lon, want := range map[float64]float64{180: 12, -180: -12, 7.5: 1, -7.5: -1, 7.49: 0, 172.5: 12, -172.5: -12, 0: 0} {
		if got := rawOf(t, at(lon, a, constant(1)), Options{}).Site.UTCOffset; got != want {
			t.Errorf("%v°: %v h, want %v", lon, got, want)
		}
	}
	s := at(100, a, func(s int64) float64 { return float64(s / 3600) })
	s.Local, s.Site.UTCOffset = true, 5.5
	if r := rawOf(t, s, Options{}); r.Site.UTCOffset != 5.5 || r.GHI[0] != float64(float32(a.Stamp[0]/3600)) {
		t.Errorf("local stamps were moved: %v h, %v", r.Site.UTCOffset, r.GHI[0])
	}
}
