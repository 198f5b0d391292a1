package fit

import (
	"fmt"
	"math"
)

// The labels a point's Set may carry beside none.
const (
	Plain  = "plain"  // the receiver without its mirror
	Mirror = "mirror" // with it; irradiance is still that without it
)

// A Point is one steady state of the receiver, the mean over the minutes it was
// held.
type Point struct {
	File string // where it was read, for messages
	Line int
	Time string // as written, may be empty
	Set  string // Plain, Mirror, or empty where there is but one

	Beam, Diffuse  float64 // on the receiver plane, without the mirror, W/m²
	Incidence      float64 // of the beam on that plane, degrees
	AirTemperature float64 // °C
	WindSpeed      float64 // at the receiver, m/s
	Inlet, Outlet  float64 // water, °C
	MassFlow       float64 // water, kg/s
	Area           float64 // receiver, m²
	SkyInfrared    float64 // on the receiver plane, W/m²; NaN when not measured
	Uncertainty    float64 // standard uncertainty of Heat, W/m²; NaN when not given
}

// Heat is what the water gained, W per m² of receiver.
func (p *Point) Heat() float64 {
	return p.MassFlow * waterHeat(p.mean()) * (p.Outlet - p.Inlet) / p.Area
}

// DeltaT is the mean water temperature less the air's, K.
func (p *Point) DeltaT() float64 { return p.mean() - p.AirTemperature }

func (p *Point) mean() float64 { return (p.Inlet + p.Outlet) / 2 }

// waterHeat is the specific heat of water at 1 bar, J/(kgK), for 0 to 100 °C.
// Source: EN 12975-2:2006, annex on the properties of water (from memory);
// within 0.03 % of handbook tables, which a test checks.
func waterHeat(celsius float64) float64 {
	t := celsius
	return 1e3 * (4.217 + t*(-3.358e-3+t*(1.089e-4+t*(-1.675e-6+t*(1.309e-8+t*-3.884e-11)))))
}

// maxIncidence in degrees. The one-coefficient Kb reaches 0 at 1/cosθ = 1+1/b0,
// about 84° for b0 = 0.1; beyond, a straight line in 1/cosθ would pull at b0
// with a cosine nobody measures that well.
const maxIncidence = 80

// Bounds of what the energy balance allows, wide enough for any measuring
// error that leaves a point worth having.
const (
	certainSun   = 200 // W/m² that must warm water not warmer than the air
	fullShare    = 1.1 // heat over irradiance for water not colder than the air
	heatMargin   = 50  // W/m² on top
	mirrorFactor = 4   // irradiance a flat mirror could at most lay on top of itself
)

// Validate returns an error that names the first field out of range, as the
// test file spells it, with its value.
func (p *Point) Validate() error {
	for _, c := range columns {
		if c.field == nil {
			continue
		}
		x := *c.field(p)
		if c.optional && math.IsNaN(x) {
			continue
		}
		// Comparisons this way round so that NaN fails them.
		if !(x >= c.min && x <= c.max) || c.open && x == c.min {
			from := "from"
			if c.open {
				from = "above"
			}
			return fmt.Errorf("%s = %g, want %s %g to %g", c.name, x, from, c.min, c.max)
		}
	}
	if p.Set != "" && p.Set != Plain && p.Set != Mirror {
		return fmt.Errorf("set = %q, want %s or %s", p.Set, Plain, Mirror)
	}
	sun, heat := p.Beam+p.Diffuse, p.Heat()
	if p.Outlet < p.Inlet && p.DeltaT() <= 0 && sun >= certainSun {
		return fmt.Errorf("outlet_c = %g is below inlet_c = %g though %.0f W/m² shine on water no warmer than the air: inlet and outlet exchanged?", p.Outlet, p.Inlet, sun)
	}
	limit := fullShare*sun + heatMargin
	if p.Set == Mirror {
		limit = fullShare*mirrorFactor*sun + heatMargin
	}
	if p.DeltaT() >= 0 && heat > limit {
		return fmt.Errorf("mass_flow_kg_s = %g over receiver_area_m2 = %g makes %.0f W/m² of heat from %.0f W/m² of sun: wrong unit?", p.MassFlow, p.Area, heat, sun)
	}
	return nil
}

// locate puts the point's place in its file before err.
func (p *Point) locate(err error) error {
	if p.File == "" && p.Line == 0 {
		return fmt.Errorf("fit: %w", err)
	}
	return fmt.Errorf("%s:%d: %w", p.File, p.Line, err)
}
