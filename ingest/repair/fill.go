package repair

import (
	"math"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// shortGap is the longest gap, hours, that is filled by interpolation.
const shortGap = 3

// fillGaps fills the gaps of a year-long column, which joins its own start:
// gaps of up to three hours straight between the values either side; longer
// ones, and those with no value on one side, with the mean of the same hour of
// the nearest day before and the nearest day after that have it. Where no day
// has that hour, it is straight between the values either side after all, or
// the one there is. NaN outside gaps is no value to fill from, and NaN remains
// where there is none.
func fillGaps(v []float64, gap []bool) {
	n := len(v)
	first := -1 // an hour that no gap reaches across
	for h := range v {
		if gap[h] && !gap[(h+n-1)%n] {
			first = h
			break
		}
	}
	if first < 0 {
		return
	}
	had := append([]float64(nil), v...)
	for h := range gap {
		if gap[h] {
			had[h] = math.NaN()
		}
	}
	for i := 0; i < n; {
		start := first + i
		if !gap[start%n] {
			i++
			continue
		}
		size := 1
		for gap[(start+size)%n] {
			size++
		}
		left, right := had[(start+n-1)%n], had[(start+size)%n]
		for j := range size {
			h := (start + j) % n
			if size > shortGap || missing(left) || missing(right) {
				if v[h] = neighbourDays(had, h); v[h] == v[h] {
					continue
				}
			}
			v[h] = between(left, right, float64(j+1)/float64(size+1))
		}
		i += size
	}
}

// between interpolates; with one side missing it is the other.
func between(left, right, f float64) float64 {
	switch {
	case missing(left):
		return right
	case missing(right):
		return left
	}
	return left + (right-left)*f
}

// neighbourDays averages the same hour of the nearest earlier and the nearest
// later day that have it, NaN when none has.
func neighbourDays(v []float64, h int) float64 {
	n := len(v)
	find := func(step int) float64 {
		for d := 1; d <= n/24/2; d++ {
			if x := v[((h+step*d)%n+n)%n]; x == x {
				return x
			}
		}
		return math.NaN()
	}
	return between(find(-24), find(24), 0.5)
}

// fillColumn fills a column as it stands and counts it; no values, no filling.
func (w *work) fillColumn(name string, v []float64) {
	n := countMissing(v)
	w.noteFilled(name, n)
	if n == 0 {
		return
	}
	gap := make([]bool, len(v))
	for h, x := range v {
		if gap[h] = missing(x); gap[h] {
			w.filled[h] = true
		}
	}
	fillGaps(v, gap)
}

func countMissing(v []float64) (n int) {
	for _, x := range v {
		if missing(x) {
			n++
		}
	}
	return n
}

// noteFilled counts filled hours of a column.
func (w *work) noteFilled(name string, n int) {
	w.report.count(name).Filled += n
	if float64(w.report.count(name).Filled) > maxMissing*weather.Hours {
		w.flag(FlagManyFilled)
	}
}

// fillAir fills air temperature and wind, and brings wind to 10 m.
func (w *work) fillAir() {
	const assumedWind, tableHeight = 3, 10
	r := w.raw
	w.fillColumn("air_temperature_c", r.AirTemperature)
	if r.Wind == nil {
		r.Wind = make([]float64, weather.Hours)
		for h := range r.Wind {
			r.Wind[h] = assumedWind
		}
		w.flag(FlagWindAssumed)
		return
	}
	if z := r.WindHeight; z > 0 && z != tableHeight {
		f := sky.WindAt10(1, z)
		for h := range r.Wind {
			r.Wind[h] *= f
		}
		w.flag(FlagWindHeight)
	}
	w.fillColumn("wind_speed_m_s", r.Wind)
}

// snow fills the snow depth, or rejects the column when it has snow on a warm
// day.
func (w *work) snow() {
	const warm = 10 // °C, mean of a day
	r := w.raw
	if r.Snow == nil {
		r.Snow = make([]float64, weather.Hours)
		w.flag(FlagSnowAbsent)
		return
	}
	reject := false
	eachDay(func(_, h int) {
		if mean(r.AirTemperature[h:h+24]) <= warm {
			return
		}
		for _, x := range r.Snow[h : h+24] {
			reject = reject || x > 0
		}
	})
	if reject {
		r.Snow = make([]float64, weather.Hours)
		w.flag(FlagSnowRejected)
		return
	}
	w.fillColumn("snow_depth_cm", r.Snow)
}

// nans is a column without values.
func nans() []float64 {
	v := make([]float64, weather.Hours)
	for h := range v {
		v[h] = math.NaN()
	}
	return v
}
