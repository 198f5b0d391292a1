package grid

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// A Region is the cells that one or several files give on the same axes, and
// the fields they have there.
type Region struct {
	Files []*File   // in the order given
	Lat   []float64 // rows, as the first file stores them, degrees
	Lon   []float64 // columns, degrees, −180 to 180

	latEdges         []float64 // one more than Lat
	cellLat, cellLon float64   // edges of a cell, degrees
	fields           [Quantities]*joined
	static           *part // elevation
	local            bool
	stampFlag        string // how undocumented stamps were settled
}

// A joined field is one quantity over all files that have it, in the order of
// time.
type joined struct {
	quantity Quantity
	parts    []part
	axis     *series.Axis // nil where the records are months
	months   []int
}

// records is the number of records of all parts.
func (j *joined) records() int {
	n := 0
	for _, p := range j.parts {
		n += p.field.Records()
	}
	return n
}

// A part is a field of one file, and where the cells of the region lie in it.
type part struct {
	file     *File
	field    *Field
	row, col []int // of the file, for each row and column of the region
}

// near says how far apart two coordinates may lie, in parts of a cell, and be
// the same: files round them differently.
const near = 0.01

// Join forms regions of files: files that carry different quantities or times of
// the same cells become one, rows and columns in any order and longitudes of any
// turn. A file that covers more than another's cells joins it with those cells.
// The error is nil or joins what kept files out of every region, each a
// *weather.FileError.
func Join(files []*File) ([]*Region, error) {
	order := slices.Clone(files)
	slices.SortStableFunc(order, func(a, b *File) int { return len(a.Lat)*len(a.Lon) - len(b.Lat)*len(b.Lon) })
	var regions []*Region
	var errs []error
	for _, f := range order {
		if err := f.check(); err != nil {
			errs = append(errs, err)
			continue
		}
		at := slices.IndexFunc(regions, func(r *Region) bool {
			row, col := r.within(f)
			return row != nil && col != nil
		})
		if at < 0 {
			regions = append(regions, newRegion(f))
			at = len(regions) - 1
		}
		regions[at].Files = append(regions[at].Files, f)
	}
	whole := regions[:0]
	for _, r := range regions {
		slices.SortFunc(r.Files, func(a, b *File) int { return slices.Index(files, a) - slices.Index(files, b) })
		dropped, err := r.join()
		errs = append(errs, dropped...)
		if err != nil {
			for _, f := range r.Files {
				errs = append(errs, &weather.FileError{File: f.Name, Err: err})
			}
			continue
		}
		whole = append(whole, r)
	}
	slices.SortFunc(whole, func(a, b *Region) int {
		return slices.Index(files, a.Files[0]) - slices.Index(files, b.Files[0])
	})
	return whole, errors.Join(errs...)
}

// check refuses axes that are no grid.
func (f *File) check() error {
	fail := func(field string, err error) error { return &weather.FileError{File: f.Name, Field: field, Err: err} }
	if len(f.Lat) == 0 || len(f.Lon) == 0 {
		return fail("", errors.New("no cells"))
	}
	if f.LatEdges != nil && len(f.LatEdges) != len(f.Lat)+1 {
		return fail("latitude", fmt.Errorf("%d edges of %d rows", len(f.LatEdges), len(f.Lat)))
	}
	for _, a := range []struct {
		name string
		v    []float64
	}{{"latitude", f.Lat}, {"longitude", f.Lon}} {
		for i, x := range a.v {
			switch {
			case math.IsNaN(x) || math.IsInf(x, 0) || a.name == "latitude" && math.Abs(x) > 90:
				return fail(a.name, fmt.Errorf("value %d is %g", i, x))
			case i > 1 && (x-a.v[i-1])*(a.v[1]-a.v[0]) <= 0, i > 0 && x == a.v[i-1]:
				return fail(a.name, fmt.Errorf("%g after %g: neither rising nor falling", x, a.v[i-1]))
			}
		}
	}
	if n := len(f.Lon); math.Abs(f.Lon[n-1]-f.Lon[0]) >= 360-1e-9 {
		return fail("longitude", fmt.Errorf("%g to %g: cells beyond one turn", f.Lon[0], f.Lon[n-1]))
	}
	return nil
}

func newRegion(f *File) *Region {
	r := &Region{Lat: f.Lat, latEdges: f.LatEdges}
	for _, lon := range f.Lon {
		r.Lon = append(r.Lon, turn(lon))
	}
	r.cellLat, r.cellLon = spacing(f.Lat), spacing(f.Lon)
	switch {
	case r.cellLat == 0 && r.cellLon == 0:
		r.cellLat, r.cellLon = oneCell, oneCell
	case r.cellLat == 0:
		r.cellLat = r.cellLon
	case r.cellLon == 0:
		r.cellLon = r.cellLat
	}
	return r
}

// oneCell is the edge given to a cell without neighbours, degrees.
const oneCell = 0.1

// turn brings a longitude to −180 to 180, and leaves one that is there.
func turn(lon float64) float64 {
	if lon >= -180 && lon <= 180 {
		return lon
	}
	return math.Mod(math.Mod(lon+180, 360)+360, 360) - 180
}

// spacing is the usual distance of neighbours, 0 of one value alone.
func spacing(v []float64) float64 {
	var d []float64
	for i := 1; i < len(v); i++ {
		d = append(d, math.Abs(v[i]-v[i-1]))
	}
	if d == nil {
		return 0
	}
	slices.Sort(d)
	// Coordinates are often single precision; six decimals are a tenth of a metre.
	return math.Round(d[len(d)/2]*1e6) / 1e6
}

