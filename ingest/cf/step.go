package cf

import "fmt"

// longestStep is the longest step that hours can be made of.
const longestStep = 6 * 3600 // s

// checkStep finds the step and checks that stamps are even but for a 29
// February that the calendar leaves out.
func (r *reader) checkStep(c *clock) error {
	if len(c.stamps) == 1 {
		if c.bounds == nil {
			return r.fail(c.variable, "one record without bounds: its step is unknown")
		}
		c.step = c.bounds[0][1] - c.bounds[0][0]
	} else {
		c.step = c.stamps[1] - c.stamps[0]
		for i := 2; i < len(c.stamps); i++ {
			c.step = min(c.step, c.stamps[i]-c.stamps[i-1])
		}
	}
	switch {
	case c.step == day:
		return r.fail(c.variable, "daily records: hours are needed, or means of twelve months")
	case c.step > longestStep:
		return r.fail(c.variable, "records %s apart: hours are needed, or means of twelve months", span(c.step))
	case c.step%3600 != 0 && 3600%c.step != 0:
		return r.fail(c.variable, "records %s apart: neither a part nor a multiple of an hour", span(c.step))
	case day%c.step != 0:
		return r.fail(c.variable, "records %s apart: a day has to be whole steps", span(c.step))
	}
	for i := 1; i < len(c.stamps); i++ {
		gap := c.stamps[i] - c.stamps[i-1]
		if gap != c.step && !(gap == c.step+day && overLeapDay(c.stamps[i-1], c.stamps[i])) {
			return r.fail(c.variable, "records %d and %d lie %s apart, others %s: steps have to be even", i, i+1, span(gap), span(c.step))
		}
	}
	return nil
}

// overLeapDay tells whether a 29 February lies between two stamps.
func overLeapDay(from, to int64) bool {
	for t := from; t <= to; t += 3600 {
		if d := gregorian.dateOf(t); d.month == 2 && d.day == 29 {
			return true
		}
	}
	return false
}

// span writes a length of time for people.
func span(seconds int64) string {
	switch {
	case seconds%day == 0:
		return fmt.Sprintf("%d d", seconds/day)
	case seconds > 2*day:
		return fmt.Sprintf("%.1f d", float64(seconds)/day)
	case seconds%3600 == 0:
		return fmt.Sprintf("%d h", seconds/3600)
	case seconds%60 == 0:
		return fmt.Sprintf("%d min", seconds/60)
	}
	return fmt.Sprintf("%d s", seconds)
}
