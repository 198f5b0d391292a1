package cf

import (
	"slices"
	"strings"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
	"stillrow/ingest/series"
)

// timing says what the records of a field stand for, and by what sums are
// divided.
func (r *reader) timing(f *grid.Field, s *slab, k *clock, q *quantity, sum bool) error {
	f.Local = k.local
	if k.months != nil {
		f.Months, s.records = k.months, k.records
		if sum {
			return r.monthSums(s, k)
		}
		return nil
	}
	axis := series.Axis{Stamp: k.stamps, Step: k.step}
	method := timeMethod(s.v)
	if method == "" {
		method = stepType[s.v.Text("GRIB_stepType")]
	}
	switch {
	case !sum && strings.Contains(method, "point"), !q.flux && method == "":
		axis.Instant = true // CF 7.3: without cell_methods an intensive quantity holds at the stamp
	case k.bounds != nil:
		from, err := r.interval(s.v, k)
		if err != nil {
			return err
		}
		axis.From = from
	case (sum || meanRate(s.v)) && ecmwf(r.file, s.v):
		// ERA5 data documentation, section "Mean rates/fluxes and accumulations":
		// over the hour ending at the validity time.
		axis.From = -k.step
		if k.step > 3600 {
			r.warn(s.v.Name, "sums taken over the whole %s before each time; the file does not say that they are not of one hour", span(k.step))
		}
	default:
		f.Undocumented = true
	}
	if sum {
		s.scale /= float64(k.step)
	}
	f.Axis = k.axis(axis)
	return nil
}

// stepType is what ecCodes calls the methods of CF.
var stepType = map[string]string{"instant": "point", "accum": "sum", "avg": "mean"}

// meanRate tells the mean rates of ECMWF, which cover the same hours as its sums.
func meanRate(v *netcdf.Var) bool {
	name := strings.ToLower(v.Name)
	return strings.HasPrefix(name, "avg_") || strings.HasPrefix(name, "msd")
}

// axis gives the axis that fields of one meaning share.
func (c *clock) axis(a series.Axis) *series.Axis {
	i := slices.IndexFunc(c.axes, func(b *series.Axis) bool { return b.From == a.From && b.Instant == a.Instant })
	if i < 0 {
		i = len(c.axes)
		c.axes = append(c.axes, &a)
	}
	return c.axes[i]
}

// interval gives where the interval of every stamp begins, from bounds that all
// lie alike and leave no gap.
func (r *reader) interval(v *netcdf.Var, k *clock) (int64, error) {
	from := k.bounds[0][0] - k.stamps[0]
	for i, b := range k.bounds {
		if b[0]-k.stamps[i] != from {
			return 0, r.fail(v.Name, "the bounds of record %d of %s begin %s from its time, those of the first %s", i+1, k.variable, span(b[0]-k.stamps[i]), span(from))
		}
		if b[1]-b[0] != k.step {
			return 0, r.fail(v.Name, "the bounds of record %d of %s hold %s, its step is %s", i+1, k.variable, span(b[1]-b[0]), span(k.step))
		}
	}
	return from, nil
}
