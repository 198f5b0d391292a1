package rank

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// In any order and grouping the sum is the same to the bit, and near that of
// math/big.
func TestExactSum(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	list := []float64{0, math.Copysign(0, -1), -1e-30, 1e-30, 0.1, -0.1, 1 - 0x1p-53, -1, 5e11, -5e11, math.SmallestNonzeroFloat64}
	for range 1000 {
		list = append(list, math.Ldexp(r.NormFloat64(), r.IntN(60)-30))
	}
	var want exact
	precise := new(big.Float).SetPrec(300)
	for _, v := range list {
		want.add(v)
		precise.Add(precise, big.NewFloat(v))
	}
	for range 50 {
		r.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
		var sums [7]exact
		for i, v := range list {
			sums[i%7].add(v)
		}
		var got exact
		for _, i := range r.Perm(7) {
			got.put(sums[i])
		}
		if got != want {
			t.Fatalf("sum %v, in another order %v", want, got)
		}
	}
	near, _ := precise.Float64()
	if math.Abs(want.value()-near) > float64(len(list))*0x1p-64+math.Abs(near)*0x1p-52 {
		t.Errorf("sum %v, math/big %v", want.value(), near)
	}
}

// What is no number, or none that a cost can be, does not spoil the rest.
func TestExactSumBounds(t *testing.T) {
	var s exact
	for range 1000 {
		s.add(math.Inf(1))
	}
	s.add(math.NaN())
	if s.value() != 1000*mostExact {
		t.Errorf("sum %v", s.value())
	}
	for range 2000 {
		s.add(math.Inf(-1))
	}
	if s.value() != -1000*mostExact {
		t.Errorf("sum %v", s.value())
	}
}
