package sun

import (
	"math"
	"math/rand/v2"
	"testing"
)

const samples = 6

// holdToDirect compares an hour by the almanac with the same hour worked out
// directly, and gives the largest angle between their samples, degrees.
func holdToDirect(t *testing.T, a *Almanac, lat, lon float64, year int, jd float64) float64 {
	t.Helper()
	p := NewPlace(Angle(lat)*Degree, Angle(lon)*Degree)
	want, wantFraction, e := p.Sunlit(nil, jd, samples)
	got, fraction, distance := a.Year(year).Sunlit(p, nil, jd)
	if math.Abs(distance-e.Distance) > 1e-11 {
		t.Errorf("lat %g lon %g, %.4f: distance %.14f, want %.14f", lat, lon, jd, distance, e.Distance)
	}
	if math.Abs(fraction-wantFraction) > 1e-7 || len(got) != len(want) && max(fraction, wantFraction) > 1e-7 {
		t.Errorf("lat %g lon %g, %.4f: %d samples of a sunlit part %.9f, want %d of %.9f", lat, lon, jd, len(got), fraction, len(want), wantFraction)
	}
	if len(got) != len(want) {
		return 0
	}
	worst := 0.0
	for i, v := range got {
		w := want[i]
		apart := math.Hypot(math.Hypot(v.Equator-w.Equator, v.West-w.West), v.Up-w.Up)
		worst = max(worst, Angle(apart).Degrees())
	}
	return worst
}

// The almanac's hours are those worked out directly: random places and hours of
// 1950 to 2050 that come in any order, and the circles where the sun just rises.
func TestAlmanac(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	a := NewAlmanac(samples)
	var worst, worstCut float64
	var dark, cut, full int
	for i := range 40000 {
		lat := Angle(math.Asin(2*r.Float64() - 1)).Degrees()
		switch i % 4 {
		case 0:
			lat = math.Copysign(66.56+r.NormFloat64(), lat)
		case 1:
			lat = math.Copysign(90-3*r.Float64(), lat)
		}
		year := 1950 + r.IntN(101)
		jd := JulianDate(year, 1, 1, 0) + 365*r.Float64()
		if i%3 > 0 { // whole hours and halves, as clocks have them
			jd = JulianDate(year, 1, 1, float64(r.IntN(2*8760)-24)/2)
		}
		lon := 360*r.Float64() - 180
		off := holdToDirect(t, a, lat, lon, year, jd)
		switch _, f, _ := a.Year(year).Sunlit(NewPlace(Angle(lat)*Degree, Angle(lon)*Degree), nil, jd); f {
		case 0:
			dark++
		case 1:
			full++
			worst = max(worst, off)
		default:
			cut++
			worstCut = max(worstCut, off)
		}
	}
	t.Logf("largest deviation %.2g° in %d sunlit hours, %.2g° in %d cut ones; %d dark", worst, full, worstCut, cut, dark)
	// Where the sun grazes the horizon along its path, rounding moves the moment
	// it rises.
	if worst > 2e-9 || worstCut > 1e-7 {
		t.Errorf("off by %.2g°, in cut hours %.2g°; want at most 2e-9° and 1e-7°", worst, worstCut)
	}
	if min(dark, cut, full) < 1000 {
		t.Errorf("%d dark, %d cut and %d sunlit hours, want some of each", dark, cut, full)
	}
}

// Beyond the days it has, a year goes on as worked out directly.
func TestAlmanacBeyondYear(t *testing.T) {
	a := NewAlmanac(samples)
	for _, days := range []float64{-400, -4, -3, -2.9, -2.7, -1, 366, 367, 368.6, 368.8, 369, 370, 800} {
		for hour := range 24 {
			if off := holdToDirect(t, a, 40, 100, 2012, JulianDate(2012, 1, 1, float64(hour))+days); off > 1e-8 {
				t.Errorf("day %g, hour %d: %.2g° off", days, hour, off)
			}
		}
	}
}

func BenchmarkSunlit(b *testing.B) {
	p := NewPlace(40*Degree, 10*Degree)
	start := JulianDate(2011, 1, 1, 0)
	var buf [samples]Vector
	b.Run("direct", func(b *testing.B) {
		for i := range b.N {
			p.Sunlit(buf[:0], start+float64(i%8760)/24, samples)
		}
	})
	b.Run("almanac", func(b *testing.B) {
		y := NewAlmanac(samples).Year(2011)
		for i := range b.N {
			y.Sunlit(p, buf[:0], start+float64(i%8760)/24)
		}
	})
}
