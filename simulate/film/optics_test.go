package film

import (
	"math"
	"testing"

	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

// onWater is a stack of clear films, all but the last over 50 mm of air.
func onWater(films ...Clear) *Stack {
	s := &Stack{
		Clear: films, Cleanliness: 1, WaterDepth: 0.05,
		Black: Black{Absorptance: 1, Emittance: 0.95},
		Foam:  Foam{Thickness: 0.05},
	}
	for i := range films[:len(films)-1] {
		if films[i].Gap == 0 {
			films[i].Gap = 0.05
		}
	}
	return s
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s = %.6g, want %.6g ± %g", what, got, want, tolerance)
	}
}

// Fresnel's formulas worked separately for a lossless film of index 1.50 on
// water of 1.333, four digits; the diffuse value is their cosine-weighted mean.
func TestFilmOnWater(t *testing.T) {
	s := onWater(Clear{N: 1.5})
	for _, tt := range []struct{ deg, want float64 }{
		{0, .9568}, {30, .9552}, {45, .9465}, {60, .9075}, {70, .8261}, {80, .6109}, {90, 0},
	} {
		near(t, "transmittance", s.Transmittance(sun.Angle(tt.deg)*sun.Degree), tt.want, 6e-5)
	}
	near(t, "diffuse transmittance", collector.Diffuse(transmittance{s}), .9051, 6e-5)

	o := s.optics()
	near(t, "Kb(0)", o.At(0), 1, 0)
	near(t, "Kb(60)", o.At(60*sun.Degree), .9075/.9568, 1e-4)
	near(t, "Kd", collector.Diffuse(o), .9051/.9568, 1e-4)
}

// With air below, a film is collector.Film, which its own tests hold to the
// textbook.
func TestFilmInAir(t *testing.T) {
	c := Clear{N: 1.526, KL: 0.0736}
	for _, deg := range []float64{0, 20, 60, 85} {
		theta := sun.Angle(deg) * sun.Degree
		var mean float64
		for _, pol := range []polarisation{perpendicular, parallel} {
			ft, top, bottom := c.slab(math.Sin(float64(theta)), pol, airIndex)
			mean += ft / 2
			near(t, "reflectance from below", bottom, top, 1e-15)
		}
		near(t, "transmittance", mean, collector.FilmStack{{N: c.N, KL: c.KL}}.Transmittance(theta), 1e-14)
	}
}

// Any number of lossless faces passes T with 1/T − 1 = Σ r/(1−r), for each
// polarisation. Source: Stokes 1862, Proc. R. Soc. Lond. 11, 545–556 (piles of
// plates), from memory.
func TestPileOfPlates(t *testing.T) {
	s := onWater(Clear{N: 1.4}, Clear{N: 1.5}, Clear{N: 1.6})
	faces := [][2]float64{{1, 1.4}, {1.4, 1}, {1, 1.5}, {1.5, 1}, {1, 1.6}, {1.6, 1.333}}
	for _, deg := range []float64{0.001, 40, 60, 80} {
		var want float64
		for pol := range 2 {
			var sum float64
			for _, f := range faces {
				a := math.Asin(math.Sin(deg*math.Pi/180) / f[0])
				b := math.Asin(math.Sin(deg*math.Pi/180) / f[1])
				r := math.Pow(math.Sin(b-a)/math.Sin(b+a), 2)
				if pol == 1 {
					r = math.Pow(math.Tan(b-a)/math.Tan(b+a), 2)
				}
				sum += r / (1 - r)
			}
			want += 1 / (1 + sum) / 2
		}
		near(t, "transmittance", s.Transmittance(sun.Angle(deg)*sun.Degree), want, 1e-7)
	}
}

// A film of water's own index has one reflecting face, and Beer's law divides
// the rest between film and water.
func TestLightAbsorbedOnWater(t *testing.T) {
	s := onWater(Clear{N: waterIndex, KL: 0.1})
	into, absorbed := s.light(0)
	r := math.Pow(0.333/2.333, 2)
	near(t, "into the water", into, (1-r)*math.Exp(-0.1), 1e-12)
	near(t, "absorbed", absorbed, (1-r)*(1-math.Exp(-0.1)), 1e-12)
}

// A plane water surface reflects 0.066 of a uniform sky and so, by the square
// of the index, lets out (1−0.066)/1.333² of diffuse light from below: handbook
// value of ocean optics, from memory.
func TestLightKeptInWater(t *testing.T) {
	s := onWater(Clear{N: waterIndex})
	s.Black.Absorptance = 0.9
	escape := (1 - 0.066) / (1.333 * 1.333)
	near(t, "share kept", s.optics().kept, 0.9/(1-0.1*(1-escape)), 1e-4)
	s.Black.Absorptance = 1
	near(t, "share kept by a perfect black", s.optics().kept, 1, 0)
}
