package collector

import (
	"fmt"
	"math"
)

// A Mirror is the reflecting film: how much it reflects and how straight.
type Mirror struct {
	Reflectance   float64 // specular, clean, 0…1
	Cleanliness   float64 // factor on it, 0…1
	SlopeError    float64 // standard deviation of the surface's slope, mrad
	Scatter       float64 // standard deviation of the scattered beam, mrad
	UVReflectance float64 // in the ultraviolet, 0…1
	WindLimit     float64 // m/s, above which the mirror must be lowered; NaN: not stated
}

// A Ground is what surrounds the rows.
type Ground struct {
	Albedo     float64 // 0…1
	FieldDepth float64 // m equatorward of the receiver within which reflected beams stay on the owner's land; NaN: not stated
}

// sunSpread is the standard deviation, in one axis, of a uniform disc of
// 4.65 mrad half-angle: the sun.
const sunSpread = 2.33

// Rho gives the mirror's reflectance as it stands in the field.
func (m Mirror) Rho() float64 { return m.Reflectance * m.Cleanliness }

// Spread gives the standard deviation, rad, of the reflected beam in the
// section plane: the sun's disc, twice the slope error and the scatter.
func (m Mirror) Spread() float64 {
	return 1e-3 * math.Sqrt(sunSpread*sunSpread+4*m.SlopeError*m.SlopeError+m.Scatter*m.Scatter)
}

// Validate names the first field out of range as the study file spells it.
func (m Mirror) Validate() error {
	for _, c := range []struct {
		name string
		v    float64
		hi   float64
	}{
		{"reflectance", m.Reflectance, 1}, {"cleanliness", m.Cleanliness, 1},
		{"slope_error_mrad", m.SlopeError, 200}, {"scatter_mrad", m.Scatter, 200},
		{"uv_reflectance", m.UVReflectance, 1},
	} {
		if !(c.v >= 0 && c.v <= c.hi) {
			return fmt.Errorf("%s = %g, want 0 to %g", c.name, c.v, c.hi)
		}
	}
	return nil
}

// Validate names the first field out of range as the study file spells it.
func (g Ground) Validate() error {
	if !(g.Albedo >= 0 && g.Albedo <= 1) {
		return fmt.Errorf("albedo = %g, want 0 to 1", g.Albedo)
	}
	return nil
}
