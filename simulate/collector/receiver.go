package collector

import "fmt"

// Physical constants of the receiver's water and of thermal radiation.
const (
	waterDensity  = 998         // kg/m³ at 20 °C
	waterHeat     = 4182        // J/kgK at 20 °C
	stefan        = 5.670374e-8 // W/m²K⁴; CODATA 2018
	kelvin        = 273.15      // °C to K
	smallestU     = 0.01        // W/m²K: keeps the linearised loss positive
	secondsOfHour = 3600
)

// Night says what happens to the water between sunset and sunrise.
type Night string

// Nights.
const (
	Hold  Night = "hold"  // the water stays in the receiver
	Drain Night = "drain" // the water waits in a store kept without loss
)

// A Receiver is what lies on the ground: coefficients of the quasi-dynamic
// collector test per m² of receiver, and how it is run.
// Source of the coefficients' meaning: ISO 9806:2013; wind is not reduced by
// 3 m/s as the 2017 edition does.
type Receiver struct {
	Eta0b float64 // optical efficiency for beam at normal incidence, 0…1
	Kb    IAM     // incidence angle modifier of the beam
	Kd    float64 // modifier of isotropic diffuse light

	C1 float64 // W/m²K
	C2 float64 // W/m²K²
	C3 float64 // J/m³K, per m/s of wind
	C4 float64 // share of the long-wave deficit σ·Ta⁴ − EL that is lost
	C5 float64 // J/m²K, heat capacity without the water
	C6 float64 // s/m, fall of the optical efficiency with wind, on GHI

	WaterDepth float64 // m
	WindFactor float64 // wind at the receiver over the 10 m wind
	Night      Night
	FrostLock  float64 // °C, daily mean air temperature below which the receiver is emptied; NaN: never, snow neither

	SofteningBlack, SofteningClear, FoamLimit float64 // °C; NaN: not stated
}

// Validate names the first field out of range as the study file spells it.
func (r *Receiver) Validate() error {
	for _, c := range []struct {
		name   string
		v      float64
		lo, hi float64
	}{
		{"eta0b", r.Eta0b, 0, 1}, {"kd", r.Kd, 0, 2},
		{"c1", r.C1, 0, 1000}, {"c2", r.C2, 0, 10}, {"c3", r.C3, 0, 1000},
		{"c4", r.C4, 0, 2}, {"c5", r.C5, 0, 1e8}, {"c6", r.C6, 0, 1},
		{"water_depth_m", r.WaterDepth, 0, 2}, {"wind_factor", r.WindFactor, 0, 2},
	} {
		if !(c.v >= c.lo && c.v <= c.hi) {
			return fmt.Errorf("%s = %g, want %g to %g", c.name, c.v, c.lo, c.hi)
		}
	}
	if r.C1 == 0 && r.C2 == 0 && r.C3 == 0 {
		return fmt.Errorf("c1 = 0, want at least one of c1, c2, c3 above 0: a receiver loses heat")
	}
	if r.Night != Hold && r.Night != Drain {
		return fmt.Errorf("night = %q, want %q or %q", r.Night, Hold, Drain)
	}
	if r.Capacity() <= 0 {
		return fmt.Errorf("water_depth_m = 0 with c5 = 0, want some heat capacity")
	}
	return nil
}

func (r *Receiver) waterCapacity() float64 { return r.WaterDepth * waterDensity * waterHeat }

// An Outlet is one running condition: water fed at In leaves at Out.
type Outlet struct {
	In, Out float64 // °C, In ≤ Out
}

// Weather is the hour's air around the receiver.
type Weather struct {
	GHI            float64 // W/m²
	AirTemperature float64 // °C
	Wind           float64 // m/s at 10 m
	SkyInfrared    float64 // W/m²
}

// Loss gives the heat lost at receiver temperature t, W/m².
func (r *Receiver) Loss(w Weather, t float64) float64 { return r.LossIn(w).At(t) }

// A Loss is that of a receiver in one weather: At(t) = fixed + (slope + curve·ΔT)·ΔT,
// ΔT above the air.
type Loss struct {
	air          float64 // °C
	fixed        float64 // W/m²
	slope, curve float64 // W/m²K, W/m²K²
}

// LossIn gives the loss in a weather.
func (r *Receiver) LossIn(w Weather) Loss {
	u, ta := r.WindFactor*w.Wind, w.AirTemperature+kelvin
	return Loss{
		air: w.AirTemperature, fixed: r.C4*(stefan*ta*ta*ta*ta-w.SkyInfrared) + r.C6*u*w.GHI,
		slope: r.C1 + r.C3*u, curve: r.C2,
	}
}

// At gives the loss at receiver temperature t, W/m².
func (l Loss) At(t float64) float64 {
	dT := t - l.air
	return dT*(l.slope+l.curve*dT) + l.fixed
}

// A Line is the loss made linear about the running temperature of an outlet:
// loss(T) ≈ At + U·(T − Run).
type Line struct {
	Run float64 // °C, mean of inlet and outlet
	U   float64 // W/m²K
	At  float64 // loss at Run, W/m²
}

// Linear makes the loss linear for an outlet.
func (r *Receiver) Linear(w Weather, o Outlet) Line { return r.LossIn(w).Linear(o) }

// Linear makes the loss linear for an outlet.
func (l Loss) Linear(o Outlet) Line {
	run := (o.In + o.Out) / 2
	return Line{Run: run, U: max(l.slope+l.curve*(run-l.air), smallestU), At: l.At(run)}
}

// Steady gives the temperature at which the linear loss equals s.
func (l Line) Steady(s float64) float64 { return l.Run + (s-l.At)/l.U }

// Loss gives the linear loss at t, W/m².
func (l Line) Loss(t float64) float64 { return l.At + l.U*(t-l.Run) }

// Capacity gives the heat capacity with the water in, J/m²K.
func (r *Receiver) Capacity() float64 { return r.C5 + r.waterCapacity() }
