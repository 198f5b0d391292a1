package series

import (
	"fmt"
	"math"
	"time"
)

// between gives each hour the value at its middle, straight between the
// instants, or the middles of intervals, either side of it. Where only one side
// has a value it holds for half a step; the last instant of all stands for the
// whole step that it begins.
func (h *hourly) between(c *Column, t *track) {
	const half = 1800
	step := c.Axis.Step
	for i, r := range t.runs {
		v := c.Values[r.from:r.to]
		first := r.start + t.middle
		tail := step / 2
		if c.Axis.Instant && i == len(t.runs)-1 {
			tail = step - 1
		}
		hour := max(0, -floorDiv(half+step/2-first, 3600))
		end := first + int64(len(v)-1)*step + tail
		for mid := hour*3600 + half; mid <= end && hour < int64(len(h.v)); mid += 3600 {
			j := floorDiv(mid-first, step)
			past := mid - first - j*step
			left, right := math.NaN(), math.NaN()
			if j >= 0 {
				left = float64(v[j])
			}
			if int(j)+1 < len(v) {
				right = float64(v[j+1])
			}
			switch {
			case past == 0:
				h.v[hour] = left
			case left == left && right == right:
				h.v[hour] = left + (right-left)*float64(past)/float64(step)
			case int(j) == len(v)-1 || 2*past < step || 2*past == step && left == left:
				h.v[hour] = left
			default:
				h.v[hour] = right
			}
			hour++
		}
	}
}

// spread gives the hours of each interval its mean in the course of a clear sky,
// so that their mean is the interval's. With the sun down the interval is even.
func (h *hourly) spread(c *Column, t *track, of shape, clear clearYear) error {
	a := c.Axis
	n := int(a.Step / 3600)
	course := make([]float64, t.hours)
	for i, hour := range t.hoursOfYear() {
		course[i] = of(&clear[hour])
	}
	for _, r := range t.runs {
		begin := r.start + a.From
		if begin%3600 != 0 {
			return fmt.Errorf("intervals of %s begin %d min past the hour of local time, want whole hours",
				time.Duration(a.Step)*time.Second, begin%3600/60)
		}
		at := int(begin / 3600)
		for _, x := range c.Values[r.from:r.to] {
			sum := 0.0
			for _, part := range course[at : at+n] {
				sum += part
			}
			for i := at; i < at+n; i++ {
				h.v[i] = float64(x)
				if sum > 0 {
					h.v[i] *= course[i] * float64(n) / sum
				}
			}
			at += n
		}
	}
	return nil
}
