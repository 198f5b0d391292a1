package series

import (
	"math"
	"slices"
	"testing"

	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

const quiet = 1e-12

// Weights of instants in an hour's mean, worked by hand from the areas under
// straight lines.
func TestHourWeights(t *testing.T) {
	for _, c := range []struct {
		q    float64
		per  int
		want []float64
	}{
		{0, 1, []float64{0.5, 0.5}},
		{0, 2, []float64{0.25, 0.5, 0.25}},
		{0.5, 1, []float64{1. / 8, 6. / 8, 1. / 8}},
		{0.25, 1, []float64{9. / 32, 22. / 32, 1. / 32}},
		{0.5, 2, []float64{1. / 16, 7. / 16, 7. / 16, 1. / 16}},
	} {
		got := hourWeights(c.q, c.per)
		if !slices.EqualFunc(got, c.want, func(a, b float64) bool { return math.Abs(a-b) < quiet }) {
			t.Errorf("q %v, %d an hour: %v, want %v", c.q, c.per, got, c.want)
		}
	}
}

// The mean of an hour of sin(2πt/day), in closed form, against what instants give:
// the trapezoid rule errs by at most step²/12·|f″|. A straight line is exact.
func TestInstants(t *testing.T) {
	const w = 2 * math.Pi / daySeconds
	start, end := stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0)
	for _, c := range []struct{ step, late int64 }{{3600, 0}, {3600, 900}, {1800, 0}, {900, 0}, {600, 0}, {600, 100}, {60, 0}} {
		a := even(start+c.late, end, c.step, false)
		a.Instant = true
		s := at(0, a, func(s int64) float64 { return 500 + 400*math.Sin(w*float64(s-start)) })
		s.AirTemperature = filled(a, func(s int64) float64 { return float64(s-start) / 3600 / 100 })
		r := rawOf(t, s, Options{})
		bound := float64(c.step*c.step)/12*400*w*w + 1e-4 // and the rounding of values
		for h := 1; h < weather.Hours-1; h++ {
			from, to := float64(h)*3600, float64(h+1)*3600
			want := 500 - 400*(math.Cos(w*to)-math.Cos(w*from))/(w*3600)
			if !(math.Abs(r.GHI[h]-want) <= bound) {
				t.Fatalf("%d s, %d late, hour %d: %v, want %v within %v", c.step, c.late, h, r.GHI[h], want, bound)
			}
			if want := (float64(h) + 0.5) / 100; !(math.Abs(r.AirTemperature[h]-want) <= 1e-5) {
				t.Fatalf("%d s, %d late, hour %d: %v on a line at %v", c.step, c.late, h, r.AirTemperature[h], want)
			}
		}
		for _, h := range []int{0, weather.Hours - 1} { // partly outside the data
			if want := (float64(h) + 0.5) / 100; !(math.Abs(r.AirTemperature[h]-want) <= 0.5/100+1e-5) {
				t.Errorf("%d s, %d late, hour %d: %v, want %v", c.step, c.late, h, r.AirTemperature[h], want)
			}
		}
		part := int(3600 / c.step)
		if part == 1 {
			part = 0
		}
		if r.PartHours != part*weather.Hours || r.Site.ClockMin != [12]int{} {
			t.Errorf("%d s: %d records, clock %v", c.step, r.PartHours, r.Site.ClockMin)
		}
	}
}

// Instants in the middle of the hour, or of equal parts of it, stand for it.
func TestMiddleInstants(t *testing.T) {
	for _, step := range []int64{3600, 1800, 1200} {
		a := even(stamp(2015, 1, 1, 0, 0)+step/2, stamp(2016, 1, 1, 0, 0), step, false)
		a.Instant = true
		s := at(0, a, func(s int64) float64 { return float64(s / 60 % 1440) })
		r := rawOf(t, s, Options{})
		for h, x := range r.GHI {
			if want := float64(h%24*60 + 30); x != want {
				t.Fatalf("step %d, hour %d: %v, want %v", step, h, x, want)
			}
		}
	}
}

