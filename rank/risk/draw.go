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

// percentiles gives the 10th, 50th and 90th percentile of list, which it puts in
// another order, linear between the draws (type 7 of Hyndman and Fan 1996, The
// American Statistician 50, 361–365).
func percentiles(list []float64) (q [3]float64) {
	from := 0 // what lies before is no greater than what follows
	for i, p := range [3]float64{0.1, 0.5, 0.9} {
		at := p * float64(len(list)-1)
		k := int(at)
		part(list[from:], k-from)
		q[i] = list[k]
		if rest := at - float64(k); rest > 0 {
			if next := slices.Min(list[k+1:]); next > q[i] {
				q[i] += rest * (next - q[i])
			}
		}
		from = k
	}
	return q
}

// part puts the number of rank k, counted from 0, in its place, none greater
// before and none less behind it (Hoare 1961, Communications of the ACM 4, 321).
func part(list []float64, k int) {
	for low, high := 0, len(list)-1; low < high; {
		a, b, c := list[low], list[(low+high)/2], list[high]
		pivot := max(min(a, b), min(max(a, b), c)) // the middle one
		i, j := low, high
		for i <= j {
			for list[i] < pivot {
				i++
			}
			for list[j] > pivot {
				j--
			}
			if i <= j {
				list[i], list[j] = list[j], list[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return
		}
	}
}

// normal is the standard normal distribution, and quantile its inverse.
func normal(z float64) float64   { return 0.5 * math.Erfc(-z/math.Sqrt2) }
func quantile(u float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*u) }
