package cf

import (
	"errors"
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
			year, month, err := s.month(t)
			if err != nil {
				return nil, r.wrap(v.Name, err)
			}
			c.addMonth(year, month)
		}
		return c, r.checkMonths(c)
	}
	if c.stamps, err = r.stamps(v.Name, x, s); err != nil {
		return nil, err
	}
	climatology := v.Text("climatology") != ""
	if err := r.readTimeBounds(c, v, x, s); err != nil {
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

// readTimeBounds reads the interval of each stamp, t in the units of the
// coordinate, in which bounds are too (CF 7.1).
func (r *reader) readTimeBounds(c *clock, v *netcdf.Var, t []float64, s since) error {
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
			if c.bounds[i][k], err = s.near(x[2*i+k], t[i]); err != nil {
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
