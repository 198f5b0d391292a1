package series

import (
	"math"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// Means of 2, 3, 4 and 6 hours of irradiance keep their sum; the night has none.
func TestSpreadKeepsSums(t *testing.T) {
	for _, step := range []int64{2 * 3600, 3 * 3600, 4 * 3600, 6 * 3600} {
		for _, lon := range []float64{-105, 0, 77} {
			a := even(stamp(2015, 1, 1, 0, 0)-int64(math.Round(lon/15))*3600, stamp(2016, 1, 1, 0, 0)-int64(math.Round(lon/15))*3600, step, false)
			s := at(lon, a, func(s int64) float64 { return float64(s/3600%17) * 10 })
			s.DNI = filled(a, func(s int64) float64 { return float64(s / 3600 % 13) })
			s.DHI = s.DNI
			r := rawOf(t, s, Options{})
			n := int(step / 3600)
			for i, x := range s.GHI.Values {
				for _, c := range []struct {
					v    []float64
					want float32
				}{{r.GHI, x}, {r.DNI, s.DNI.Values[i]}, {r.DHI, s.DNI.Values[i]}} {
					sum := 0.0
					for _, h := range c.v[i*n:][:n] {
						sum += h
					}
					if !(math.Abs(sum-float64(n)*float64(c.want)) <= 1e-9) {
						t.Fatalf("step %d, interval %d: sum %v, want %v", step, i, sum, float64(n)*float64(c.want))
					}
				}
			}
		}
	}
}

// Hours that a clear sky shaped prove no clock.
func TestShapedHoursProveNoClock(t *testing.T) {
	for step, proves := range map[int64]bool{1800: true, 3600: true, 2 * 3600: false, 3 * 3600: false} {
		a := even(stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0), step, false)
		s := at(0, a, constant(1))
		s.DNI, s.DHI, s.Independent = s.GHI, s.GHI, true
		if r := rawOf(t, s, Options{}); r.Independent != proves {
			t.Errorf("step %d s: independent %v", step, r.Independent)
		}
	}
}

// Under an overcast sky the diffuse hours are the global ones; of a clear sky they
// are the clear sky's own, whatever tells the direct irradiance.
func TestDiffuseCourse(t *testing.T) {
	clear := newClearYear(&weather.Site{Lat: 30})
	a := even(stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0), 3*3600, false)
	of := func(part shape) Column {
		return filled(a, func(s int64) float64 { return meanOf(part, clear[(s-a.Stamp[0])/3600:][:3]) })
	}
	overcast := at(0, a, constant(0))
	overcast.GHI, overcast.DHI, overcast.DNI = of(diffuse), of(diffuse), filled(a, constant(0))
	r := rawOf(t, overcast, Options{})
	for h, x := range r.DHI {
		if !(math.Abs(x-r.GHI[h]) <= 1e-9) {
			t.Fatalf("overcast, hour %d: diffuse %v of %v", h, x, r.GHI[h])
		}
	}
	for _, by := range []string{"global", "direct", "normal"} {
		s := &Series{Site: weather.Site{Lat: 30}, AirTemperature: of(normal), DHI: of(diffuse)}
		switch by {
		case "global":
			s.GHI = of((*clearHour).global)
		case "direct":
			s.DirectHorizontal = of(beam)
		case "normal":
			s.DNI = of(normal)
		}
		r := rawOf(t, s, Options{})
		for h, x := range r.DHI {
			if !(math.Abs(x-clear[h].diffuse) <= 1e-3) {
				t.Fatalf("clear, by %s, hour %d: diffuse %v, want %v", by, h, x, clear[h].diffuse)
			}
		}
	}
}

// Three hours that begin off the hour cannot become hours; nor can instants
// three hours apart say what came between.
func TestSpreadErrors(t *testing.T) {
	a := even(stamp(2015, 1, 1, 0, 0)+600, stamp(2016, 1, 1, 0, 0), 3*3600, false)
	if _, err := at(0, a, constant(1)).Raw(Options{}); err == nil || !strings.Contains(err.Error(), "begin 10 min past the hour") {
		t.Errorf("10 minutes late: %v", err)
	}
	a.Instant = true
	if _, err := at(0, a, constant(1)).Raw(Options{}); err == nil || !strings.Contains(err.Error(), "instants 3h0m0s apart") {
		t.Errorf("instants: %v", err)
	}
}

