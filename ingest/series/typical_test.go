package series

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"stillrow/ingest/weather"
)

// Two years of three days, the statistic worked by hand: all days are 1, 2, 2, 3,
// 3 and 4, so that Φ is 1/7, 3/7, 5/7 and 6/7 and F is 1/4, 2/4 and 3/4.
func TestFinkelsteinSchafer(t *testing.T) {
	fs := trait{{2, 1, 3}, {4, 2, 3}}.distances()
	want := []float64{
		math.Abs(1./4-1./7) + math.Abs(2./4-3./7) + math.Abs(3./4-5./7), // 3/14
		math.Abs(1./4-3./7) + math.Abs(2./4-5./7) + math.Abs(3./4-6./7), // 1/2
	}
	if math.Abs(want[0]-3./14) > quiet || math.Abs(want[1]-0.5) > quiet {
		t.Fatalf("by hand: %v", want)
	}
	for i := range fs {
		if math.Abs(fs[i]-want[i]) > quiet {
			t.Errorf("year %d: %v, want %v", i+1, fs[i], want[i])
		}
	}
	// Equal days share the upper place: F of two days at 5 is 2/3, Φ of four 4/5.
	if fs := (trait{{5, 5}, {5, 5}}).distances(); math.Abs(fs[0]-2*(4./5-2./3)) > quiet || fs[1] != fs[0] {
		t.Errorf("equal days: %v", fs)
	}
	// A year without one day of ten is compared by the others, one without two is not.
	ten := func(missing int) []float64 {
		v := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
		for i := range missing {
			v[i] = math.NaN()
		}
		return v
	}
	fs = trait{ten(0), ten(1), ten(2)}.distances()
	if math.Abs(fs[0]-fs[1]) > 0.1 || !math.IsInf(fs[2], 1) {
		t.Errorf("days missing: %v", fs)
	}
	if got := fmt.Sprint(ranks([]float64{3, 1, 2, 1, math.Inf(1)})); got != "[4 1 3 1 5]" {
		t.Errorf("ranks %v", got)
	}
}

// madeYears are some years whose months differ by how far the year given by
// offset(year, month), in steps, lies from the middle.
func madeYears(first, years int, offset func(year, month int) float64) *Series {
	a := even(stamp(first, 1, 1, 0, 0), stamp(first+years, 1, 1, 0, 0), 3600, false)
	with := func(base, scale float64) Column {
		return filled(a, func(s int64) float64 {
			t := time.Unix(s, 0).UTC()
			d := offset(t.Year(), int(t.Month())-1)
			return base + scale*d + 0.1*scale*float64(t.Day())
		})
	}
	s := &Series{Site: weather.Site{ID: "made", Lat: 30}, GHI: with(300, 20), AirTemperature: with(15, 1), RelHumidity: with(60, 5)}
	s.Wind = filled(a, constant(3))
	return s
}

// Of six years the months that lie in the middle of all are known: they are
// chosen, whether the quantities rise together or one lacks.
func TestTypicalMonths(t *testing.T) {
	const first, years = 2001, 6
	// Month m has its middle in year first + m%6; the others lie evenly around.
	offset := func(year, month int) float64 {
		return []float64{0, -2, 2, -1, 1, 3}[(year-first+years-month%years)%years]
	}
	for _, leave := range []string{"", "wind", "humidity", "all but the sun", "all but the air"} {
		s := madeYears(first, years, offset)
		switch leave {
		case "wind":
			s.Wind = Column{}
		case "humidity":
			s.RelHumidity = Column{}
		case "all but the sun": // has the same in every year
			s.AirTemperature, s.RelHumidity = filled(s.GHI.Axis, constant(9)), Column{}
		case "all but the air":
			s.GHI, s.RelHumidity = filled(s.GHI.Axis, constant(300+2*15)), Column{}
		}
		r := rawOf(t, s, Options{})
		for m, got := range r.Site.Year {
			if want := first + m%years; got != want {
				t.Errorf("without %q, month %d: %d, want %d", leave, m+1, got, want)
			}
		}
		if r.GHI[monthStart[3]+24*14] != 300+2*15 { // 15 April of its middle year
			t.Errorf("15 April has %v", r.GHI[monthStart[3]+24*14])
		}
	}
	// Of the three best the wind decides: in March the year that lies a step below
	// the middle has the wind of all years.
	s := madeYears(first, years, offset)
	march := 2
	s.Wind = filled(s.GHI.Axis, func(stamp int64) float64 {
		t := time.Unix(stamp, 0).UTC()
		switch d := offset(t.Year(), march); {
		case int(t.Month())-1 != march || d == -1:
			return 3
		case d == 0 || d == 2:
			return 4
		default:
			return 2.5
		}
	})
	if r := rawOf(t, s, Options{}); offset(r.Site.Year[march], march) != -1 || r.Site.Year[4] != first+4 {
		t.Errorf("with the wind: %v", r.Site.Year)
	}
	// A year with wind on three days only, however typical, is not chosen for it.
	for i, stamp := range s.GHI.Axis.Stamp {
		if y := time.Unix(stamp, 0).UTC(); offset(y.Year(), march) == -1 && int(y.Month())-1 == march && y.Day() > 3 {
			s.Wind.Values[i] = float32(math.NaN())
		}
	}
	if r := rawOf(t, s, Options{}); offset(r.Site.Year[march], march) == -1 {
		t.Errorf("the year without wind was taken: %v", r.Site.Year)
	}
}

