package repair

import (
	"math"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// The day's way of the sun against package sun's own hours, which compute every
// hour afresh: 100 samples of the sunlit part stand for its mean.
func TestHourSunsAgreeWithSun(t *testing.T) {
	for _, lat := range []float64{-90, -66.5, -35, 0, 23.4, 52, 65, 69.7, 89} {
		for _, shift := range []int{-120, 0, 75} {
			s := weather.Site{Lat: lat, Lon: 17, UTCOffset: 2}
			for m := range 12 {
				s.Year[m], s.ClockMin[m] = 1990+m, shift
			}
			suns := hourSuns(&s, dayWays(&s))
			p := sun.NewPlace(sun.Angle(s.Lat)*sun.Degree, sun.Angle(s.Lon)*sun.Degree)
			var samples []sun.Vector
			for h := 0; h < weather.Hours; h += 7 {
				m, at := monthOf(h)
				jd := sun.JulianDate(s.Year[m], m+1, 1, float64(at)+float64(shift)/60-2)
				var lit float64
				var mid sun.Ephemeris
				samples, lit, mid = p.Sunlit(samples[:0], jd, 100)
				sz := 0.0
				for _, v := range samples {
					sz += v.Up / 100
				}
				got := suns[h]
				up := p.Vector(mid, p.HourAngle(mid)).Up
				e0n := sun.SolarConstant / (mid.Distance * mid.Distance)
				// Where the sun skims the horizon, 0.001° of altitude is some
				// minutes of light.
				litTolerance := 0.001
				if math.Abs(up) < 0.01 {
					litTolerance = 0.02
				}
				if math.Abs(got.sz-sz) > 5e-5 || math.Abs(got.lit-lit) > litTolerance ||
					math.Abs(got.mid-up) > 5e-5 || math.Abs(got.e0n-e0n) > 0.01 {
					t.Errorf("latitude %v, shift %d, hour %d: %+v, want sz %v lit %v mid %v e0n %v", lat, shift, h, got, sz, lit, up, e0n)
				}
			}
		}
	}
}

// monthOf gives the month, from 0, of an hour of the year and its place in it.
func monthOf(h int) (month, at int) {
	for h >= 24*weather.MonthDays[month] {
		h -= 24 * weather.MonthDays[month]
		month++
	}
	return month, h
}

func TestZoneFar(t *testing.T) {
	for _, tt := range []struct {
		lon, zone float64
		want      bool
	}{
		{-157, 14, false}, // Line Islands, a day ahead of their meridian
		{76, 8, false},    // western China by Peking time
		{114.7, -8, true}, // a forgotten minus
		{-5, 0, false},
	} {
		if got := zoneFar(&weather.Site{Lon: tt.lon, UTCOffset: tt.zone}); got != tt.want {
			t.Errorf("zone %v at %v° E: %v", tt.zone, tt.lon, got)
		}
	}
}
