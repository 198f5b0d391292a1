package risk

import (
	"math"
	"math/rand/v2"
	"slices"
)

// draw gives a number in (0, 1) for each draw of the input of that name: one in
// each of as many equal parts, in random order.
func (m *Model) draw(name ...string) []float64 {
	r := rand.New(rand.NewPCG(m.o.Seed, seedOf(name)))
	n := m.o.Draws
	list := make([]float64, n)
	for i, part := range r.Perm(n) {
		u := (float64(part) + r.Float64()) / float64(n)
		list[i] = min(max(u, 1e-12), 1-1e-12) // where every distribution is finite
	}
	return list
}

// seedOf is the 64-bit FNV-1a hash of the names, each ended by a zero byte.
func seedOf(names []string) uint64 {
	h := uint64(14695981039346656037)
	for _, name := range names {
		for i := range len(name) {
			h = (h ^ uint64(name[i])) * 1099511628211
		}
		h *= 1099511628211
	}
	return h
}

// percentiles sorts list and gives its 10th, 50th and 90th percentile, linear
// between the draws (type 7 of Hyndman and Fan 1996, The American Statistician
// 50, 361–365).
func percentiles(list []float64) (q [3]float64) {
	slices.Sort(list)
	for i, p := range [3]float64{0.1, 0.5, 0.9} {
		at := p * float64(len(list)-1)
		k := int(at)
		q[i] = list[k]
		if rest := at - float64(k); rest > 0 && list[k+1] > list[k] {
			q[i] += rest * (list[k+1] - list[k])
		}
	}
	return q
}

// normal is the standard normal distribution, and quantile its inverse.
func normal(z float64) float64   { return 0.5 * math.Erfc(-z/math.Sqrt2) }
func quantile(u float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*u) }