// The year asked for is taken as it stands, and only it.
func TestGivenYear(t *testing.T) {
	s := madeYears(2001, 3, func(year, _ int) float64 { return float64(year) })
	for _, year := range []int{2001, 2003} {
		r := rawOf(t, s, Options{Year: year})
		for m, got := range r.Site.Year {
			if got != year {
				t.Errorf("month %d: %d, want %d", m+1, got, year)
			}
		}
		if want := 300 + 20*float64(year) + 2*31; r.GHI[weather.Hours-1] != want {
			t.Errorf("%d ends with %v, want %v", year, r.GHI[weather.Hours-1], want)
		}
	}
	for year, want := range map[int]string{2000: ": no data of 2000: they run from 2001 to 2003", 2004: ": no data of 2004: they run from 2001 to 2003"} {
		if _, err := s.Raw(Options{Year: year}); err == nil || err.Error() != want {
			t.Errorf("%v, want %q", err, want)
		}
	}
	s.MonthYears = [12]int{2001, 2002, 2003}
	if _, err := s.Raw(Options{Year: 2001}); err == nil || !strings.Contains(err.Error(), "no data of 2001 alone") {
		t.Errorf("%v", err)
	}
}

// Where months of different years meet, the temperature passes from the one to
// the other over 16 hours, in equal steps between levels; the sun does not, and
// 29 February, hot here, has no part in it.
func TestJoints(t *testing.T) {
	// February and March come from different years, both leap.
	level := map[int]float64{2004: 10, 2008: 14}
	s := madeYears(2003, 10, func(int, int) float64 { return 0 })
	s.AirTemperature = filled(s.GHI.Axis, func(s int64) float64 {
		t := time.Unix(s, 0).UTC()
		if t.Month() == time.February && t.Day() == 29 {
			return 99
		}
		if l, ok := level[t.Year()]; ok {
			return l
		}
		return 12
	})
	s.RelHumidity, s.Wind = Column{}, Column{}
	y := &year{s: s, site: s.Site}
	if err := y.columns(); err != nil {
		t.Fatal(err)
	}
	for m := range y.from {
		y.from[m] = 2004
		if m >= 2 {
			y.from[m] = 2008
		}
	}
	r := y.raw()
	march := monthStart[2]
	for k := -20; k < 20; k++ {
		want := 10 + 4*(float64(k)+8.5)/16
		want = min(max(want, 10), 14)
		if k < -joint {
			want = 10
		} else if k >= joint {
			want = 14
		}
		got := r.AirTemperature[march+k]
		// The hours behind 28 February 2004 are those of 1 March, those before 1
		// March 2008 of 28 February.
		if math.Abs(got-want) > quiet {
			t.Errorf("%d h from 1 March: %v, want %v", k, got, want)
		}
	}
	if r.LeapHours != 24 {
		t.Errorf("%d leap hours", r.LeapHours)
	}
	// December 2008, at 14, goes to January 2004, at 10: before the turn towards
	// December 2003, behind it from January 2009, both at 12.
	if a, b := r.AirTemperature[weather.Hours-1], r.AirTemperature[0]; math.Abs(a-(14-2*7.5/16)) > quiet || math.Abs(b-(12-2*8.5/16)) > quiet {
		t.Errorf("the year ends at %v and begins at %v", a, b)
	}
}
