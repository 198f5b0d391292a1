package collector_test

import (
	"math"
	"testing"

	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

// An hour with everything in it, worked by hand. The mirror overhangs by 30°
// (tilt 120°) and is as long as the receiver is wide: with the receiver and the
// line from its equatorward edge to the mirror's top it makes an equilateral
// triangle. The sun stands at a profile angle of 30° and out of the section
// plane along the row: sy = 0.6, s2 = 0.8, sz = 0.8·sin 30° = 0.4.
//
// Beam. cos θm2 = sin 150° = 0.5; the ray leaves at 2·120° + 30° = 270°, plumb:
// its spot is the poleward half of the receiver, Fmir = 0.5, and it meets the
// receiver at cos θr = 0.8. The mirror's shadow falls poleward: Fdir = 1.
//
//	Kb(θz) = 1 − 0.1·(1/0.4 − 1) = 0.85,  Kb(θr) = 1 − 0.1·(1/0.8 − 1) = 0.975
//	end loss of a row of 20 m: mean path 0.866/2, times 0.6/0.8, over 20 = 1.624 %
//	0.8·800·(0.85·0.4 + 0.81·0.975·0.8·0.5·(1 − 0.01624)) = 416.50 W/m²
//
// Diffuse. Half of what the receiver sees is mirror (crossed strings, angle
// 60°). Directions below 60°, a quarter of the view, come back down: 0.13397 to
// the receiver itself (crossed strings with its image, angle 120°), the rest
// 0.11603 to the ground. So Dsky = 0.5 + 0.81·0.25 = 0.7025, Dgnd = 0.11603.
//
//	0.8·0.9·(0.7025·100 + 0.11603·0.81·150) = 60.73 W/m²
//
// Heat, water from 45 to 55 °C, air 20 °C, wind 0.5·4 m/s, the sky 100 W/m²
// short of a black body at air temperature (σ·293.15⁴ = 418.77):
//
//	loss(50) = 5·30 + 0.02·30² + 1.5·2·30 + 0.5·100 + 0.01·2·500 = 318 W/m²
//	U        = 5 + 1.5·2 + 0.02·30                             = 8.6 W/m²K
//	Ts       = 50 + (477.23 − 318)/8.6                          = 68.515 °C
//	q        = 8.6·10/ln((68.515 − 45)/(68.515 − 55))           = 155.3 W/m²
//
// One per cent of reflectance moves the light by 0.47 % and the heat by 1.4 %.
func TestObliqueHourByHand(t *testing.T) {
	r := &collector.Receiver{
		Eta0b: .8, Kb: collector.B0(.1), Kd: .9, C1: 5, C2: .02, C3: 1.5, C4: .5, C5: 5000, C6: .01,
		WaterDepth: .04, WindFactor: .5, Night: collector.Hold, FrostLock: math.NaN(),
	}
	m := collector.Mirror{Reflectance: .9, Cleanliness: .9}
	h := collector.NewHeater(collector.Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 120, RowLength: 20}, r, m)
	if math.Abs(h.Sky-.7025) > 2e-4 || math.Abs(h.Ground-.11603) > 2e-4 {
		t.Errorf("Dsky %.5f, Dgnd %.5f, by hand 0.7025 and 0.11603", h.Sky, h.Ground)
	}
	light := collector.Light{
		Rays:      []collector.Ray{{Psi: 30 * sun.Degree, S2: .8, Along: .6, DNI: 800}},
		Isotropic: 100, Ground: 150,
	}
	s := h.Absorbed(light)
	if math.Abs(s-477.23) > .001*477.23 {
		t.Errorf("absorbed %.2f W/m², by hand 477.23", s)
	}
	air := collector.Weather{GHI: 500, AirTemperature: 20, Wind: 4, SkyInfrared: 318.77}
	if got := r.Loss(air, 50); math.Abs(got-318) > .01 {
		t.Errorf("loss at 50 °C %.3f W/m², by hand 318", got)
	}
	out := collector.Outlet{In: 45, Out: 55}
	_, l := r.Hour(collector.State{T: 68.515 - 155.3/8.6}, s, r.Linear(air, out), out, collector.Event{})
	if math.Abs(l.Delivered-155.3) > .005*155.3 {
		t.Errorf("delivered %.2f Wh/m², by hand 155.3", l.Delivered)
	}
}

// A morning after a drained night, worked by hand: the dry receiver at 10 °C,
// c5 5000 J/m²K, and 40 mm of water (166 945 J/m²K) that waits at 40 °C. With
// c1 10 W/m²K, 500 W/m² and 20 °C air everything tends to Ts = 70 °C.
//
//	dry to 40 °C:     5000/10·ln(60/30)           = 346.6 s
//	rest of hour 1:   70 − 30·exp(−3253.4/17194.5) = 45.17 °C
//	hour 2:           70 − 24.83·exp(−3600/17194.5) = 49.86 °C
//	mean of the flow: 70 − 10/ln(25/15)            = 50.42 °C, outlet 45 to 55
//	hour 3:           reached after 17194.5·ln(20.138/19.576) = 487 s, then
//	                  10·19.576·(3600 − 487)/3600  = 169.3 Wh/m²
func TestDrainedMorningByHand(t *testing.T) {
	r := &collector.Receiver{C1: 10, C5: 5000, WaterDepth: .04, Night: collector.Drain, FrostLock: math.NaN()}
	out := collector.Outlet{In: 45, Out: 55}
	line := r.Linear(collector.Weather{AirTemperature: 20}, out)
	state := collector.State{T: 10, Store: 40, Out: true}
	for i, want := range []struct{ t, heat float64 }{{45.17, 0}, {49.86, 0}, {50.42, 169.3}} {
		var l collector.Ledger
		state, l = r.Hour(state, 500, line, out, collector.Event{Refill: true})
		if state.Out || math.Abs(state.T-want.t) > .01 || math.Abs(l.Delivered-want.heat) > .4 {
			t.Errorf("hour %d: %.3f °C, %.2f Wh/m², water out %v; by hand %.2f and %.1f", i+1, state.T, l.Delivered, state.Out, want.t, want.heat)
		}
	}
}

// Dusk by hand: the water leaves at 50 °C into a store without loss, and the
// dry receiver falls towards 20 °C air: 20 + 30·exp(−10·3600/5000) = 20.02 °C.
func TestDuskByHand(t *testing.T) {
	r := &collector.Receiver{C1: 10, C5: 5000, WaterDepth: .04, Night: collector.Drain, FrostLock: math.NaN()}
	out := collector.Outlet{In: 45, Out: 55}
	line := r.Linear(collector.Weather{AirTemperature: 20}, out)
	got, l := r.Hour(collector.State{T: 50}, 0, line, out, collector.Event{Leave: true})
	if !got.Out || got.Store != 50 || math.Abs(got.T-20.02) > .005 || l.Delivered != 0 {
		t.Errorf("%+v, delivered %g", got, l.Delivered)
	}
}

// The beam's spread by hand: a facet turned by 3 mrad turns its ray by 6; with
// 2 mrad of scatter and the sun's disc of 4.65 mrad, whose standard deviation
// in one axis is half its radius, √(2.325² + 6² + 2²) = 6.74 mrad.
func TestSpreadByHand(t *testing.T) {
	m := collector.Mirror{Reflectance: .9, Cleanliness: 1, SlopeError: 3, Scatter: 2}
	if got := 1e3 * m.Spread(); math.Abs(got-6.74) > .01 {
		t.Errorf("spread %.3f mrad, by hand 6.74", got)
	}
}
