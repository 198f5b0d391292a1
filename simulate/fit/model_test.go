package fit

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// The closed form of Kd against the integral it stands for, Kb cut at 0.
func TestKd(t *testing.T) {
	for _, b := range []float64{0, 0.05, 0.1, 0.2, 0.5, -0.05} {
		grazing := math.Pi / 2
		if b > 0 {
			grazing = math.Acos(b / (1 + b)) // Kb ends here
		}
		want := 2 * quad.Fixed(func(x float64) float64 {
			return (math.Cos(x) - b*(1-math.Cos(x))) * math.Sin(x) // Kb·cosθ·sinθ
		}, 0, grazing, 64, nil, 0)
		if got, _ := new(model).kd(b); math.Abs(got-want) > 1e-12 {
			t.Errorf("b0 %g: Kd = %.14f, integral %.14f", b, got, want)
		}
	}
}

func TestSlopeIsTheDerivative(t *testing.T) {
	v := values{eta0b: 0.8, b0: 0.12, c1: 9, c2: 0.05, c3: 2, c4: 0.3, gain: 1.4, d1: 0.5, d2: 0.01, d3: -0.2, d4: 0.1}
	for _, mirror := range []bool{false, true} {
		r := row{beam: 700, diffuse: 120, oblique: 0.6, deltaT: 25, wind: 3, sky: -90, mirror: mirror}
		for _, m := range []*model{{}, {heldKd: 0.9}} {
			for k := range termCount {
				up, down := v, v
				const h = 1e-5
				up[k] += h
				down[k] -= h
				want := (m.heat(&up, &r) - m.heat(&down, &r)) / (2 * h)
				if got := m.slope(k, &v, &r); math.Abs(got-want) > 1e-4 {
					t.Errorf("mirror %v, %s: slope %.6f, difference quotient %.6f", mirror, k, got, want)
				}
			}
		}
	}
}

// Specific heat of water at 1 bar, kJ/(kgK), handbook table as quoted at
// wfrjr.com/data/formula/data/water.html.
func TestWaterHeat(t *testing.T) {
	for celsius, want := range map[float64]float64{
		10: 4.1921, 20: 4.1818, 30: 4.1784, 40: 4.1785, 50: 4.1806, 60: 4.1843, 70: 4.1895, 80: 4.1963, 90: 4.2050, 100: 4.2159,
	} {
		if got := waterHeat(celsius) / 1e3; math.Abs(got-want) > 0.0013 {
			t.Errorf("%g °C: %.4f kJ/(kgK), want %.4f", celsius, got, want)
		}
	}
}

func TestPointHeat(t *testing.T) {
	p := Point{AirTemperature: 20, Inlet: 20, Outlet: 40, MassFlow: 0.02, Area: 2}
	// 0.02 kg/s · 4178.4 J/(kgK) (table above, 30 °C) · 20 K / 2 m²
	if got, want := p.Heat(), 835.68; math.Abs(got-want) > 0.3 {
		t.Errorf("heat %.2f W/m², want %.2f", got, want)
	}
	if got := p.DeltaT(); got != 10 {
		t.Errorf("ΔT = %g K, want 10", got)
	}
}
