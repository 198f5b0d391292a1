package climate

import "math"

// sequences is how many sequences of days are drawn for a month; the one whose
// mean lies nearest to the month's is kept. What is left of the difference goes
// by scaling, which would distort the clear days if it were large.
const sequences = 16

// dayLimit is the greatest clearness of a day: the top of the highest band of
// the ten tables.
const dayLimit = 0.865

// after gives the clearness of the day that follows one of clearness k. The
// number u, 0…1, picks tomorrow's band by the odds in today's row and, by what
// is left of it, a place inside that band: odds are taken as evenly spread
// within a band. A k outside the table's bands counts as in the nearest one.
func (t *transition) after(k, u float64) float64 {
	width := (t.high - t.low) / bands
	row := &t.next[min(max(int((k-t.low)/width), 0), bands-1)]
	var sum float64
	for _, odds := range row {
		sum += odds
	}
	left := u * sum
	for band, odds := range row {
		if left < odds {
			return t.low + (float64(band)+left/odds)*width
		}
		left -= odds
	}
	return t.high
}

// days fills k with the clearness of a month's days, the first of which follows
// a day of clearness before. Their mean, weighted by the energy of each day
// above the air, is mean.
func days(r draw, k []float64, before, mean float64, weight []float64) {
	t := class(mean)
	var total float64
	for _, w := range weight {
		total += w
	}
	try := make([]float64, len(k))
	best := math.Inf(1)
	for range sequences {
		var got float64
		last := before
		for d := range try {
			last = t.after(last, r.uniform())
			try[d] = last
			got += last * weight[d]
		}
		if off := math.Abs(got - mean*total); off < best {
			best = off
			copy(k, try)
		}
	}
	limit := make([]float64, len(k))
	for d := range limit {
		limit[d] = dayLimit
	}
	scale(k, weight, limit, mean*total)
}

// scale multiplies all x by one factor so that Σ weight·x becomes total. An x
// that would pass its limit stops there and the others make up for it; when
// the limits together fall short of total, every x ends at its limit. All x
// are above 0.
func scale(x, weight, limit []float64, total float64) {
	full := make([]bool, len(x))
	for {
		var free float64
		left := total
		for i := range x {
			if full[i] {
				left -= weight[i] * limit[i]
			} else {
				free += weight[i] * x[i]
			}
		}
		if free <= 0 {
			return
		}
		factor, more := left/free, false
		for i := range x {
			if !full[i] && x[i]*factor > limit[i] {
				x[i], full[i], more = limit[i], true, true
			}
		}
		if more {
			continue
		}
		for i := range x {
			if !full[i] {
				x[i] *= factor
			}
		}
		return
	}
}
