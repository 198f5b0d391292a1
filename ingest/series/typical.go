package series

import (
	"math"
	"slices"

	"stillrow/ingest/weather"
)

// typical chooses the year whose month, from 0, is most like the month of all
// years, by ISO 15927-4:2005: for daily means of global irradiance, air
// temperature and humidity the Finkelstein-Schafer statistic tells how far each
// year is from all; the years are ranked by it for each quantity, and of the three
// with the least sum of ranks the one is chosen whose mean wind speed is nearest
// to that of all years. The procedure is given from memory of the standard. A
// quantity that the data lack drops out; a year that lacks it is ranked last in
// it; without wind the least sum of ranks decides, and so it does between equals,
// then the earlier year.
func (y *year) typical(month int, years []int) int {
	rank := make([]int, len(years))
	for _, c := range [...]*hourly{y.sun, y.air, y.humid()} {
		if c == nil {
			continue
		}
		for i, place := range ranks(c.trait(month, years).distances()) {
			rank[i] += place
		}
	}
	order := make([]int, len(years))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return rank[a] - rank[b] })
	const finalists = 3
	order = order[:min(finalists, len(order))]
	if y.wind == nil {
		return years[order[0]]
	}
	days := y.wind.trait(month, years)
	long := average(slices.Concat(days...))
	best, least := order[0], math.Inf(1)
	for _, i := range order {
		if d := math.Abs(average(days[i]) - long); days.whole(i) && d < least {
			best, least = i, d
		}
	}
	return years[best]
}

// humid gives the column that tells humidity.
func (y *year) humid() *hourly {
	for _, c := range [...]*hourly{y.dew, y.humidity, y.vapour, y.specific} {
		if c != nil {
			return c
		}
	}
	return nil
}

// A trait is the daily means of one quantity in a month, of each year; NaN for a
// day without any value.
type trait [][]float64

// trait takes a month, from 0.
func (h *hourly) trait(month int, years []int) trait {
	days := weather.MonthDays[month]
	v := make([]float64, 24*days)
	t := make(trait, len(years))
	for i, year := range years {
		h.month(year, month, v)
		t[i] = make([]float64, days)
		for d := range days {
			t[i][d] = average(v[24*d:][:24])
		}
	}
	return t
}

// whole tells whether a year has enough of its days to be compared.
func (t trait) whole(i int) bool {
	missing := 0
	for _, x := range t[i] {
		if x != x {
			missing++
		}
	}
	return float64(missing) <= maxMissing*float64(len(t[i]))
}

// average leaves out missing values; NaN of none.
func average(v []float64) float64 {
	sum, n := 0.0, 0
	for _, x := range v {
		if x == x {
			sum += x
			n++
		}
	}
	return sum / float64(n)
}

// distances gives the Finkelstein-Schafer statistic of each year: the sum of
// |F − Φ| over its days, F = J/(n+1) with J how many of the month's n days are at
// most that day's value, and Φ = K/(N+1) with K how many of all N. Days that lack
// count as the mean of the others; a year that lacks too many has +Inf.
// Source: Finkelstein and Schafer 1971, Biometrika 58, 641–645, as used by ISO
// 15927-4.
func (t trait) distances() []float64 {
	rising := func(v []float64) []float64 {
		v = slices.DeleteFunc(slices.Clone(v), math.IsNaN)
		slices.Sort(v)
		return v
	}
	all := rising(slices.Concat(t...))
	fs := make([]float64, len(t))
	for i, days := range t {
		if fs[i] = math.Inf(1); !t.whole(i) {
			continue
		}
		own := rising(days)
		sum := 0.0
		for _, x := range own {
			sum += math.Abs(place(own, x) - place(all, x))
		}
		fs[i] = sum / float64(len(own)) * float64(len(days))
	}
	return fs
}

// place gives the empirical distribution of rising values at x.
func place(rising []float64, x float64) float64 {
	upTo, _ := slices.BinarySearch(rising, math.Nextafter(x, math.Inf(1)))
	return float64(upTo) / float64(len(rising)+1)
}

// ranks gives the place of each value, 1 for the least; equals share one.
func ranks(v []float64) []int {
	r := make([]int, len(v))
	for i, x := range v {
		r[i] = 1
		for _, other := range v {
			if other < x {
				r[i]++
			}
		}
	}
	return r
}
