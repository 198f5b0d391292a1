package series

import (
	"fmt"
	"math"
	"time"

	"stillrow/ingest/weather"
)

// An hourly column is the values of consecutive hours of local standard time,
// the first of them so many hours after 1970-01-01 00:00; NaN where missing.
type hourly struct {
	name  string
	first int64
	v     []float64
	off   int64 // s from the middle of each hour to what its value stands for
}

// at gives the value of an hour, NaN outside.
func (c *hourly) at(hour int64) float64 {
	if i := hour - c.first; i >= 0 && i < int64(len(c.v)) {
		return c.v[i]
	}
	return math.NaN()
}

// has tells whether the column reaches to an hour, with a value or not.
func (c *hourly) has(hour int64) bool { return hour >= c.first && hour < c.first+int64(len(c.v)) }

// maxStep is the longest step that is brought to hours.
const maxStep = 6 * 3600

// longest is the most hours between the first and the last record: 200 years.
const longest = 200 * 8784

// check refuses axes that are not even.
func (a *Axis) check() error {
	switch {
	case len(a.Stamp) == 0:
		return fmt.Errorf("no records")
	case a.Step <= 0 || a.Step > maxStep || 3600%a.Step != 0 && a.Step%3600 != 0:
		return fmt.Errorf("records of %s: want hours, equal parts of one, or 2 to 6", time.Duration(a.Step)*time.Second)
	case a.Instant && a.From != 0:
		return fmt.Errorf("instants with an interval from %d s on", a.From)
	}
	for i := 1; i < len(a.Stamp); i++ {
		if d := a.Stamp[i] - a.Stamp[i-1]; d <= 0 || d%a.Step != 0 {
			return fmt.Errorf("record %d is stamped %s, %s after the one before: want %s or a multiple", i,
				stampText(a.Stamp[i]), time.Duration(d)*time.Second, time.Duration(a.Step)*time.Second)
		}
	}
	if n := (a.Stamp[len(a.Stamp)-1] - a.Stamp[0]) / 3600; n > longest {
		return fmt.Errorf("%d hours from the first record to the last, at most %d are read", n, longest)
	}
	return nil
}

func stampText(s int64) string { return time.Unix(s, 0).UTC().Format("2006-01-02 15:04") }

// floorDiv divides towards minus infinity.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// hours brings a column to hours of local time, offset s ahead of its stamps.
// shape is nil, or the clear-sky irradiance whose course the hours of longer
// intervals follow.
func (c *Column) hours(name string, offset int64, shape func(hour int64) float64) (*hourly, error) {
	a := c.Axis
	fail := func(err error) error { return &weather.FileError{Field: name, Err: err} }
	if len(c.Values) != len(a.Stamp) {
		return nil, fail(fmt.Errorf("%d values at %d stamps", len(c.Values), len(a.Stamp)))
	}
	h := &hourly{name: name, first: floorDiv(a.Stamp[0]+a.From+offset, 3600)}
	last := floorDiv(a.Stamp[len(a.Stamp)-1]+a.From+offset+a.Step-1, 3600)
	if a.Instant {
		last = floorDiv(a.Stamp[len(a.Stamp)-1]+offset, 3600)
	}
	h.v = make([]float64, last-h.first+1)
	for i := range h.v {
		h.v[i] = math.NaN()
	}
	switch {
	case a.Instant && a.Step > 3600 && shape != nil:
		return nil, fail(fmt.Errorf("instants %s apart do not give hourly irradiance; means are wanted", time.Duration(a.Step)*time.Second))
	case a.Step > 3600 && shape != nil:
		return h, h.spread(c, offset, shape)
	case a.Step > 3600:
		h.between(c, offset)
	case a.Instant && 2*floorMod(a.Stamp[0]+offset, a.Step) == a.Step:
		h.average(c, a.Stamp, offset, 0)
	case a.Instant:
		h.trapezoid(c, offset)
	default:
		h.average(c, a.Stamp, offset, a.From+a.Step/2)
	}
	return h, nil
}

func floorMod(a, b int64) int64 { return a - b*floorDiv(a, b) }

// average gives each hour the mean of the values whose middle lies in it; NaN
// where less than half of them are there.
func (h *hourly) average(c *Column, stamps []int64, offset, middle int64) {
	per := int(3600 / c.Axis.Step)
	if per == 1 {
		for i, s := range stamps {
			mid := s + offset + middle
			k := floorDiv(mid, 3600)
			h.off = mid - k*3600 - 1800
			h.put(k, float64(c.Values[i]))
		}
		return
	}
	sum, n, at := 0.0, 0, int64(math.MinInt64)
	end := func() {
		if 2*n >= per {
			h.put(at, sum/float64(n))
		}
		sum, n = 0, 0
	}
	for i, s := range stamps {
		k := floorDiv(s+offset+middle, 3600)
		if k != at {
			end()
			at = k
		}
		if x := float64(c.Values[i]); x == x {
			sum += x
			n++
		}
	}
	end()
}