// Means whose middle is the full hour: the irradiance stands in the hour that
// begins then, 30 minutes late, which ClockMin says; the temperature is brought to
// the middle of the hour.
func TestCentredMeans(t *testing.T) {
	a := even(stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0), 3600, false)
	a.From = -1800
	r := rawOf(t, at(0, a, func(s int64) float64 { return float64(s / 3600 % 24) }), Options{})
	for h := range weather.Hours - 1 {
		warm := float64(h%24) + 0.5
		if h%24 == 23 {
			warm = 11.5
		}
		if r.GHI[h] != float64(h%24) || r.AirTemperature[h] != warm {
			t.Fatalf("hour %d: %v and %v", h, r.GHI[h], r.AirTemperature[h])
		}
	}
	if r.Site.ClockMin[0] != -30 || r.Site.ClockMin[11] != -30 {
		t.Errorf("clock %v, want -30", r.Site.ClockMin)
	}
	// Columns that no one clock serves.
	b := even(a.Stamp[0], a.Stamp[8759]+1, 3600, false)
	s := at(0, a, constant(1))
	s.DHI = filled(b, constant(1))
	if _, err := s.Raw(Options{}); err == nil || err.Error() != ": dhi_w_m2: its values are for +0 min from the middle of the hours, those of ghi_w_m2 for -30" {
		t.Errorf("two clocks: %v", err)
	}
}

// A year of means around the full hour, whose three irradiances close there, goes
// through repair with its documented half hour and nothing found to shift.
func TestCentredMeansClose(t *testing.T) {
	p := sun.NewPlace(30*sun.Degree, 20*sun.Degree) // where at puts it
	a := even(stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0), 3600, false)
	a.From = -1800
	s := at(20, a, func(s int64) float64 { return 10 + float64(s/3600%24)/10 })
	s.Independent = true
	s.GHI, s.DNI, s.DHI = filled(a, constant(0)), filled(a, constant(0)), filled(a, constant(0))
	for i, at := range a.Stamp {
		up := 0.0
		for k := range 6 {
			up += max(0, p.Sun(float64(at-1800+600*int64(k)+300)/daySeconds+epoch).Up) / 6
		}
		if up > 0.05 {
			s.DNI.Values[i], s.DHI.Values[i], s.GHI.Values[i] = 700, 80, float32(700*up+80)
		}
	}
	site, _, report, err := repair.Finish(rawOf(t, s, Options{}), repair.Closed)
	if err != nil {
		t.Fatal(err)
	}
	for m, c := range report.Clock {
		if site.ClockMin[m] != -30 || c.ShiftMin != 0 || c.Misfit > 1 || c.Hours < 30 {
			t.Errorf("month %d: %d min, %+v", m+1, site.ClockMin[m], c)
		}
	}
}

// Hours of parts have their mean, of at least half of them.
func TestParts(t *testing.T) {
	nan := math.NaN()
	a := even(stamp(2015, 1, 1, 0, 0)+900, stamp(2016, 1, 1, 0, 0)+900, 900, false)
	a.From = -900 // ends at its stamp
	s := at(0, a, func(s int64) float64 { return float64(s / 900 % 4) })
	for i, x := range []float64{nan, 5, nan, 7, nan, nan, nan, 4, nan, nan, nan, nan} {
		s.AirTemperature.Values[i] = float32(x)
	}
	r := rawOf(t, s, Options{})
	if r.GHI[100] != 1.5 || r.PartHours != 4*weather.Hours {
		t.Errorf("mean of 1, 2, 3 and 0: %v of %d", r.GHI[100], r.PartHours)
	}
	if v := r.AirTemperature; v[0] != 6 || v[1] == v[1] || v[2] == v[2] || v[3] != 1.5 {
		t.Errorf("hours with parts missing: %v", v[:4])
	}
}
