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

// A course divides the mean x of record i of a column among the hours of its
// interval: it fills to, as long as the hours, with values whose mean is x.
type course func(i int, x float64, hours []clearHour, to []float64)

// along is the course of a part of a clear sky; with the sun down it is even.
func along(of shape) course {
	return func(_ int, x float64, hours []clearHour, to []float64) {
		m := meanOf(of, hours)
		for k := range to {
			to[k] = x
			if m > 0 {
				to[k] *= of(&hours[k]) / m
			}
		}
	}
}

// besides is the course of diffuse irradiance beside a known direct one on the
// horizontal: that of both together, in the course of a clear sky's global, less
// the direct in its own. Under cloud the diffuse so takes the course of the global,
// and under a clear sky that of the clear sky's diffuse, so that the hours close.
// Where the direct is unknown or takes more than there is, it is the latter.
func besides(direct func(i int, hours []clearHour) float64) course {
	clear := along(diffuse)
	return func(i int, x float64, hours []clearHour, to []float64) {
		b := max(0, direct(i, hours))
		global, beam := meanOf((*clearHour).global, hours), meanOf(beam, hours)
		if !(b >= 0 && beam > 0) {
			clear(i, x, hours, to)
			return
		}
		for k := range to {
			if to[k] = (x+b)*hours[k].global()/global - b*hours[k].beam/beam; to[k] < 0 {
				clear(i, x, hours, to)
				return
			}
		}
	}
}

func meanOf(of shape, hours []clearHour) float64 {
	sum := 0.0
	for k := range hours {
		sum += of(&hours[k])
	}
	return sum / float64(len(hours))
}

// spread gives the hours of each interval its mean in some course.
func (h *hourly) spread(c *Column, t *track, in course, clear clearYear) error {
	a := c.Axis
	n := int(a.Step / 3600)
	hours := make([]clearHour, t.hours)
	for i, of := range t.hoursOfYear() {
		hours[i] = clear[of]
	}
	for _, r := range t.runs {
		begin := r.start + a.From
		if begin%3600 != 0 {
			return fmt.Errorf("intervals of %s begin %d min past the hour of local time, want whole hours",
				time.Duration(a.Step)*time.Second, begin%3600/60)
		}
		at := int(begin / 3600)
		for i := r.from; i < r.to; i++ {
			in(i, float64(c.Values[i]), hours[at:at+n], h.v[at:at+n])
			at += n
		}
	}
	return nil
}
