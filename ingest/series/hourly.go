package series

import (
	"fmt"
	"math"
	"slices"
	"time"

	"stillrow/ingest/weather"
)

// An hourly column is the values of consecutive hours of local standard time in
// a calendar without leap days, NaN where missing. Its hours are numbered from
// the beginning of the year 0, weather.Hours to a year.
type hourly struct {
	name  string
	first int
	v     []float64
	off   int64 // s from the middle of each hour to the middle of what its value stands for
	leap  []int // years of which a 29 February was cut out
}

// at gives the value of an hour, NaN outside.
func (h *hourly) at(hour int) float64 {
	if i := hour - h.first; i >= 0 && i < len(h.v) {
		return h.v[i]
	}
	return math.NaN()
}

// end is the hour after the last.
func (h *hourly) end() int { return h.first + len(h.v) }

// A kind is what of a column says how it becomes hours.
type kind struct {
	name  string
	solar bool   // driven by the sun
	in    course // of the hours of longer intervals, for a solar one
}

// hours brings a column to hours on its track. clear is asked for the sky only
// where the hours of longer intervals are to follow it.
func (c *Column) hours(k kind, t *track, clear func() clearYear) (*hourly, error) {
	a := c.Axis
	fail := func(err error) error { return &weather.FileError{Field: k.name, Err: err} }
	if len(c.Values) != len(a.Stamp) {
		return nil, fail(fmt.Errorf("%d values at %d stamps", len(c.Values), len(a.Stamp)))
	}
	h := &hourly{name: k.name, first: t.first, v: make([]float64, t.hours)}
	for i := range h.v {
		h.v[i] = math.NaN()
	}
	// Within a step of hours: where its first middle lies.
	phase := floorMod(t.runs[0].start+t.middle, a.Step)
	switch {
	case a.Step > 3600 && k.solar && a.Instant:
		return nil, fail(fmt.Errorf("instants %s apart do not give hourly irradiance; means are wanted", time.Duration(a.Step)*time.Second))
	case a.Step > 3600 && k.solar:
		if err := h.spread(c, t, k.in, clear()); err != nil {
			return nil, fail(err)
		}
	case a.Step > 3600:
		h.between(c, t)
	case a.Instant && 2*phase != a.Step:
		h.trapezoid(c, t)
	case a.Step == 3600 && 2*phase != a.Step && !k.solar:
		h.between(c, t)
	default:
		h.average(c, t)
		h.off = phase - a.Step/2
	}
	for _, l := range t.leap {
		if noon := l.at + 12; noon >= 0 && noon < len(h.v) && h.v[noon] == h.v[noon] {
			h.leap = append(h.leap, l.year)
		}
	}
	h.v = t.cut(h.v)
	return h, nil
}

// hasLeapDay tells whether a 29 February of the year was cut out.
func (h *hourly) hasLeapDay(year int) bool { return slices.Contains(h.leap, year) }

// put sets the value of an hour; one beyond the ends is left out.
func (h *hourly) put(hour int64, v float64) {
	if hour >= 0 && hour < int64(len(h.v)) {
		h.v[hour] = v
	}
}

// average gives each hour the mean of the values whose middle lies in it; NaN
// where less than half of them are there.
func (h *hourly) average(c *Column, t *track) {
	step := c.Axis.Step
	if step == 3600 {
		for _, r := range t.runs {
			to := h.v[(r.start+t.middle)/3600:]
			for i, x := range c.Values[r.from:r.to] {
				to[i] = float64(x)
			}
		}
		return
	}
	per := int(3600 / step)
	sum, n, at := 0.0, 0, int64(-1)
	end := func() {
		if 2*n >= per {
			h.put(at, sum/float64(n))
		}
		sum, n = 0, 0
	}
	for _, r := range t.runs {
		mid := r.start + t.middle
		for _, x := range c.Values[r.from:r.to] {
			if hour := mid / 3600; hour != at {
				end()
				at = hour
			}
			if v := float64(x); v == v {
				sum += v
				n++
			}
			mid += step
		}
	}
	end()
}

// trapezoid gives each hour the mean of the straight lines between instants. An
// hour that lacks one of them is missing, but for the first and the last of all,
// which lie partly outside: they have the mean of the instants in them.
func (h *hourly) trapezoid(c *Column, t *track) {
	step := c.Axis.Step
	per := int(3600 / step)
	for _, r := range t.runs {
		v := c.Values[r.from:r.to]
		hour := -floorDiv(-r.start, 3600) // the first that begins in the run
		past := hour*3600 - r.start       // s
		i := int(past / step)
		weights := hourWeights(float64(past%step)/float64(step), per)
		for ; i+len(weights) <= len(v); i += per {
			sum := 0.0
			for j, w := range weights {
				sum += w * float64(v[i+j])
			}
			h.put(hour, sum)
			hour++
		}
	}
	h.edge(c, t, 0)
	h.edge(c, t, len(h.v)-1)
}

// hourWeights gives the weight of each instant in the mean of an hour, of straight
// lines between instants an hour/per apart. The hour begins the part q, 0 ≤ q < 1,
// of a step after the first of them.
func hourWeights(q float64, per int) []float64 {
	w := make([]float64, per+2)
	// The lines from the first instant to the one an hour later, without the part
	// before the hour begins and with the like after.
	for i := range per {
		w[i] += 0.5
		w[i+1] += 0.5
	}
	late := q * q / 2
	early := q - late
	w[0] -= early
	w[1] -= late
	w[per] += early
	w[per+1] += late
	for i := range w {
		w[i] /= float64(per)
	}
	if q == 0 {
		w = w[:per+1]
	}
	return w
}

// edge gives a missing hour the mean of the values stamped in it.
func (h *hourly) edge(c *Column, t *track, hour int) {
	if h.v[hour] == h.v[hour] {
		return
	}
	r, v := t.runs[0], c.Values
	step := c.Axis.Step
	if hour > 0 {
		r = t.runs[len(t.runs)-1]
	}
	sum, n := 0.0, 0
	lo := max(0, -floorDiv(r.start-int64(hour)*3600, step)) // the first stamped in the hour or after it
	for i := lo; i < int64(r.to-r.from) && r.start+i*step < int64(hour+1)*3600; i++ {
		if x := float64(v[r.from+int(i)]); x == x {
			sum += x
			n++
		}
	}
	if n > 0 {
		h.v[hour] = sum / float64(n)
	}
}
