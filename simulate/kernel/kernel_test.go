package kernel

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// logRatio and expNeg against the standard library in double precision, at
// their stated errors.
func TestLogRatio(t *testing.T) {
	ln := func(a, b float32) float32 {
		num, den := logRatio(a-b, a, b)
		return num / den
	}
	r := rand.New(rand.NewPCG(1, 2))
	var worst float64
	for range 1_000_000 {
		b := float32(math.Exp(r.Float64()*30 - 18))
		a := b * float32(1+math.Exp(r.Float64()*30-16))
		if a == b {
			continue
		}
		want := math.Log(float64(a) / float64(b))
		worst = max(worst, math.Abs(float64(ln(a, b))/want-1))
	}
	if worst > 4e-7 {
		t.Errorf("relative error %.3g, stated 4e-7", worst)
	}
	if ln(2, 2) != 0 {
		t.Errorf("ln(1) = %g", ln(2, 2))
	}
}

func TestExpNeg(t *testing.T) {
	var worst float64
	for i := range 860_000 {
		x := float32(i) / 10000
		worst = max(worst, math.Abs(float64(expNeg(x))/math.Exp(-float64(x))-1))
	}
	if worst > 3e-7 {
		t.Errorf("relative error %.3g, stated 3e-7", worst)
	}
	if expNeg(0) != 1 || expNeg(float32(math.Inf(1))) != 0 {
		t.Errorf("exp(0) = %g, exp(−∞) = %g", expNeg(0), expNeg(float32(math.Inf(1))))
	}
}

// Lanes do not know of each other: however many go together, the results are
// the same to the bit.
func TestLanesAreIndependent(t *testing.T) {
	const most, rows, hours = 257, 50, 600
	r := rand.New(rand.NewPCG(3, 4))
	field := func(n int) *Field {
		r := rand.New(rand.NewPCG(5, 6))
		f := &Field{Lanes: n, Beam: make([]float32, rows*n), Sky: make([]float32, n), Ground: make([]float32, n)}
		for row := range rows {
			for i := range most {
				if v := r.Float32(); i < n {
					f.Beam[row*n+i] = v
				}
			}
		}
		for i := range most {
			if a, b := r.Float32(), r.Float32()*.2; i < n {
				f.Sky[i], f.Ground[i] = a, b
			}
		}
		return f
	}
	hh, ll := make([]Hour, hours), make([]Line, hours)
	for h := range hh {
		sun := h%24 > 6 && h%24 < 18
		if sun {
			hh[h] = Hour{N: 6, Sky: 200 * r.Float32(), Ground: 40 * r.Float32(), Event: Refill}
			for k := range 6 {
				hh[h].Row[k], hh[h].Weight[k] = int32(r.IntN(rows)), 250*r.Float32()
			}
		}
		if h%24 == 18 {
			hh[h].Event = Leave
		}
		if h%240 == 5 {
			hh[h].Event = Return
		}
		u := 8 + 6*r.Float32()
		ll[h] = Line{Base: 10 + 8*r.Float32(), InvU: 1 / u, U: u, Wet: Decay{float32(math.Exp(-float64(u) / 50)), 50 / u}, Dry: Decay{float32(math.Exp(-float64(u) / 3)), 3 / u}}
	}
	regime := Regime{In: 35, Out: 45, Run: 40, Dry: 3, Wet: 50, StartDry: true, FirstAirC: 12}
	march := func(n int) *Bank {
		f, s := field(n), make([]float32, n)
		b := NewBank(n)
		b.Start(&regime)
		for h := range hh {
			f.Light(s, 0, &hh[h])
			b.Advance(s, &regime, &hh[h], &ll[h])
		}
		return b
	}
	all := march(most)
	if slices.Max(all.Heat) <= 0 {
		t.Fatal("no lane delivers heat: the test shows nothing")
	}
	for _, n := range []int{0, 1, 3, 7, 8, 9, 63, 64, 65} {
		b := march(n)
		if !slices.Equal(b.Heat, all.Heat[:n]) || !slices.Equal(b.T, all.T[:n]) {
			t.Errorf("%d lanes give other results than the same lanes among %d", n, most)
		}
	}
}

// A weight is the law of Arrhenius in double precision with the standard library's
// exponential, at its stated error, and stays a number beyond all temperatures.
func TestWarmthAt(t *testing.T) {
	const gas = 8.314462618 // J/(mol·K), CODATA 2018
	for _, energy := range []float64{0, 40e3, 83e3, 150e3} {
		for _, reference := range []float64{293.15, 333.15} {
			w, worst := NewWarmth(energy, gas, reference), 0.0
			for c := float32(-90); c < 200; c += .0137 {
				want := math.Exp(-energy / gas * (1/(float64(c)+273.15) - 1/reference))
				worst = max(worst, math.Abs(float64(w.At(c))/want-1))
			}
			if worst > 2e-5 {
				t.Errorf("%g J/mol from %g K: relative error %.3g, stated 2e-5", energy, reference, worst)
			}
		}
	}
	for _, c := range []float32{-1e30, -300, -273.15, 1e30, float32(math.Inf(1)), float32(math.Inf(-1)), float32(math.NaN())} {
		if v := NewWarmth(150e3, gas, 293.15).At(c); !(v > 0) || math.IsInf(float64(v), 0) {
			t.Errorf("weight %g at %g °C", v, c)
		}
	}
}
