package risk

import (
	"math"
	"slices"
)

// A Range is a figure with the least and the most it may be and its most likely
// value. It is drawn from the beta distribution that PERT takes for such three
// figures (Malcolm, Roseboom, Clark and Fazar 1959, Operations Research 7,
// 646–669): mean μ = (Low + 4·Likely + High)/6, variance (μ − Low)(High − μ)/7. Its
// tails are thinner than a triangle's, so that a far High pulls the mean less
// away from the likely value. Low = High = 0 is a figure that is known.
type Range struct{ Low, Likely, High float64 }

func (r Range) known() bool { return r.Low == 0 && r.High == 0 || r.Low == r.High }

// cells of a table of the beta distribution; between its points it is taken as
// linear, which errs by under 1e-5 of the range between the 1st and the 99th
// percentile and by under 2e-3 beyond.
const cells = 512

// logs are the logarithms of the shares of half cells.
var logs = func() (l [2*cells + 1]float64) {
	for i := range l {
		l[i] = math.Log(float64(i) / (2 * cells))
	}
	return l
}()

// inverse gives the figure that a share u of its distribution lies below.
func (r Range) inverse() func(u float64) float64 {
	if r.known() {
		return func(float64) float64 { return r.Likely }
	}
	mode := (r.Likely - r.Low) / (r.High - r.Low)
	density := func(i int) float64 { // at i half cells
		switch i {
		case 0:
			return math.Pow(0, 4*mode)
		case 2 * cells:
			return math.Pow(0, 4-4*mode)
		}
		return math.Exp(4*mode*logs[i] + (4-4*mode)*logs[2*cells-i])
	}
	var below [cells + 1]float64
	left := density(0)
	for i := range cells {
		right := density(2*i + 2)
		below[i+1] = below[i] + left + 4*density(2*i+1) + right // Simpson
		left = right
	}
	return func(u float64) float64 {
		u *= below[cells]
		k, _ := slices.BinarySearch(below[1:cells], u)
		x := (float64(k) + (u-below[k])/(below[k+1]-below[k])) / cells
		return r.Low + x*(r.High-r.Low)
	}
}

// A Price is a figure that moves by factors: lognormal, with Likely as the
// median and Spread as the relative standard deviation of a step upwards, so that
// two draws of three lie within Likely/(1+Spread) and Likely·(1+Spread). A
// stated range stands instead of the spread.
type Price struct {
	Range
	Spread float64
}

func (p Price) inverse() func(u float64) float64 {
	if !p.known() || p.Spread == 0 {
		return p.Range.inverse()
	}
	return func(u float64) float64 { return p.Likely * math.Exp(quantile(u)*math.Log1p(p.Spread)) }
}

// A Normal is a relative change about 0 with a standard deviation, cut to Low
// and High (truncated, not piled up there); Low = High = 0 cuts nowhere but at −1.
type Normal struct{ SD, Low, High float64 }

func (n Normal) cut() (low, high float64) {
	if n.Low == 0 && n.High == 0 {
		return -1, math.Inf(1)
	}
	return max(-1, n.Low), n.High
}

// inverse gives the change that a share u of the distribution lies below.
func (n Normal) inverse() func(u float64) float64 {
	if n.SD == 0 {
		return func(float64) float64 { return 0 }
	}
	low, high := n.cut()
	a, b := normal(low/n.SD), normal(high/n.SD)
	return func(u float64) float64 { return min(max(n.SD*quantile(a+u*(b-a)), low), high) }
}
