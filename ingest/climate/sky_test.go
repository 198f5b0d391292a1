package climate

import (
	"math"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// Daily extraterrestrial radiation on the horizontal, MJ/m², on the mean days of
// the months, from the declination, distance and solar constant (1367 W/m²) of
// Duffie and Beckman 2013, worked out apart from this code; 33.8 on 15 April at
// 43° is their example 1.10.1.
func TestDayAboveAir(t *testing.T) {
	check := func(lat, n, want float64) {
		t.Helper()
		e := sun.Ephemeris{
			Declination: sun.Angle(23.45*math.Sin(2*math.Pi*(284+n)/365)) * sun.Degree,
			Distance:    1 / math.Sqrt(1+0.033*math.Cos(2*math.Pi*n/365)),
		}
		got := dayAboveAir(sun.Angle(lat)*sun.Degree, e) * 0.0864 * 1367 / sun.SolarConstant
		if math.Abs(got-want) > 0.0501 {
			t.Errorf("latitude %v, day %v: %.3f MJ/m², want %.1f", lat, n, got, want)
		}
	}
	check(43, 105, 33.8)
	meanDay := [12]float64{17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344} // Klein 1977
	for lat, months := range map[float64][12]float64{
		0:   {36.2, 37.5, 37.9, 36.8, 34.8, 33.5, 33.9, 35.7, 37.2, 37.4, 36.4, 35.7},
		30:  {21.3, 26.0, 31.6, 36.8, 40.0, 41.1, 40.5, 37.9, 33.4, 27.6, 22.3, 19.9},
		40:  {15.2, 20.5, 27.4, 34.6, 39.7, 41.8, 40.7, 36.5, 30.0, 22.5, 16.4, 13.8},
		60:  {3.4, 8.5, 16.8, 27.5, 36.6, 41.0, 38.9, 31.0, 20.6, 10.9, 4.5, 2.3},
		-30: {43.0, 39.5, 34.1, 27.2, 21.4, 18.7, 19.8, 24.5, 31.1, 37.5, 41.9, 43.7},
	} {
		for m, want := range months {
			check(lat, meanDay[m], want)
		}
	}
	for _, tt := range []struct{ lat, declination, want float64 }{
		{80, -20, 0}, // polar night
		{-80, 20, 0}, // and the other pole's
		{90, 23.45, sun.SolarConstant * math.Sin(23.45*math.Pi/180)}, // the sun circles at its declination
	} {
		e := sun.Ephemeris{Declination: sun.Angle(tt.declination) * sun.Degree, Distance: 1}
		if got := dayAboveAir(sun.Angle(tt.lat)*sun.Degree, e); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("latitude %v, declination %v: %v W/m², want %v", tt.lat, tt.declination, got, tt.want)
		}
	}
}

// The hours' irradiance above the air adds up to the months', which come from
// another formula.
func TestSkyAgreesWithMonths(t *testing.T) {
	for _, lat := range []float64{-89, -66.5, -33.9, 0, 28.25, 45.75, 71, 90} {
		s := newSuns(lat, 3, 0)
		at := 0
		for m, want := range aboveAir(lat) {
			var sum float64
			n := 24 * weather.MonthDays[m]
			for _, hour := range s[at : at+n] {
				sum += hour.horizontal()
			}
			at += n
			if got := sum / float64(n); math.Abs(got-want) > 0.01*want+0.3 {
				t.Errorf("latitude %v, month %d: hours give %.2f W/m², the month %.2f", lat, m+1, got, want)
			}
		}
	}
}
