package collector

import (
	"math"

	"stillrow/simulate/sun"
)

// A Film is a plane slab with air on both sides: refractive index and the
// product of extinction coefficient and thickness.
type Film struct {
	N  float64 // refractive index, ≥ 1
	KL float64 // extinction × thickness, ≥ 0
}

// A FilmStack is a stack of films, the one facing the sun first. As an IAM it
// is the stack's transmittance over its transmittance at normal incidence.
type FilmStack []Film

// At gives the modifier at incidence angle theta.
func (f FilmStack) At(theta sun.Angle) float64 {
	return f.Transmittance(theta) / f.Transmittance(0)
}

// Transmittance gives the share of unpolarised light that passes the stack:
// multiple reflections within and between the films, the two polarisations
// carried apart through the whole stack and averaged at the end.
// Source: Duffie and Beckman, Solar Engineering of Thermal Processes, 4th ed.
// 2013, sections 5.1 to 5.3; for films in series, the adding of layers.
func (f FilmStack) Transmittance(theta sun.Angle) float64 {
	if theta.Degrees() >= 90 {
		return 0
	}
	var tau [2]float64
	for pol := range tau {
		t, back := 1.0, 0.0 // of the films so far; back: reflectance seen from below
		for _, film := range f {
			ft, fr := film.slab(theta, pol)
			between := 1 / (1 - back*fr)
			t, back = t*ft*between, fr+ft*ft*back*between
		}
		tau[pol] = t
	}
	return (tau[0] + tau[1]) / 2
}

// slab gives transmittance and reflectance for one polarisation: 0 is
// perpendicular to the plane of incidence, 1 parallel.
func (f Film) slab(theta sun.Angle, pol int) (t, r float64) {
	s, c1 := math.Sincos(float64(theta))
	s2 := s / f.N
	c2 := math.Sqrt(1 - s2*s2)
	var face float64
	if pol == 0 {
		face = (c1 - f.N*c2) / (c1 + f.N*c2)
	} else {
		face = (f.N*c1 - c2) / (f.N*c1 + c2)
	}
	face *= face
	a := math.Exp(-f.KL / c2)
	t = a * (1 - face) * (1 - face) / (1 - face*face*a*a)
	return t, face * (1 + a*t)
}
