package day

import (
	"math"
	"testing"

	"stillrow/simulate/sun"
)

// The sun of package sun at the solstices and the equinox, 0.003° at most in the
// day and 0.006° three hours beyond.
func TestWayFollowsSun(t *testing.T) {
	for _, place := range [][2]float64{{64.8, -147.9}, {-33.9, 151.2}, {0, 179.9}, {78, 15}} {
		p := sun.NewPlace(sun.Angle(place[0])*sun.Degree, sun.Angle(place[1])*sun.Degree)
		zone := math.Round(place[1] / 15)
		walk := NewWalk(place[0], place[1])
		for _, month := range []int{3, 6, 12} {
			for date := 20; date <= 22; date++ {
				start := sun.JulianDate(1987, month, date, -zone)
				way := walk.Day(start)
				const step = 1.0 / 48
				var up [60]float64
				way.Up(-6*step, step, up[:])
				for i, got := range up {
					at := float64(i-6) * step
					want := max(0, p.Sun(start+at).Up)
					bound := 5e-5
					if at < 0 || at > 1 {
						bound = 1e-4
					}
					if math.Abs(got-want) > bound {
						t.Errorf("%v, month %d, %.2f days: %v, want %v", place, month, at, got, want)
					}
					if a, b, w := way.At(at); math.Abs(max(0, a+b*math.Cos(w))-got) > 1e-12 {
						t.Errorf("%v, month %d, %.2f days: %v by the circle", place, month, at, a+b*math.Cos(w))
					}
				}
				noon := sun.At(start + 0.5)
				if got, want := way.E0n(0.5), sun.SolarConstant/(noon.Distance*noon.Distance); math.Abs(got-want) > 0.01 {
					t.Errorf("month %d: %v W/m² outside, want %v", month, got, want)
				}
			}
		}
	}
}
