package series

import "stillrow/ingest/weather"

// monthStart is the first hour of each month in a year without leap day.
var monthStart = func() (start [12]int) {
	for m := 1; m < 12; m++ {
		start[m] = start[m-1] + 24*weather.MonthDays[m-1]
	}
	return start
}()

// startOf numbers the first hour of a month, from 0, of a year.
func startOf(year, month int) int { return weather.Hours*year + monthStart[month] }

// rotated is how many hours beyond the ends of the data local time and the
// steps may move: 12 and 6, and some more.
const rotated = 24

// month gives the hours of a month, from 0, of a year. Those that lie just
// before the beginning of the data or just behind their end are those of the year
// after or before: of one year in UTC, the hours that local time moves beyond
// one end fill the other.
func (h *hourly) month(year, month int, to []float64) {
	start := startOf(year, month)
	if i := start - h.first; i >= 0 && i+len(to) <= len(h.v) {
		copy(to, h.v[i:])
		return
	}
	for i := range to {
		hour := start + i
		switch {
		case hour < h.first && hour >= h.first-rotated:
			hour += weather.Hours
		case hour >= h.end() && hour < h.end()+rotated:
			hour -= weather.Hours
		}
		to[i] = h.at(hour)
	}
}

// full gives a column on the hours of the year; nil of none.
func (y *year) full(c *hourly) []float64 {
	if c == nil {
		return nil
	}
	v := make([]float64, weather.Hours)
	for m, days := range weather.MonthDays {
		c.month(y.from[m], m, v[monthStart[m]:][:24*days])
	}
	return v
}

// joint is how many hours either side of a join of months of different years
// the one passes into the other.
const joint = 8

// joined gives a column on the hours of the year. Where months of different
// years meet, the last 8 hours of the one and the first 8 of the next pass from
// the course of the one year to that of the other, where the data have both; so
// do the last of December and the first of January. ISO 15927-4 asks for the same
// hours to be adjusted, by curves.
func (y *year) joined(c *hourly) []float64 {
	v := y.full(c)
	if c == nil || y.made() {
		return v
	}
	for m := range y.from {
		next := (m + 1) % 12
		follows := y.from[m] // the year of the month after the earlier one
		if next == 0 {
			follows++
		}
		year := y.from[next]
		if follows == year {
			continue
		}
		for k := -joint; k < joint; k++ {
			before, after := c.at(startOf(follows, next)+k), c.at(startOf(year, next)+k)
			if before != before || after != after {
				continue
			}
			w := (float64(k) + joint + 0.5) / (2 * joint)
			v[(monthStart[next]+k+weather.Hours)%weather.Hours] = before + (after-before)*w
		}
	}
	return v
}