// The share of a day's global irradiation in an hour by Collares-Pereira and
// Rabl 1979, Solar Energy 22, 155–164 (Duffie and Beckman, eq. 2.13.1 and 2.13.2),
// with hour angles in degrees. Summed to three hours and brought back, a mean day
// of measured climates keeps its course: the clear sky's lies beside it.
func TestSpreadAgainstMeanDay(t *testing.T) {
	const deg = math.Pi / 180
	rt := func(w, ws float64) float64 {
		if math.Abs(w) >= ws {
			return 0
		}
		a, b := 0.409+0.5016*math.Sin((ws-60)*deg), 0.6609-0.4767*math.Sin((ws-60)*deg)
		return math.Pi / 24 * (a + b*math.Cos(w*deg)) * (math.Cos(w*deg) - math.Cos(ws*deg)) /
			(math.Sin(ws*deg) - ws*deg*math.Cos(ws*deg))
	}
	if got := rt(7.5, 107.4); math.Abs(rt(-52.5, 107.4)-0.076) > 0.0005 || got < 0.1 { // example 2.13.1, Melbourne, 8 to 9 h
		t.Fatalf("r_t of example 2.13.1: %v", rt(-52.5, 107.4))
	}
	for _, lat := range []float64{0, 25, 45, -38} {
		// Declination by Cooper 1969.
		clear := newClearYear(&weather.Site{Lat: lat})
		for _, day := range []int{105, 166, 243, 359} { // where the equation of time is near 0
			declination := 23.45 * math.Sin(360*(284+float64(day))/365*deg)
			ws := math.Acos(-math.Tan(lat*deg)*math.Tan(declination*deg)) / deg
			for block := range 8 {
				mean, sum := 0.0, 0.0
				for h := 3 * block; h < 3*block+3; h++ {
					mean += rt(15*(float64(h)+0.5)-180, ws)
					sum += clear[24*(day-1)+h].global()
				}
				for h := 3 * block; h < 3*block+3; h++ {
					if sum == 0 {
						continue
					}
					got, want := mean*clear[24*(day-1)+h].global()/sum, rt(15*(float64(h)+0.5)-180, ws)
					if math.Abs(got-want) > 0.006 {
						t.Errorf("lat %v day %d hour %d: %.4f of the day, want %.4f", lat, day, h, got, want)
					}
				}
			}
		}
	}
}

// Temperatures three hours apart lie on straight lines, whether they are
// instants or means; a missing one leaves a gap no longer than it must.
func TestBetween(t *testing.T) {
	start, end := stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0)
	sun := even(start, end, 3600, false)
	line := func(late float64) func(int64) float64 {
		return func(s int64) float64 { return (float64(s-start)/3600 + late) / 100 }
	}
	for _, c := range []struct {
		name    string
		from    int64
		instant bool
		late    float64 // h from the stamp to what the value stands for
	}{{"instants", 0, true, 0}, {"beginning", 0, false, 1.5}, {"centred", -5400, false, 0}, {"ending", -3 * 3600, false, -1.5}} {
		a := even(start, end, 3*3600, false)
		a.From, a.Instant = c.from, c.instant
		s := at(0, sun, constant(1))
		s.AirTemperature = filled(a, line(c.late))
		s.Wind = filled(a, constant(2))
		s.Wind.Values[100] = float32(math.NaN())
		r := rawOf(t, s, Options{})
		for h := 6; h < weather.Hours-6; h++ {
			if want := (float64(h) + 0.5) / 100; !(math.Abs(r.AirTemperature[h]-want) <= 1e-5) {
				t.Fatalf("%s, hour %d: %v, want %v", c.name, h, r.AirTemperature[h], want)
			}
		}
		missing := 0
		for _, x := range r.Wind {
			if x != x {
				missing++
			}
		}
		if missing < 2 || missing > 3 {
			t.Errorf("%s: %d hours lack for one value of three", c.name, missing)
		}
		for h, x := range r.AirTemperature {
			if x != x {
				t.Errorf("%s: hour %d is missing", c.name, h)
			}
		}
	}
}
