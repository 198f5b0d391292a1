package psm

import (
	"errors"
	"time"

	"stillrow/ingest/row"
	"stillrow/ingest/series"
)

// A clock collects the times of the rows.
type clock struct {
	rows []stamped
}

// stamped is the time of a row, in seconds: as it stands, and moved to the
// nominal year.
type stamped struct {
	real, nominal int64
	year          int16
	month         int8
	line          int
}

// put reads the time of a row.
func (c *clock) put(h row.Header, lay *layout, fields *row.Fields) error {
	var n [len(stamps)]int
	for i, at := range lay.stamp {
		v, ok := row.Whole(fields.Field(at))
		if !ok {
			return h.Errorf(stamps[i], "%q is not a whole number", row.Text(fields.Field(at)))
		}
		n[i] = v
	}
	t := row.Stamp{Year: n[0], Month: n[1], Day: n[2], Hour: n[3]}
	switch err := t.Check(h); {
	case err != nil:
		return err
	case t.Month == 2 && t.Day == 29 && !row.LeapYear(t.Year):
		return h.Errorf("Day", "%d has no 29 February", t.Year)
	case n[3] > 23:
		return h.Errorf("Hour", "%d is outside 0 to 23", n[3])
	case n[4] > 59:
		return h.Errorf("Minute", "%d is outside 0 to 59", n[4])
	}
	c.rows = append(c.rows, stamped{
		real: civil(t.Year, t, n[4]), nominal: civil(series.NominalYear, t, n[4]),
		year: int16(t.Year), month: int8(t.Month), line: h.Line,
	})
	return nil
}

// civil gives seconds since 1970 in the calendar.
func civil(year int, t row.Stamp, minute int) int64 {
	return time.Date(year, time.Month(t.Month), t.Day, t.Hour, minute, 0, 0, time.UTC).Unix()
}

// axis gives the instants, and the year of each month of a typical year: a file
// of several years whose rows follow one calendar from January to December.
func (c *clock) axis(name string) (*series.Axis, [12]int, error) {
	var years [12]int
	real := func(i int) int64 { return c.rows[i].real }
	nominal := func(i int) int64 { return c.rows[i].nominal }
	at, falls, inNominal := real, c.falls(real), c.falls(nominal)
	if inNominal < 0 && c.severalYears() {
		at, falls, years = nominal, -1, c.monthYears()
	} else if falls >= 0 {
		// In a typical year every month breaks the real calendar, in a series of
		// years every January the nominal one: the later break is the defect.
		falls = max(falls, inNominal)
	}
	switch {
	case len(c.rows) < 2:
		return nil, years, fileError(name, errors.New("fewer than two rows"))
	case falls >= 0:
		return nil, years, c.header(name, falls).Errorf("", "row of %s after %s: times must rise",
			clockName(at(falls)), clockName(at(falls-1)))
	}
	step, least := at(1)-at(0), 1
	for i := 2; i < len(c.rows); i++ {
		if d := at(i) - at(i-1); d < step {
			step, least = d, i
		}
	}
	if step > 3600 || 3600%step != 0 {
		return nil, years, c.header(name, least).Errorf("", "rows are %d minutes apart, no even part of an hour", step/60)
	}
	axis := &series.Axis{Stamp: make([]int64, len(c.rows)), Step: step, Instant: true}
	for i := range c.rows {
		axis.Stamp[i] = at(i)
		if (at(i)-at(0))%step != 0 {
			return nil, years, c.header(name, i).Errorf("", "row of %s is no multiple of %d minutes from the first",
				clockName(at(i)), step/60)
		}
	}
	return axis, years, nil
}

// falls gives the first row whose time does not rise, −1 where all do.
func (c *clock) falls(at func(int) int64) int {
	for i := 1; i < len(c.rows); i++ {
		if at(i) <= at(i-1) {
			return i
		}
	}
	return -1
}

func (c *clock) severalYears() bool {
	for _, r := range c.rows {
		if r.year != c.rows[0].year {
			return true
		}
	}
	return false
}

// monthYears gives the year that most rows of each month have, the earlier one
// on a tie; months without rows take that of the month before.
func (c *clock) monthYears() [12]int {
	var count [12]map[int16]int
	for _, r := range c.rows {
		if count[r.month-1] == nil {
			count[r.month-1] = make(map[int16]int, 1)
		}
		count[r.month-1][r.year]++
	}
	var best [12]int
	last := int(c.rows[0].year)
	for m := range best {
		most := 0
		for y, n := range count[m] {
			if n > most || n == most && int(y) < best[m] {
				best[m], most = int(y), n
			}
		}
		if most == 0 {
			best[m] = last
		}
		last = best[m]
	}
	return best
}

func (c *clock) header(name string, i int) row.Header {
	return row.Header{File: name, Line: c.rows[i].line}
}

func clockName(s int64) string { return time.Unix(s, 0).UTC().Format("01-02 15:04") }
