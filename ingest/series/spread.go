package series

import (
	"slices"

	"stillrow/ingest/weather"
)

// leastYears is how many whole years the spread of single years is told from.
const leastYears = 5

// spread finds how far the yearly global irradiance of single years lies from its
// mean. Years count that have all months; what they lack of those is filled in
// the measure of a clear sky.
func (y *year) spread(first int, lacks [][12]lack) {
	if len(lacks) < leastYears {
		return
	}
	var sums []float64
	mean := 0.0
	for i := range lacks {
		if slices.ContainsFunc(lacks[i][:], func(l lack) bool { return !l.serves() }) {
			continue
		}
		sum := 0.0
		for m := range lacks[i] {
			sum += y.monthSum(first+i, m)
		}
		sums = append(sums, sum)
		mean += sum
	}
	if len(sums) < leastYears || mean == 0 {
		return
	}
	mean /= float64(len(sums))
	slices.Sort(sums)
	y.site.YearP10, y.site.YearP90 = percentile(sums, 0.10)/mean, percentile(sums, 0.90)/mean
}

// monthSum gives the global irradiation of a month, Wh/m².
func (y *year) monthSum(year, month int) float64 {
	var hours [24 * 31]float64
	v := hours[:24*weather.MonthDays[month]]
	y.sun.month(year, month, v)
	sum, missing := 0.0, false
	for _, x := range v {
		if x == x {
			sum += x
		} else {
			missing = true
		}
	}
	if !missing {
		return sum
	}
	have, all := 0.0, 0.0
	clear := y.sky()[monthStart[month]:]
	for h, x := range v {
		all += clear[h].global()
		if x == x {
			have += clear[h].global()
		}
	}
	if have == 0 {
		return sum
	}
	return sum * all / have
}

// percentile gives a percentile, p from 0 to 1, of rising values, straight
// between them. Source: definition 7 of Hyndman and Fan 1996, The American
// Statistician 50, 361–365.
func percentile(rising []float64, p float64) float64 {
	at := p * float64(len(rising)-1)
	i := min(int(at), len(rising)-2)
	return rising[i] + (rising[i+1]-rising[i])*(at-float64(i))
}
