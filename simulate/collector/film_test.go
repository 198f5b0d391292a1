package collector

import (
	"math"
	"testing"

	"stillrow/simulate/sun"
)

// Fresnel slabs worked separately to four digits; the diffuse values are their
// cosine-weighted means over the hemisphere.
func TestFilmStackTransmittance(t *testing.T) {
	deg := []float64{0, 30, 45, 60, 70, 80}
	for _, tt := range []struct {
		name    string
		stack   FilmStack
		want    [6]float64
		diffuse float64 // NaN: not worked
	}{
		{"glass, KL 0.0125", FilmStack{{1.526, .0125}}, [6]float64{.9054, .9024, .8884, .8290, .7113, .4454}, .8328},
		{"polyethylene, KL 0", FilmStack{{1.50, 0}}, [6]float64{.9231, .9207, .9073, .8481, .7287, .4585}, .8509},
		{"polyethylene, KL 0.02", FilmStack{{1.50, .02}}, [6]float64{.9047, .9013, .8868, .8271, .7089, .4425}, math.NaN()},
		{"ETFE", FilmStack{{1.40, 0}}, [6]float64{.9459, .9438, .9313, .8734, .7531, .4756}, math.NaN()},
		{"FEP", FilmStack{{1.34, 0}}, [6]float64{.9586, .9567, .9453, .8904, .7722, .4913}, math.NaN()},
	} {
		for i, d := range deg {
			if got := tt.stack.Transmittance(sun.Angle(d) * sun.Degree); math.Abs(got-tt.want[i]) > 6e-5 {
				t.Errorf("%s: transmittance at %g° = %.5f, want %.4f", tt.name, d, got, tt.want[i])
			}
		}
		got := Diffuse(tt.stack) * tt.stack.Transmittance(0)
		if !math.IsNaN(tt.diffuse) && math.Abs(got-tt.diffuse) > 6e-5 {
			t.Errorf("%s: diffuse transmittance = %.5f, want %.4f", tt.name, got, tt.diffuse)
		}
		if k := tt.stack.At(0); k != 1 {
			t.Errorf("%s: modifier at 0° = %v, want 1", tt.name, k)
		}
		if k := tt.stack.At(90 * sun.Degree); k != 0 {
			t.Errorf("%s: modifier at 90° = %v, want 0", tt.name, k)
		}
	}
}

// Duffie and Beckman 2013, example 5.1.1: glass of index 1.526 reflects 0.0434
// at a face at normal incidence and 0.093 at 60°.
func TestFaceReflectance(t *testing.T) {
	endless := Film{N: 1.526, KL: math.Inf(1)} // nothing comes back from the far face
	for _, tt := range []struct{ deg, want, tolerance float64 }{{0, .0434, 5e-5}, {60, .0935, 6e-5}} {
		var mean float64
		for pol := range 2 {
			_, r := endless.slab(sun.Angle(tt.deg)*sun.Degree, pol)
			mean += r / 2
		}
		if math.Abs(mean-tt.want) > tt.tolerance {
			t.Errorf("reflectance at %g° = %.5f, want %.4f", tt.deg, mean, tt.want)
		}
	}
}

// Duffie and Beckman 2013, examples 5.2.1 and 5.3.1: glass 2.3 mm thick with
// 32 m⁻¹ extinction at 60°.
func TestGlassCover(t *testing.T) {
	glass := Film{N: 1.526, KL: .0023 * 32}
	var tau, rho [2]float64
	for pol := range tau {
		tau[pol], rho[pol] = glass.slab(60*sun.Degree, pol)
	}
	transmittance, reflectance := (tau[0]+tau[1])/2, (rho[0]+rho[1])/2
	for _, c := range []struct {
		name                 string
		got, want, tolerance float64
	}{
		{"transmittance, perpendicular", tau[0], .6247, 6e-5},
		{"transmittance, parallel", tau[1], .9118, 6e-5},
		{"transmittance", transmittance, .768, 6e-4},
		{"reflectance", reflectance, .147, 6e-4},
		{"absorptance", 1 - transmittance - reflectance, .085, 6e-4},
	} {
		if math.Abs(c.got-c.want) > c.tolerance {
			t.Errorf("%s = %.5f, want %g", c.name, c.got, c.want)
		}
	}
}

// Two lossless films: 1/T − 1 adds up over the four faces, for each
// polarisation. Source: Stokes 1862, Proc. R. Soc. Lond. 11, 545–556, from
// memory. A mean taken film by film would give 0.736 where this gives 0.766.
func TestPolarisationsStayApart(t *testing.T) {
	film := Film{N: 1.5}
	var want float64
	for pol := range 2 {
		_, r := Film{N: 1.5, KL: math.Inf(1)}.slab(60*sun.Degree, pol)
		want += 1 / (1 + 4*r/(1-r)) / 2
	}
	if got := (FilmStack{film, film}).Transmittance(60 * sun.Degree); math.Abs(got-want) > 1e-12 {
		t.Errorf("transmittance of two films at 60° = %.6f, want %.6f", got, want)
	}
}
