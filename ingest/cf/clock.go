package cf

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"stillrow/ingest/netcdf"
	"stillrow/ingest/series"
)

// A clock is a time coordinate: evenly spaced stamps, or months.
type clock struct {
	variable string
	local    bool // stamps are local time
	solar    bool // the file calls it solar time

	calendar calendar
	stamps   []int64        // s since 1970
	bounds   [][2]int64     // of each stamp, nil where the file has none
	step     int64          // s
	axes     []*series.Axis // of the fields so far

	months      []int   // calendar month of each record
	seconds     []int64 // length of each month
	records     []int   // index in the file of each month; nil where all are taken
	yearSkipped int     // yearly means among the months
}

// length of a month, s; the climatological February has 28.25 days.
func monthLength(month int) int64 {
	if month == 2 {
		return 28*day + day/4
	}
	return int64(monthDays[month]) * day
}

// A month spans 27 days at least (the even spacing of some climatologies is
// 30.4) and 32 at most: mid-month stamps are up to 31 days apart.
const shortMonth, longMonth = 27 * day, 32 * day

// isTime says how surely a variable is the time coordinate of its dimension, 0
// where it is not.
func isTime(v *netcdf.Var, dim string) int {
	units, standard, name := fold(v.Text("units")), plain(v.Text("standard_name")), strings.ToLower(v.Name)
	switch {
	case strings.HasPrefix(standard, "forecast_"):
		return 0
	case standard == "time" || standard == "local_time":
		return 3
	case strings.Contains(units, " since "):
		return 2
	case v.Name != dim:
		return 0
	case v.Text("axis") == "T" || name == "time" || name == "valid_time" || name == "month" || name == "months":
		return 1
	}
	return 0
}

// timeDim finds the dimension of v that is time, −1 where it has none.
func (r *reader) timeDim(v *netcdf.Var) (dim int, coord *netcdf.Var) {
	best, dim := 0, -1
	for _, d := range v.Dims {
		if d == r.coord.lat || d == r.coord.lon {
			continue
		}
		for _, c := range r.file.Vars {
			if len(c.Dims) != 1 || c.Dims[0] != d || c.Type == netcdf.Char || c.Type == netcdf.String {
				continue
			}
			rank := 2 * isTime(c, r.file.Dims[d].Name)
			if rank > 0 && c.Name == r.file.Dims[d].Name {
				rank++
			}
			if rank > best {
				best, dim, coord = rank, d, c
			}
		}
	}
	return dim, coord
}

// clock reads the time coordinate of a dimension, once.
func (r *reader) clock(dim int, v *netcdf.Var) (*clock, error) {
	if c := r.times[dim]; c != nil {
		return c, nil
	}
	c, err := r.readClock(v)
	if err != nil {
		return nil, err
	}
	r.times[dim] = c
	if c.yearSkipped > 0 {
		r.warn(v.Name, "month 13 is the mean of the year; left out")
	}
	if c.solar {
		r.warn(v.Name, "solar time taken as local standard time")
	}
	return c, nil
}

func (r *reader) readClock(v *netcdf.Var) (*clock, error) {
	x, err := r.values(v)
	if err != nil {
		return nil, err
	}
	for i, t := range x {
		if math.IsNaN(t) {
			return nil, r.fail(v.Name, "record %d has no time", i+1)
		}
		if i > 0 && t <= x[i-1] {
			what := "comes after"
			if t == x[i-1] {
				what = "repeats"
			}
			return nil, r.fail(v.Name, "record %d, %v, %s %v: times have to rise", i+1, t, what, x[i-1])
		}
	}
	local := strings.ToLower(plain(v.Text("standard_name")) + " " + plain(v.Text("long_name")))
	c := &clock{variable: v.Name, local: strings.Contains(local, "local")}
	c.solar = c.local && strings.Contains(local, "solar")
	if c.calendar, err = parseCalendar(v.Text("calendar")); err != nil {
		return nil, r.wrap(v.Name, err)
	}
	units := v.Text("units")
	s, err := parseSince(units, c.calendar)
	switch {
	case errors.Is(err, errNoSince):
		if err := c.numbered(x); err != nil {
			return nil, r.fail(v.Name, "units %q: %v", units, err)
		}
		return c, nil
	case err != nil:
		return nil, r.fail(v.Name, "units %q: %v", units, err)
	case s.unit == 0:
		for _, t := range x {
			m, err := s.month(t)
			if err != nil {
				return nil, r.wrap(v.Name, err)
			}
			c.months = append(c.months, m)
		}
		c.measureMonths()
		return c, r.checkMonths(c)
	}
	if c.stamps, err = r.stamps(v.Name, x, s); err != nil {
		return nil, err
	}
	climatology := v.Text("climatology") != ""
	if err := r.readTimeBounds(c, v, s); err != nil {
		return nil, err
	}
	if climatology || monthly(c) {
		c.ofMonths(climatology)
		return c, r.checkMonths(c)
	}
	return c, r.checkStep(c)
}

// stamps turns the values of a coordinate into seconds since 1970.
func (r *reader) stamps(variable string, x []float64, s since) ([]int64, error) {
	stamps := make([]int64, len(x))
	for i, t := range x {
		var err error
		if stamps[i], err = s.at(t); err != nil {
			return nil, r.fail(variable, "record %d: %v", i+1, err)
		}
		if i > 0 && stamps[i] <= stamps[i-1] {
			return nil, r.fail(variable, "records %d and %d lie less than two seconds apart", i, i+1)
		}
	}
	return stamps, nil
}

// readTimeBounds reads the interval of each stamp. Bounds are in the units of
// the coordinate (CF 7.1).
func (r *reader) readTimeBounds(c *clock, v *netcdf.Var, s since) error {
	name := v.Text("climatology")
	if name == "" {
		name = v.Text("bounds")
	}
	b := r.file.Var(strings.TrimSpace(name))
	if b == nil {
		return nil // also where the attribute names what is not there
	}
	if len(b.Dims) != 2 || b.Dims[0] != v.Dims[0] || r.file.Dims[b.Dims[1]].Len != 2 {
		return r.fail(b.Name, "bounds of %s want two entries a record", v.Name)
	}
	x, err := r.values(b)
	if err != nil {
		return err
	}
	c.bounds = make([][2]int64, len(c.stamps))
	for i := range c.bounds {
		for k := range 2 {
			if c.bounds[i][k], err = s.at(x[2*i+k]); err != nil {
				return r.fail(b.Name, "record %d: %v", i+1, err)
			}
		}
		if c.bounds[i][1] < c.bounds[i][0] {
			return r.fail(b.Name, "record %d ends before it begins", i+1)
		}
	}
	if i := slices.IndexFunc(c.bounds, func(b [2]int64) bool { return b[0] != b[1] }); i < 0 {
		c.bounds = nil // instants
	}
	return nil
}

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
		c.months = append(c.months, c.calendar.dateOf(t).month)
	}
	c.stamps, c.bounds = nil, nil
	c.measureMonths()
}

func (c *clock) measureMonths() {
	for _, m := range c.months {
		c.seconds = append(c.seconds, monthLength(m))
	}
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
		c.months = append(c.months, int(month))
		c.records = append(c.records, i)
	}
	if len(c.months) == 0 {
		return errors.New("means of years only: hours or twelve months are needed")
	}
	if c.yearSkipped == 0 {
		c.records = nil
	}
	c.measureMonths()
	for i := 1; i < len(c.months); i++ {
		if c.months[i] != c.months[i-1]%12+1 {
			return fmt.Errorf("month %d after month %d: months have to be in their order", c.months[i], c.months[i-1])
		}
	}
	return nil
}

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
