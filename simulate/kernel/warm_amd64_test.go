package kernel

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The assembly gives the plain code's bits and touches nothing beside its lanes;
// hours of frost are those with water in. TestWarmthAt holds the plain code to the law.
func TestWarm(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	w := NewWarmth(83e3, 8.314462618, 313.15)
	odd := []float32{float32(math.NaN()), float32(math.Inf(1)), float32(math.Inf(-1)), -273.15, -300, 1e30, -1e30, 0, -1e-30}
	for _, l := range []level{plain, avx2, avx512} {
		t.Run(l.String(), func(t *testing.T) {
			use(t, l)
			for _, n := range lanes {
				temp, sum, freezing, out := make([]float32, n), make([]float32, n), make([]float32, n), make([]bool, n)
				for i := range n {
					temp[i], sum[i], out[i] = 60*r.Float32()-20, r.Float32(), r.IntN(3) == 0
					if r.IntN(8) == 0 {
						temp[i] = odd[r.IntN(len(odd))]
					}
				}
				want, frozen := slices.Clone(sum), make([]float32, n)
				b := &Bank{Out: out}
				for i, c := range temp {
					want[i] += w.At(c)
					if out[i] {
						b.out++
					} else if c < 0 {
						frozen[i] = 1
					}
				}
				t0, s0, f0 := fenced(temp, 12345), fenced(sum, 12345), fenced(freezing, 12345)
				b.T = t0.slice()
				b.Warm(w, s0.slice(), f0.slice())
				for name, f := range map[string]*fence[float32]{"T": t0, "sum": s0, "freezing": f0} {
					f.check(t, name)
				}
				if !slices.Equal(s0.slice(), want) || !slices.Equal(f0.slice(), frozen) {
					t.Fatalf("%d lanes at %v: %v and %v, want %v and %v", n, temp, s0.slice(), f0.slice(), want, frozen)
				}
			}
		})
	}
}
