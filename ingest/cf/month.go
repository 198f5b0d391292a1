package cf

import (
	"errors"
	"fmt"
	"math"
)

// addMonth adds a record that is a month, of a year or, where year is below 2
// as in climatologies, of none: its February then has 28.25 days.
func (c *clock) addMonth(year, month int) {
	seconds := int64(monthDays[month]) * day
	switch {
	case month != 2:
	case year < 2:
		seconds += day / 4
	case c.calendar.leap(year):
		seconds += day
	}
	c.months, c.seconds = append(c.months, month), append(c.seconds, seconds)
}

// A month spans 27 days at least (the even spacing of some climatologies is
// 30.4) and 32 at most: mid-month stamps are up to 31 days apart.
const shortMonth, longMonth = 27 * day, 32 * day

// monthly tells whether records are months: stamps or bounds a month apart.
func monthly(c *clock) bool {
	if len(c.stamps) == 1 {
		return c.bounds != nil && isMonth(c.bounds[0][1]-c.bounds[0][0])
	}
	for i := 1; i < len(c.stamps); i++ {
		if !isMonth(c.stamps[i] - c.stamps[i-1]) {
			return false
		}
	}
	return true
}

func isMonth(seconds int64) bool { return seconds >= shortMonth && seconds <= longMonth }

// ofMonths makes months of stamps. Bounds tell the month best: a stamp may lie
// at its beginning, its middle or its end.
func (c *clock) ofMonths(climatology bool) {
	for i, t := range c.stamps {
		switch {
		case c.bounds != nil && climatology:
			t = c.bounds[i][0] + 15*day // the beginning is in the first of the years, the end in the last
		case c.bounds != nil:
			t = c.bounds[i][0] + (c.bounds[i][1]-c.bounds[i][0])/2
		}
		d := c.calendar.dateOf(t)
		if climatology {
			d.year = 0
		}
		c.addMonth(d.year, d.month)
	}
	c.stamps, c.bounds = nil, nil
}

// checkMonths checks that months follow each other. Several years may.
func (r *reader) checkMonths(c *clock) error {
	for i := 1; i < len(c.months); i++ {
		if c.months[i] != c.months[i-1]%12+1 {
			return r.fail(c.variable, "record %d is of month %d after month %d: records have to be months in their order", i+1, c.months[i], c.months[i-1])
		}
	}
	return nil
}

// numbered reads a coordinate without a time unit: months numbered 1 to 12 or
// as YYYYMM, where a month 13 is the mean of the year.
func (c *clock) numbered(x []float64) error {
	for i, t := range x {
		year, month := floorDiv(int64(t), 100)
		if t != math.Trunc(t) || math.Abs(t) > 999999 || month < 1 || month > 13 || year != 0 && (year < 1000 || year > 9999) {
			return fmt.Errorf("%v is neither a month (YYYYMM, or 1 to 12) nor a time", t)
		}
		if month == 13 {
			c.yearSkipped++
			continue
		}
		c.addMonth(int(year), int(month))
		c.records = append(c.records, i)
	}
	if len(c.months) == 0 {
		return errors.New("means of years only: hours or twelve months are needed")
	}
	if c.yearSkipped == 0 {
		c.records = nil
	}
	for i := 1; i < len(c.months); i++ {
		if c.months[i] != c.months[i-1]%12+1 {
			return fmt.Errorf("month %d after month %d: months have to be in their order", c.months[i], c.months[i-1])
		}
	}
	return nil
}
