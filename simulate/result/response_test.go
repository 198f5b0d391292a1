package result

import (
	"math"
	"math/rand/v2"
	"testing"
)

// sensed records what Sensitivity does of a heat known as a function: month m
// has heat h(m, change).
func sensed(h func(m int, change [Params]float64) float64) (s Sensitivity, base []float32) {
	for m := range 12 {
		base = append(base, float32(h(m, [Params]float64{})))
		for p := range Params {
			var c [Params]float64
			c[p] = -Steps[p]
			s.Low[p][m] = float32(h(m, c))
			c[p] = Steps[p]
			s.High[p][m] = float32(h(m, c))
		}
	}
	return s, base
}

// flat is heat of hours that all deliver: light times its factors less a loss.
func flat(m int, c [Params]float64) float64 {
	own, mirror := 60+float64(m), 30.0
	return (1+c[Eta0b])*(1+c[Irradiance])*(own+mirror*(1+c[Reflectance])) - 25*(1+c[C1]) - 8
}

// cloudy is heat of hours whose light is spread evenly from 0 to a greatest
// value: half the square of what is above the loss, and none below it.
func cloudy(m int, c [Params]float64) float64 {
	net := max(0, 9*(1+c[Eta0b])*(1+c[Irradiance])*(.7+.3*(1+c[Reflectance]))-(4+float64(m)/8)*(1+c[C1]))
	return net * net / 2
}

func months(list ...int) (on [12]bool) {
	for _, m := range list {
		on[m] = true
	}
	return on
}

// At the steps the response is what was simulated there, whichever months
// count, and without a change it is the heat.
func TestResponseRunsThroughWhatWasSimulated(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	var s Sensitivity
	var base []float32
	for m := range 12 { // any monotone heat, kinks and flat stretches among it
		base = append(base, float32(rng.Float64()*40*float64(m%3)))
		for p := range Params {
			s.Low[p][m] = base[m] * float32(rng.Float64())
			s.High[p][m] = base[m] + float32(rng.Float64()*30*float64(m%2))
			if p == C1 {
				s.Low[p][m], s.High[p][m] = s.High[p][m], s.Low[p][m]
			}
		}
	}
	for _, on := range [][12]bool{months(0), months(1), months(2, 3), months(5, 6, 7), months(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11), {}} {
		r := s.Response(base, on)
		var want float64
		var low, high [Params]float64
		for m := range 12 {
			if on[m] {
				want += float64(base[m])
				for p := range Params {
					low[p] += float64(s.Low[p][m])
					high[p] += float64(s.High[p][m])
				}
			}
		}
		if got := r.Heat([Params]float64{}); math.Abs(got-want) > 1e-12*want {
			t.Errorf("months %v: %g without a change, want %g", on, got, want)
		}
		for p := range Params {
			var c [Params]float64
			before := math.Inf(1)
			if low[p] <= high[p] {
				before = math.Inf(-1)
			}
			for x := -3 * Steps[p]; x <= 3*Steps[p]; x += Steps[p] / 16 {
				c[p] = x
				got := r.Heat(c)
				if got < 0 || low[p] <= high[p] && got < before-1e-9 || low[p] > high[p] && got > before+1e-9 {
					t.Errorf("months %v, %v %+.4f: %g after %g", on, p, x, got, before)
				}
				before = got
			}
			for x, want := range map[float64]float64{-Steps[p]: low[p], Steps[p]: high[p]} {
				c[p] = x
				if got := r.Heat(c); math.Abs(got-want) > 1e-9*(1+want) {
					t.Errorf("months %v, %v %+g: %g, simulated %g", on, p, x, got, want)
				}
			}
			c[p] = 2 * Steps[p]
			edge := r.Heat(c)
			c[p] = 9 * Steps[p]
			if got := r.Heat(c); got != edge {
				t.Errorf("%v: %g far past two steps, %g at them", p, got, edge)
			}
		}
	}
}

// Where hours neither begin nor cease to deliver, the response is the product
// of the light's factors to second order: what is left is of third.
func TestResponseOfSteadyHours(t *testing.T) {
	s, base := sensed(flat)
	r := s.Response(base, months(4, 5))
	for _, c := range [][Params]float64{{.05, .3, -.1, .08}, {-.05, -.3, .05, -.08}, {.03, 0, 0, -.04}, {.05, 0, -.1, 0}, {0, .3, 0, .08}} {
		want := flat(4, c) + flat(5, c)
		if got := r.Heat(c); math.Abs(got-want) > .002*want {
			t.Errorf("%v: %.3f, want %.3f", c, got, want)
		}
	}
	if got, want := r.Heat([Params]float64{.05, 0, 0, .08}), flat(4, [Params]float64{.05, 0, 0, .08})+flat(5, [Params]float64{.05, 0, 0, .08}); math.Abs(got-want) > 1e-4*want {
		t.Errorf("a product of two factors: %.4f, want %.4f", got, want)
	}
}

// Where hours begin and cease to deliver, the interaction counts: at the far
// corners of what is drawn it takes off more than half of an error of up to a
// tenth. All this light is at the hinge at the same share of loss, so that the
// mixed derivative has its greatest value, of which only the share hinge is
// taken.
func TestResponseOfCloudyHours(t *testing.T) {
	s, base := sensed(cloudy)
	on := months(0, 3, 6)
	r := s.Response(base, on)
	alone := r
	alone.cross = [Params][Params]float64{}
	for _, c := range [][Params]float64{{.05, .3, -.1, -.08}, {-.05, -.3, .05, .08}, {-.05, .3, .05, .08}, {.05, -.3, .05, .08}} {
		want := cloudy(0, c) + cloudy(3, c) + cloudy(6, c)
		got, plain := r.Heat(c), alone.Heat(c)
		t.Logf("%v: %.2f, want %.2f; without interaction %.2f", c, got, want, plain)
		if math.Abs(got-want) > .04*want || math.Abs(plain-want) > .01*want && math.Abs(got-want) > math.Abs(plain-want)/2 {
			t.Errorf("%v: %.3f, want %.3f; without interaction %.3f", c, got, want, plain)
		}
	}
}

func BenchmarkHeat(b *testing.B) {
	s, base := sensed(cloudy)
	r := s.Response(base, months(0, 3, 6))
	c := [Params]float64{.02, -.1, .03, -.04}
	for b.Loop() {
		r.Heat(c)
	}
}

func BenchmarkResponse(b *testing.B) {
	s, base := sensed(cloudy)
	for b.Loop() {
		s.Response(base, months(0, 3, 6))
	}
}