// within finds the region's rows and columns in a file; nil where one is not
// there, or where it has other cells between them.
func (r *Region) within(f *File) (row, col []int) {
	row = match(r.Lat, f.Lat, near*r.cellLat, false)
	col = match(r.Lon, f.Lon, near*r.cellLon, true)
	if !dense(row) || !dense(col) && !dense(rotate(col)) {
		return nil, nil
	}
	return row, col
}

// match gives for each of want the index of the same value in have, nil unless
// all are there.
func match(want, have []float64, tolerance float64, round bool) []int {
	same := func(w, h float64) bool {
		if round {
			return math.Abs(math.Remainder(h-w, 360)) <= tolerance
		}
		return math.Abs(h-w) <= tolerance
	}
	at := make([]int, len(want))
	for i, w := range want {
		// Mostly it is the neighbour of the one before.
		switch {
		case i == 0 && same(w, have[0]):
		case i > 0 && at[i-1]+1 < len(have) && same(w, have[at[i-1]+1]):
			at[i] = at[i-1] + 1
		default:
			if at[i] = slices.IndexFunc(have, func(h float64) bool { return same(w, h) }); at[i] < 0 {
				return nil
			}
		}
	}
	return at
}

// dense tells whether indexes are neighbours, rising or falling.
func dense(at []int) bool {
	for i := 1; i < len(at); i++ {
		if d := at[i] - at[i-1]; d != 1 && d != -1 || i > 1 && d != at[1]-at[0] {
			return false
		}
	}
	return at != nil
}

// rotate puts the part of a list after its one break first: columns of a file
// that starts at another longitude.
func rotate(at []int) []int {
	for i := 1; i < len(at); i++ {
		if d := at[i] - at[i-1]; d != 1 && d != -1 {
			return append(slices.Clone(at[i:]), at[:i]...)
		}
	}
	return at
}

// join orders the fields of the region's files. Fields that another file gives
// already, and files that thereby give nothing, are told in dropped.
func (r *Region) join() (dropped []error, err error) {
	for _, f := range r.Files {
		row, col := r.within(f)
		for i := range f.Fields {
			p := part{f, &f.Fields[i], row, col}
			if p.field.Quantity == Elevation {
				if r.static == nil {
					r.static = &p
				}
				continue
			}
			if p.field.Axis == nil && p.field.Months == nil {
				continue // of no time: nothing to make hours of
			}
			if j := r.fields[p.field.Quantity]; j != nil {
				j.parts = append(j.parts, p)
			} else {
				r.fields[p.field.Quantity] = &joined{quantity: p.field.Quantity, parts: []part{p}}
			}
		}
	}
	r.preferHours()
	for _, j := range r.fields {
		if j == nil {
			continue
		}
		gone, err := j.order()
		dropped = append(dropped, gone...)
		if err != nil {
			return dropped, err
		}
	}
	locals := map[bool]string{}
	for _, j := range r.fields {
		if j != nil && j.axis != nil {
			locals[j.parts[0].field.Local] = j.parts[0].field.Variable
			r.local = j.parts[0].field.Local
		}
	}
	if len(locals) > 1 {
		return dropped, fmt.Errorf("%s has UTC stamps, %s those of local time", locals[false], locals[true])
	}
	return dropped, r.lacks()
}

// preferHours leaves out monthly fields where the irradiance is hourly, and
// hourly ones where it is monthly.
func (r *Region) preferHours() {
	hourly := false
	for _, q := range []Quantity{GHI, DNI, DHI, DirectHorizontal} {
		if j := r.fields[q]; j != nil {
			for _, p := range j.parts {
				hourly = hourly || p.field.Axis != nil
			}
		}
	}
	for q, j := range r.fields {
		if j == nil {
			continue
		}
		j.parts = slices.DeleteFunc(j.parts, func(p part) bool { return (p.field.Axis != nil) != hourly })
		if len(j.parts) == 0 {
			r.fields[q] = nil
		}
	}
}

// order sorts the parts of a field by time and joins their axes. A part whose
// times another has is dropped.
func (j *joined) order() (dropped []error, err error) {
	first := func(p part) int64 {
		if p.field.Axis == nil || len(p.field.Axis.Stamp) == 0 {
			return 0
		}
		return p.field.Axis.Stamp[0]
	}
	slices.SortStableFunc(j.parts, func(a, b part) int {
		switch x, y := first(a), first(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	kept := j.parts[:0]
	for _, p := range j.parts {
		a := p.field.Axis
		if a == nil {
			kept = append(kept, p)
			j.months = append(j.months, p.field.Months...)
			continue
		}
		if len(a.Stamp) == 0 {
			continue
		}
		switch {
		case j.axis == nil:
			copied := *a
			copied.Stamp = slices.Clone(a.Stamp)
			j.axis = &copied
		case a.Step != j.axis.Step || a.From != j.axis.From || a.Instant != j.axis.Instant:
			return dropped, fmt.Errorf("%s: %s has records of %d s from %d s on, %s in %s those of %d s from %d s on", p.file.Name,
				p.field.Variable, a.Step, a.From, kept[0].field.Variable, kept[0].file.Name, j.axis.Step, j.axis.From)
		case a.Stamp[0] <= j.axis.Stamp[len(j.axis.Stamp)-1]:
			dropped = append(dropped, &weather.FileError{File: p.file.Name, Field: p.field.Variable,
				Err: fmt.Errorf("gives the same cells and times as %s", kept[len(kept)-1].file.Name)})
			continue
		default:
			j.axis.Stamp = append(j.axis.Stamp, a.Stamp...)
		}
		kept = append(kept, p)
	}
	j.parts = kept
	return dropped, nil
}
