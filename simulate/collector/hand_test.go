package collector

import (
	"math"
	"testing"

	"stillrow/simulate/sun"
)

// One hour worked by hand. The sun stands in the meridian plane at a profile
// angle of 60°; an upright mirror, as long as the receiver is wide, stands at
// the receiver's edge. It is hit at cos θ = sin(90°+60°) = 0.5, its ray falls
// at 2·90°+60° = 240°, and its spot, 0.577 m, lies wholly on the receiver:
// Fmir = 0.5. With η0b 0.8, Kb 1, ρ = 0.9·0.9 = 0.81, DNI 800 W/m² and no
// diffuse light
//
//	S  = 0.8·800·(sin 60° + 0.81·0.5)               = 813.456 W/m²
//	Ts = 20 + 813.456/10                            = 101.346 °C
//	Ts − Tm = 10/ln((101.346 − 50)/(101.346 − 60))  = 46.165 K
//	q  = 10·46.165                                  = 461.65 W/m²
//
// at 20 °C air and c1 10 W/m²K, fed at 50 and let out at 60 °C. The test is
// fine enough, 0.15 %, to see a reflectance 1 % off, which moves S by 0.32 %.
func TestHourByHand(t *testing.T) {
	r := &Receiver{Eta0b: .8, Kb: B0(0), Kd: 1, C1: 10, C5: 5000, WaterDepth: .04, WindFactor: 1, Night: Hold, FrostLock: math.NaN()}
	h := NewHeater(Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 90}, r, Mirror{Reflectance: .9, Cleanliness: .9})
	light := Light{Rays: []Ray{{Psi: 60 * sun.Degree, S2: 1, DNI: 800}}}
	s := h.Absorbed(light)
	if math.Abs(s-813.456) > .0015*813.456 {
		t.Errorf("absorbed %.2f W/m², by hand 813.46", s)
	}
	out := Outlet{In: 50, Out: 60}
	_, l := r.Hour(State{T: 101.346 - 46.165}, s, r.Linear(Weather{AirTemperature: 20}, out), out, Event{})
	if math.Abs(l.Delivered-461.65) > .002*461.65 {
		t.Errorf("delivered %.2f Wh/m², by hand 461.65", l.Delivered)
	}
}

// End loss by hand: from the mirror of TestHourByHand rays fall at 60° below
// the horizontal from heights of 0 to 1 m, so their mean path in the section
// is 0.5/sin 60° = 0.5774 m. With the sun 30° out of the section plane along
// the row, |sy|/s2 = tan 30°, and on a row 10 m long 0.5774·0.5774/10 = 3.33 %
// of the reflected beam lands past its end.
func TestEndLossByHand(t *testing.T) {
	r := &Receiver{Eta0b: 1, Kb: B0(0), Kd: 1}
	m := Mirror{Reflectance: 1, Cleanliness: 1}
	s2 := math.Cos(30 * math.Pi / 180)
	reflected := func(length float64) float64 {
		h := &Heater{Section: NewSection(Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 90, RowLength: length}, m), Receiver: r, Mirror: m}
		return h.Absorbed(Light{Rays: []Ray{{Psi: 60 * sun.Degree, S2: s2, DNI: 1}}}) - s2*math.Sin(60*math.Pi/180)
	}
	if got := 1 - reflected(10)/reflected(0); math.Abs(got-.0333) > .0005 {
		t.Errorf("end loss %.4f, by hand 0.0333", got)
	}
}

// Circumsolar light by hand: at an anisotropy index of 0.5 half of 100 W/m² of
// diffuse light travels with the beam; with the sun at sin h = 0.5 it counts as
// 100 W/m² of beam, and 50 stay isotropic. Half an hour of sun at twice the
// hour's mean has the index of its own irradiance.
func TestCircumsolarByHand(t *testing.T) {
	up := sun.Vector{Equator: math.Sqrt(.75), Up: .5}
	l := LightOf(nil, 500, sun.SolarConstant/2, 100, 1, 1, []sun.Vector{up}, 0, Ground{Albedo: .2})
	if math.Abs(l.Ai-.5) > 1e-12 || math.Abs(l.Isotropic-50) > 1e-9 || math.Abs(l.Rays[0].DNI-(sun.SolarConstant/2+100)) > 1e-9 || math.Abs(l.Ground-100) > 1e-9 {
		t.Errorf("%+v", l)
	}
	l = LightOf(nil, 0, sun.SolarConstant/4, 100, .5, 1, []sun.Vector{up}, 0, Ground{})
	if math.Abs(l.Ai-.5) > 1e-12 {
		t.Errorf("half an hour of sun: index %g, want 0.5", l.Ai)
	}
	if l = LightOf(nil, 0, 500, 100, 0, 1, nil, 0, Ground{}); l.Ai != 0 || l.Isotropic != 100 || len(l.Rays) != 0 {
		t.Errorf("sun down: %+v", l)
	}
}
