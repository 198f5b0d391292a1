package series

import (
	"fmt"
	"math"
	"slices"
	"time"

	"stillrow/ingest/weather"
)

// choose finds the year of each month: the one given, or the most typical of
// those that have the month.
func (y *year) choose(given int) error {
	first, last := y.span()
	if y.s.MonthYears != [12]int{} {
		first, last = NominalYear, NominalYear
		if given != 0 {
			return &weather.FileError{Err: fmt.Errorf("a typical year made of several, no data of %d alone", given)}
		}
	} else if given != 0 {
		if given < first || given > last {
			return &weather.FileError{Err: fmt.Errorf("no data of %d: they run from %d to %d", given, first, last)}
		}
		first, last = given, given
	}
	for m := 1; m <= 12; m++ {
		var years []int
		var why error
		for year := first; year <= last; year++ {
			err := y.serves(year, m)
			if err == nil {
				years = append(years, year)
			} else if why == nil {
				why = err
			}
		}
		switch len(years) {
		case 0:
			return &weather.FileError{Err: fmt.Errorf("%s: no year has it: %w", time.Month(m), why)}
		case 1:
			y.from[m-1] = years[0]
		default:
			y.from[m-1] = y.typical(m, years)
		}
	}
	return nil
}

// span gives the first and last calendar year, local time, that the irradiance
// has at least half a month of.
func (y *year) span() (first, last int) {
	c := y.ghi
	if c == nil {
		c = y.dhi
	}
	const halfMonth = 14 * 24
	from, to := c.first+halfMonth, c.first+int64(len(c.v))-halfMonth
	return time.Unix(from*3600, 0).UTC().Year(), time.Unix(max(from, to)*3600, 0).UTC().Year()
}

// A trait is the daily means of one quantity in a month, of each year.
type trait [][]float64

// typical chooses the year whose month is most like the month of all years, by
// ISO 15927-4:2005: for daily means of global irradiance, air temperature and
// humidity the Finkelstein-Schafer statistic of each year is the sum over the
// month's days of the distance between the year's cumulative distribution and
// that of all years; the years are ranked by it for each quantity, and of the
// three with the least sum of ranks the one is chosen whose mean wind speed is
// nearest to that of all years. The procedure is given from memory of the
// standard. A quantity that the data lack drops out; without wind the least sum
// of ranks decides. Ties go to the earlier year.
func (y *year) typical(month int, years []int) int {
	humidity := y.dew
	for _, c := range []*hourly{y.humidity, y.vapour, y.specific} {
		if humidity == nil {
			humidity = c
		}
	}
	global := y.ghi
	if global == nil {
		global = y.dhi
	}
	rank := make([]int, len(years))
	for _, c := range []*hourly{global, y.air, humidity} {
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
	winds := make([]float64, len(years))
	for i, days := range y.wind.trait(month, years) {
		winds[i] = average(days)
	}
	long := average(winds)
	best, least := order[0], math.Inf(1)
	for _, i := range order {
		if d := math.Abs(winds[i] - long); d < least {
			best, least = i, d
		}
	}
	return years[best]
}

// trait gives the daily means of a month in each year; days without any value
// are left out.
func (c *hourly) trait(month int, years []int) trait {
	days := weather.MonthDays[month-1]
	v := make([]float64, 24*days)
	t := make(trait, len(years))
	for i, year := range years {
		c.month(year, month, v)
		for d := range days {
			if m := average(v[24*d : 24*d+24]); m == m {
				t[i] = append(t[i], m)
			}
		}
	}
	return t
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

// distances gives the Finkelstein-Schafer statistic of each year: Σ|F − Φ| over
// its days, F = J/(n+1) the day's place among the n of its month and Φ = K/(N+1)
// its place among all N. Source: Finkelstein and Schafer 1971, Biometrika 58,
// 641–645, as used by ISO 15927-4.
func (t trait) distances() []float64 {
	var all []float64
	for _, days := range t {
		all = append(all, days...)
	}
	slices.Sort(all)
	fs := make([]float64, len(t))
	for i, days := range t {
		own := slices.Clone(days)
		slices.Sort(own)
		for j, x := range own {
			k, _ := slices.BinarySearch(all, math.Nextafter(x, math.Inf(1))) // days up to x
			fs[i] += math.Abs(float64(j+1)/float64(len(own)+1) - float64(k)/float64(len(all)+1))
		}
		if len(own) == 0 {
			fs[i] = math.Inf(1)
		}
	}
	return fs
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

// joint is how many hours either side of a join of months of different years
// the one passes into the other.
const joint = 8

// joined gives a column on the hours of the year. Where months of different
// years meet, the last 8 hours of the one and the first 8 of the next pass from
// the course of the one year to that of the other, where the data have both. ISO
// 15927-4 asks for the same hours to be adjusted, by curves.
func (y *year) joined(c *hourly) []float64 {
	v := y.full(c)
	if c == nil {
		return nil
	}
	for m := range y.from {
		next := (m + 1) % 12
		end, year := y.from[m], y.from[next]
		follows := end // the year in which the month after the earlier one lies
		if next == 0 {
			follows++
		}
		if follows == year || y.s.MonthYears != [12]int{} {
			continue
		}
		at := hourOfYear(next+1, 1, 0)
		for k := -joint; k < joint; k++ {
			before := c.at(hoursOf(follows, next+1) + int64(k))
			after := c.at(hoursOf(year, next+1) + int64(k))
			if before != before || after != after {
				continue
			}
			w := (float64(k) + joint + 0.5) / (2 * joint)
			h := ((at+k)%weather.Hours + weather.Hours) % weather.Hours
			v[h] = before + (after-before)*w
		}
	}
	return v
}
