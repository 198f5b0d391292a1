package grid

import (
	"cmp"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"
	"time"
	"unicode"

	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// A part is a field of one file, and where the cells of a region lie in it.
type part struct {
	file     *File
	field    *Field
	row, col []int // of the file, for each row and column of the region
}

// Parts are the fields that files offer a region, by quantity.
type parts [Quantities][]part

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

// A group is the files of the same cells, on its way to a region.
type group struct {
	*Region
	own     parts
	whole   bool               // its own files suffice
	err     error              // what it lacks, with all that others lend
	dropped map[*File][]string // what was left of a file and why, in words
}

// Join forms regions of files.
//
// Files that give the same cells, rows and columns in any order and longitudes
// of any turn, become one region: each may carry other quantities, or other
// times. A quantity that a region lacks is taken from files that cover its cells
// and more: elevation from any; weather from files that are no region of their
// own, or from such as are where the region could not be without. Irradiance of
// two data sets is never mixed: the files given first are taken, and others that
// give the same times, other steps or another reading of the stamps are left,
// named.
//
// The error is nil or joins what kept files out of every region, each a
// *weather.FileError.
func Join(files []*File) ([]*Region, error) {
	var groups []*group
	refused := map[*File]error{}
	for _, f := range files {
		if err := f.check(); err != nil {
			refused[f] = err
			continue
		}
		at := slices.IndexFunc(groups, func(g *group) bool { return g.same(f) })
		if at < 0 {
			at = len(groups)
			groups = append(groups, &group{Region: newRegion(f)})
		}
		groups[at].Files = append(groups[at].Files, f)
	}
	for _, g := range groups {
		g.own = g.offer(g.Files)
		g.whole = g.settle(g.own) == nil
	}
	var regions []*Region
	used := map[*File]bool{}
	for _, g := range groups {
		all := g.own
		if !slices.ContainsFunc(all[:Elevation], func(list []part) bool { return len(list) > 0 }) {
			g.err = errors.New("no weather, and no grid of weather whose cells it covers")
			continue
		}
		for _, other := range groups {
			if other != g {
				g.borrow(&all, other)
			}
		}
		g.err = g.settle(all)
		if g.err != nil {
			continue
		}
		g.keepUsed(files)
		for _, f := range g.Files {
			used[f] = true
		}
		regions = append(regions, g.Region)
	}
	var errs []error
	for _, f := range files {
		if err := refused[f]; err != nil {
			errs = append(errs, err)
			continue
		}
		g := groups[slices.IndexFunc(groups, func(g *group) bool { return g.same(f) })]
		switch left := g.dropped[f]; {
		case used[f]:
			f.Warnings = append(f.Warnings, left...)
		case g.err != nil:
			errs = append(errs, &weather.FileError{File: f.Name, Err: g.err})
		case len(left) > 0:
			errs = append(errs, &weather.FileError{File: f.Name, Err: errors.New(left[0])})
		default:
			errs = append(errs, &weather.FileError{File: f.Name, Err: errors.New("gives nothing that hours or months of weather can be made of")})
		}
	}
	return regions, errors.Join(errs...)
}

// same tells whether a file gives the region's cells and no others.
func (r *Region) same(f *File) bool {
	_, _, ok := r.within(f)
	return ok && len(f.Lat) == len(r.Lat) && len(f.Lon) == len(r.Lon)
}

// offer gives what files have of the region's cells.
func (r *Region) offer(files []*File) (all parts) {
	for _, f := range files {
		row, col, ok := r.within(f)
		if !ok {
			continue
		}
		for i := range f.Fields {
			q := f.Fields[i].Quantity
			all[q] = append(all[q], part{f, &f.Fields[i], row, col})
		}
	}
	return all
}

// borrow adds what the files of another group have and g lacks.
func (g *group) borrow(all *parts, other *group) {
	needed := g.settle(*all) != nil
	for q, list := range g.offer(other.Files) {
		if len(all[q]) > 0 {
			continue
		}
		switch q := Quantity(q); {
		case q == Elevation:
		case other.whole && !needed:
			continue
		case slices.Contains(irradiances, q) && (other.whole || g.irradiance() != nil):
			continue
		}
		all[q] = list
	}
}

// irradiances are the quantities that have to come from one data set.
var irradiances = []Quantity{GHI, DNI, DHI, DirectHorizontal}

// others are those that change with time but for irradiances.
var others = func() (list []Quantity) {
	for q := range Elevation {
		if !slices.Contains(irradiances, q) {
			list = append(list, q)
		}
	}
	return list
}()

// keepUsed lists the files that the fields come from, in the order given.
func (g *group) keepUsed(files []*File) {
	uses := func(f *File) bool {
		if g.static != nil && g.static.file == f {
			return true
		}
		return slices.ContainsFunc(g.fields[:], func(j *joined) bool {
			return j != nil && slices.ContainsFunc(j.parts, func(p part) bool { return p.file == f })
		})
	}
	g.Files = nil
	for _, f := range files {
		if uses(f) {
			g.Files = append(g.Files, f)
		}
	}
}

// settle makes the fields of the region of what is offered, and says what it
// lacks.
func (g *group) settle(all parts) error {
	g.fields, g.static, g.dropped = [Quantities]*joined{}, nil, map[*File][]string{}
	for i, p := range all[Elevation] {
		if i == 0 {
			g.static = &p
			continue
		}
		g.drop(p, "%s gives the same cells", g.static.file.Name)
	}
	hourly := hasHours(all, irradiances)
	if !slices.ContainsFunc(irradiances, func(q Quantity) bool { return len(all[q]) > 0 }) {
		hourly = hasHours(all, others)
	}
	for q, list := range all[:Elevation] {
		j := &joined{quantity: Quantity(q)}
		for _, p := range list {
			switch {
			case p.field.Records() == 0 || p.field.Axis == nil && p.field.Months == nil:
				g.drop(p, "no times")
			case (p.field.Axis != nil) != hourly && hourly:
				g.drop(p, "means of months beside hours of irradiance")
			case (p.field.Axis != nil) != hourly:
				g.drop(p, "hours beside means of months of irradiance")
			case hourly:
				g.addHours(j, p)
			default:
				g.addMonths(j, p)
			}
		}
		if j.parts != nil {
			j.order()
			g.fields[q] = j
		}
	}
	return g.lacks()
}

// hasHours tells whether any of the quantities is offered in hours.
func hasHours(all parts, of []Quantity) bool {
	return slices.ContainsFunc(of, func(q Quantity) bool {
		return slices.ContainsFunc(all[q], func(p part) bool { return p.field.Axis != nil })
	})
}

// drop notes why a part is left out.
func (g *group) drop(p part, format string, args ...any) {
	g.dropped[p.file] = append(g.dropped[p.file], fmt.Sprintf("%s left: ", p.field.Variable)+fmt.Sprintf(format, args...))
}

// addHours adds a part whose records fit those that are there.
func (g *group) addHours(j *joined, p part) {
	a := p.field.Axis
	for _, k := range j.parts {
		b := k.field.Axis
		switch {
		case a.Step != b.Step:
			g.drop(p, "steps of %s, those of %s are %s", span(a.Step), k.file.Name, span(b.Step))
			return
		case a.From != b.From || a.Instant != b.Instant || p.field.Undocumented != k.field.Undocumented || (a.Stamp[0]-b.Stamp[0])%a.Step != 0:
			g.drop(p, "its stamps lie otherwise in their intervals than those of %s", k.file.Name)
			return
		case p.field.Local != k.field.Local:
			g.drop(p, "one of it and %s has stamps in UTC, the other in local time", k.file.Name)
			return
		case p.field.Height != k.field.Height:
			g.drop(p, "%g m above ground, in %s %g m", p.field.Height, k.file.Name, k.field.Height)
			return
		case a.Stamp[0] <= b.Stamp[len(b.Stamp)-1] && b.Stamp[0] <= a.Stamp[len(a.Stamp)-1]:
			g.drop(p, "%s gives the same cells from %s to %s, this from %s to %s", k.file.Name,
				day(b.Stamp[0]), day(b.Stamp[len(b.Stamp)-1]), day(a.Stamp[0]), day(a.Stamp[len(a.Stamp)-1]))
			return
		}
	}
	j.parts = append(j.parts, p)
}

func span(seconds int64) string { return (time.Duration(seconds) * time.Second).String() }

func day(stamp int64) string { return time.Unix(stamp, 0).UTC().Format(time.DateOnly) }

// addMonths adds a part of months. The same months of one data set are taken
// for those of other years and averaged, as the files do not say more; months of
// another data set are left.
func (g *group) addMonths(j *joined, p part) {
	for _, k := range j.parts {
		if !slices.ContainsFunc(p.field.Months, func(m int) bool { return slices.Contains(k.field.Months, m) }) {
			continue
		}
		if k.file.set() != p.file.set() || k.field.Height != p.field.Height {
			g.drop(p, "%s gives the same cells and months", k.file.Name)
			return
		}
		p.file.warnOnce(fmt.Sprintf("months averaged with those of %s, as of other years", k.file.Name))
	}
	j.parts = append(j.parts, p)
}

// set tells one data set from another: by its name, else by that of the file
// without what may say its time, numbers and the names of months.
func (f *File) set() string {
	if f.Set != "" {
		return f.Set
	}
	name := base(f.Name)
	words := strings.FieldsFunc(strings.ToLower(strings.TrimSuffix(name, path.Ext(name))), func(c rune) bool { return !unicode.IsLetter(c) })
	words = slices.DeleteFunc(words, func(w string) bool {
		for m := time.January; m <= time.December; m++ {
			if len(w) >= 3 && strings.HasPrefix(strings.ToLower(m.String()), w) {
				return true
			}
		}
		return false
	})
	return strings.Join(words, " ")
}

// warnOnce adds a warning that is not there yet.
func (f *File) warnOnce(text string) {
	if !slices.Contains(f.Warnings, text) {
		f.Warnings = append(f.Warnings, text)
	}
}

// order puts the parts in the order of time and joins their axes.
func (j *joined) order() {
	if j.parts[0].field.Axis == nil {
		for _, p := range j.parts {
			j.months = append(j.months, p.field.Months...)
		}
		return
	}
	slices.SortFunc(j.parts, func(a, b part) int { return cmp.Compare(a.field.Axis.Stamp[0], b.field.Axis.Stamp[0]) })
	axis := *j.parts[0].field.Axis
	axis.Stamp = nil
	for _, p := range j.parts {
		axis.Stamp = append(axis.Stamp, p.field.Axis.Stamp...)
	}
	j.axis = &axis
}