// put sets the value of an hour; one beyond the ends is left out.
func (h *hourly) put(hour int64, v float64) {
	if h.has(hour) {
		h.v[hour-h.first] = v
	}
}

// trapezoid gives each hour the mean of the straight lines between instants.
// An hour that lacks one of them is missing, but for the last hour of all, which
// keeps the mean of what it has.
func (h *hourly) trapezoid(c *Column, offset int64) {
	a := c.Axis
	area, length := make([]float64, len(h.v)), make([]int64, len(h.v))
	for i := 1; i < len(a.Stamp); i++ {
		t0, t1 := a.Stamp[i-1]+offset, a.Stamp[i]+offset
		if t1-t0 != a.Step {
			continue
		}
		v0, v1 := float64(c.Values[i-1]), float64(c.Values[i])
		if v0 != v0 || v1 != v1 {
			continue
		}
		for from := t0; from < t1; {
			k := floorDiv(from, 3600)
			to := min(t1, (k+1)*3600)
			mid := (float64(from+to)/2 - float64(t0)) / float64(a.Step)
			area[k-h.first] += (v0 + (v1-v0)*mid) * float64(to-from)
			length[k-h.first] += to - from
			from = to
		}
	}
	n := len(h.v) - 1
	for i := range h.v {
		switch {
		case length[i] == 3600 || i == n && length[i] > 0:
			h.v[i] = area[i] / float64(length[i])
		case i == n:
			h.v[i] = float64(c.Values[len(c.Values)-1])
		}
	}
}

// between gives each hour the value at its middle, straight between the
// instants, or the middles of intervals, either side of it, and within half a
// step of the first and the last.
func (h *hourly) between(c *Column, offset int64) {
	a := c.Axis
	middle := a.From + a.Step/2
	if a.Instant {
		middle = 0
	}
	if !a.Instant { // intervals reach half a step beyond their middles
		first, last := a.Stamp[0]+offset+a.From, a.Stamp[len(a.Stamp)-1]+offset+a.From+a.Step
		for k := h.first; k <= h.first+int64(len(h.v))-1; k++ {
			switch mid := k*3600 + 1800; {
			case mid >= first && mid <= first+a.Step/2:
				h.put(k, float64(c.Values[0]))
			case mid >= last-a.Step/2 && mid <= last:
				h.put(k, float64(c.Values[len(c.Values)-1]))
			}
		}
	}
	for i := 1; i < len(a.Stamp); i++ {
		t0, t1 := a.Stamp[i-1]+offset+middle, a.Stamp[i]+offset+middle
		if t1-t0 != a.Step {
			continue
		}
		v0, v1 := float64(c.Values[i-1]), float64(c.Values[i])
		for k := floorDiv(t0-1800+3599, 3600); k*3600+1800 <= t1; k++ {
			h.put(k, v0+(v1-v0)*float64(k*3600+1800-t0)/float64(a.Step))
		}
	}
	// The last instant stands for the rest of its step.
	if a.Instant {
		end := a.Stamp[len(a.Stamp)-1] + offset
		for k := floorDiv(end, 3600); k*3600+1800 < end+a.Step; k++ {
			h.put(k, float64(c.Values[len(c.Values)-1]))
		}
	}
}

// spread gives the hours of each interval its mean in the course of shape, so
// that their mean is the interval's. Without any of it the interval is even.
func (h *hourly) spread(c *Column, offset int64, shape func(hour int64) float64) error {
	a := c.Axis
	n := a.Step / 3600
	course := make([]float64, n)
	for i, s := range a.Stamp {
		from := s + offset + a.From
		if from%3600 != 0 {
			return &weather.FileError{Field: h.name, Err: fmt.Errorf("intervals of %s begin at %s local time, want whole hours",
				time.Duration(a.Step)*time.Second, stampText(from))}
		}
		sum := 0.0
		for k := range course {
			course[k] = shape(from/3600 + int64(k))
			sum += course[k]
		}
		for k := range course {
			share := 1.0
			if sum > 0 {
				share = course[k] * float64(n) / sum
			}
			h.put(from/3600+int64(k), float64(c.Values[i])*share)
		}
	}
	return nil
}
