package risk

import "math"

// A Range is a figure with the least and the most it may be: a triangular
// distribution with its peak at Likely. Low = High = 0 is a figure that is known.
type Range struct{ Low, Likely, High float64 }

// Known is a figure without a range.
func Known(v float64) Range { return Range{Likely: v} }

func (r Range) known() bool { return r.Low == 0 && r.High == 0 || r.Low == r.High }

// at inverts the distribution.
func (r Range) at(u float64) float64 {
	if r.known() {
		return r.Likely
	}
	width := r.High - r.Low
	if u*width < r.Likely-r.Low {
		return r.Low + math.Sqrt(u*width*(r.Likely-r.Low))
	}
	return r.High - math.Sqrt((1-u)*width*(r.High-r.Likely))
}

// A Price is a figure that moves by factors: lognormal, with Likely as the
// median and Spread as the relative standard deviation of a step upwards, so that
// two draws of three lie within Likely/(1+Spread) and Likely·(1+Spread). A
// stated range stands instead of the spread.
type Price struct {
	Range
	Spread float64
}

func (p Price) at(u float64) float64 {
	if !p.known() || p.Spread == 0 {
		return p.Range.at(u)
	}
	return p.Likely * math.Exp(quantile(u)*math.Log1p(p.Spread))
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

// at inverts the distribution.
func (n Normal) at(u float64) float64 {
	if n.SD == 0 {
		return 0
	}
	low, high := n.cut()
	a, b := normal(low/n.SD), normal(high/n.SD)
	return min(max(n.SD*quantile(a+u*(b-a)), low), high)
}
