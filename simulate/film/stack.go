// Package film computes a receiver from the films it is made of: what light
// reaches its water, what heat leaves it layer by layer, and the coefficients
// of the quasi-dynamic collector test that come nearest to that loss.
//
// A Stack is read from the sky down: clear films, each but the last over an
// air gap; the last clear film lies on the water, for a free surface would
// evaporate and fog the film above it; then water, the black film, foam, and
// ground. Layers are plane, horizontal unless said otherwise, and endless.
//
// The model holds these things true, and its results no better than they are:
//
//   - The water, the clear film on it, the black film and the top of the foam
//     share one temperature.
//   - Films are grey and diffuse in the long wave: one transmittance, one
//     reflectance, the rest is emittance.
//   - Wind cools the top as h = 2.8 + 3.0·V. Other published laws differ by a
//     third, more than any other uncertainty here.
//   - The ground under the foam is as warm as the air.
//   - All light that enters the water ends in the water, in the black film, or
//     leaves again after diffuse reflection by the black film. How deep it gets
//     does not matter, because water and film share a temperature. Light
//     absorbed by the clear film on the water heats the water; light absorbed
//     by a film over an air gap counts as lost, which is conservative.
//
// Temperatures are in °C, heat and irradiance in W/m², lengths in m, unless a
// comment says otherwise. Long wave is thermal radiation, about 4 to 50 µm.
package film

import (
	"errors"
	"fmt"
)

// A Clear is a transparent film.
type Clear struct {
	Name          string
	N             float64 // refractive index in sunlight, 1…3
	KL            float64 // extinction × thickness in sunlight, ≥ 0
	Transmittance float64 // long wave, 0…1
	Reflectance   float64 // long wave, 0…0.99; the emittance is the rest
	Gap           float64 // m of air under the film; 0: it lies on the water
	HeatCapacity  float64 // J/m²K
	Softening     float64 // °C; NaN: not stated
}

// Emittance gives the long-wave emittance.
func (c Clear) Emittance() float64 { return 1 - c.Transmittance - c.Reflectance }

// A Black is the film under the water that takes up the light.
type Black struct {
	Name         string
	Absorptance  float64 // of sunlight, 0…1
	Emittance    float64 // long wave, 0…1; it counts only in a dry receiver
	HeatCapacity float64 // J/m²K
	Softening    float64 // °C; NaN: not stated
}

// A Foam is the insulation between black film and ground.
type Foam struct {
	Name         string
	Thickness    float64 // m, above 0
	Conductivity float64 // W/mK; 0: no heat is lost to the ground
	HeatCapacity float64 // J/m³K
	Limit        float64 // °C it bears for long; NaN: not stated
}

// A Stack is a receiver from the sky down.
type Stack struct {
	Name        string
	Clear       []Clear // the film facing the sky first, the last one on the water
	Cleanliness float64 // factor on the light entering, for dust and ageing, 0…1
	WaterDepth  float64 // m
	Black       Black
	Foam        Foam
	Slope       float64 // degrees, of all layers; 0 on level ground, at most 60
}

// Validate names the first layer and value out of range.
func (s *Stack) Validate() error {
	if len(s.Clear) == 0 {
		return errors.New("no clear film: want at least the one on the water")
	}
	type check struct {
		name      string
		v, lo, hi float64
	}
	checks := []check{
		{"cleanliness", s.Cleanliness, 0, 1},
		{"water depth", s.WaterDepth, 0, 2},
		{"slope", s.Slope, 0, 60},
		{"black film: absorptance", s.Black.Absorptance, 0, 1},
		{"black film: emittance", s.Black.Emittance, 0, 1},
		{"black film: heat capacity", s.Black.HeatCapacity, 0, 1e6},
		{"foam: thickness", s.Foam.Thickness, 1e-4, 2},
		{"foam: conductivity", s.Foam.Conductivity, 0, 10},
		{"foam: heat capacity", s.Foam.HeatCapacity, 0, 1e7},
	}
	for i, c := range s.Clear {
		film := func(field string) string { return fmt.Sprintf("clear film %d: %s", i+1, field) }
		gap := check{film("air gap"), c.Gap, 1e-3, 1}
		if i == len(s.Clear)-1 {
			gap = check{film("air gap over the water"), c.Gap, 0, 0}
		}
		checks = append(checks, gap,
			check{film("refractive index"), c.N, 1, 3},
			check{film("extinction × thickness"), c.KL, 0, 10},
			check{film("long-wave transmittance"), c.Transmittance, 0, 1},
			check{film("long-wave reflectance"), c.Reflectance, 0, 0.99}, // two perfect mirrors would trap any radiation
			check{film("long-wave transmittance + reflectance"), c.Transmittance + c.Reflectance, 0, 1},
			check{film("heat capacity"), c.HeatCapacity, 0, 1e6})
	}
	for _, c := range checks {
		if !(c.v >= c.lo && c.v <= c.hi) { // NaN lands here too
			return fmt.Errorf("%s = %g, want %g to %g", c.name, c.v, c.lo, c.hi)
		}
	}
	return nil
}

// heatCapacity gives c5, J/m²K: the films, and half of the foam, whose
// temperature falls linearly from the black film's to the ground's.
func (s *Stack) heatCapacity() float64 {
	c := s.Black.HeatCapacity + s.Foam.HeatCapacity*s.Foam.Thickness/2
	for _, f := range s.Clear {
		c += f.HeatCapacity
	}
	return c
}
