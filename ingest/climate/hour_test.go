package climate

import (
	"fmt"
	"math"
	"testing"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// Values worked out apart from this code from the formulas of Aguiar and
// Collares-Pereira 1992, to the digits shown.
func TestDayModel(t *testing.T) {
	const half = 0.00005
	m := newDayModel(0.5)
	sin30, sin60 := 0.5, math.Sqrt(3)/2
	clear := newDayModel(0.7)
	for _, tt := range []struct {
		name      string
		got, want float64
	}{
		{"λ(0.5)", m.lambda, 0.3744},
		{"ε(0.5)", m.epsilon, 0.3200},
		{"κ(0.5)", m.kappa, 0.44375},
		{"A(0.5)", m.a, 0.0893},
		{"B(0.5)", m.b, 0.5075},
		{"φ(0.5)", m.phi, 0.4017},
		{"mean(0.5, 30°)", m.mean(sin30), 0.5061},
		{"deviation(0.5, 30°)", m.deviation(sin30), 0.1151},
		{"mean(0.5, 60°)", m.mean(sin60), 0.5661},
		{"deviation(0.5, 60°)", m.deviation(sin60), 0.0955},
		{"mean(0.7, 60°)", clear.mean(sin60), 0.7487},
		{"deviation(0.7, 60°)", clear.deviation(sin60), 0.0178},
	} {
		if math.Abs(tt.got-tt.want) > half {
			t.Errorf("%s: %.5f, want %.5f", tt.name, tt.got, tt.want)
		}
	}
}

func TestClearLimit(t *testing.T) {
	for _, tt := range []struct{ solarHour, want float64 }{
		{12.5, 0.88},
		{7, 0.88 * math.Cos(math.Pi*5.5/30)},
		{18, 0.88 * math.Cos(math.Pi*5.5/30)},
	} {
		// Solar hour t runs from t−1 to t o'clock; its middle has this hour angle.
		angle := sun.Angle(tt.solarHour-0.5-12) * 15 * sun.Degree
		if got := clearLimit(angle); math.Abs(got-tt.want) > 1e-12 {
			t.Errorf("solar hour %v: %v, want %v", tt.solarHour, got, tt.want)
		}
	}
}

// meanCell is a place on its zone's meridian with the same clearness all year.
func meanCell(id string, lat, clearness float64) *Cell {
	c := &Cell{ID: id, Lat: lat, Lon: -45}
	for m, above := range aboveAir(lat) {
		c.GHI[m] = above * clearness
		c.AirTemperature[m] = 12
		c.Wind[m], c.RelHumidity[m] = math.NaN(), math.NaN()
	}
	return c
}

// The mean day of June against r_t, the share of a day's radiation in an hour.
// Source: Collares-Pereira and Rabl 1979, "The average distribution of solar
// radiation", Solar Energy 22, 155–164. Theirs is a long-term mean for all
// climates, so 6 % of the noon value is the agreement to expect.
func TestHoursOfTheMeanDay(t *testing.T) {
	const june, fromDay, lat = 5, 151, 40.0
	share := make([]float64, 24)
	var sum float64
	for i := range 30 {
		raw := meanCell(fmt.Sprint(i), lat, 0.5).Raw()
		for h := range 24 * weather.MonthDays[june] {
			v := raw.GHI[24*fromDay+h]
			share[h%24] += v
			sum += v
		}
	}
	// Mid June: declination 23.1°, equation of time under a minute.
	sunset := math.Acos(-math.Tan(lat*math.Pi/180) * math.Tan(23.1*math.Pi/180))
	a := 0.409 + 0.5016*math.Sin(sunset-math.Pi/3)
	b := 0.6609 - 0.4767*math.Sin(sunset-math.Pi/3)
	rt := func(w float64) float64 {
		return math.Pi / 24 * (a + b*math.Cos(w)) * (math.Cos(w) - math.Cos(sunset)) /
			(math.Sin(sunset) - sunset*math.Cos(sunset))
	}
	for h := range share {
		w := (float64(h) + 0.5 - 12) * math.Pi / 12
		want := 0.0
		if math.Abs(w) < sunset {
			want = rt(w)
		}
		if got := share[h] / sum; math.Abs(got-want) > 0.06*rt(0) {
			t.Errorf("%d h: share %.4f, want %.4f", h, got, want)
		}
	}
}

// The diffuse share of days of one clearness against the daily correlation of
// the paper the hourly one comes from (Erbs, Klein and Duffie 1982), which was
// fitted to other numbers: it holds the spread of the hours within a day, since
// hours without spread would give less. For sunset hour angles above 81.4°,
// which 15° N has all year. Above 0.72 the paper's share stays at 0.175.
func TestDiffuseOfDays(t *testing.T) {
	s := newSuns(15, -45, -3)
	r := newDraw(&Cell{ID: "d"})
	for _, day := range []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7} {
		var diffuse, global float64
		var k [24]float64
		for range 5 {
			for at := 0; at < len(s); at += 24 {
				today := s[at : at+24]
				hours(r, k[:], today, day)
				for h := range today {
					g := k[h] * today[h].horizontal()
					global += g
					diffuse += g * sky.Erbs(k[h])
				}
			}
		}
		want := 1 + 0.2832*day - 2.5557*day*day + 0.8448*day*day*day
		if got := diffuse / global; math.Abs(got-want) > 0.03 {
			t.Errorf("days of clearness %v: diffuse share %.3f, want %.3f", day, got, want)
		}
	}
}
