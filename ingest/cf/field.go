package cf

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"strings"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
)

// A candidate is a variable that may give a quantity.
type candidate struct {
	q      *quantity
	v      *netcdf.Var
	rank   int
	height float64
}

// errPassed marks a variable that the file holds in a form that gives nothing:
// worth a warning, no reason to refuse the file.
var errPassed = errors.New("not taken")

// readFields takes the best variable of each quantity. One that cannot be used
// gives way to the next, with a warning; where none is left, its error is
// the file's.
func (r *reader) readFields() error {
	taken := map[*netcdf.Var]bool{}
	for i := range quantities {
		q := &quantities[i]
		if err := r.readQuantity(q, taken); err != nil {
			return err
		}
	}
	r.pairWind()
	if len(r.out.Fields) == 0 {
		return r.fail("", "no variable that is used here: %s", r.variables())
	}
	return nil
}

func (r *reader) readQuantity(q *quantity, taken map[*netcdf.Var]bool) error {
	var first error
	var best *candidate
	var passed []string
	for _, c := range r.candidates(q, taken) {
		if best != nil {
			passed = append(passed, c.v.Name)
			continue
		}
		field, err := r.field(c)
		switch {
		case err == nil:
			best = &c
			taken[c.v] = true
			r.out.Fields = append(r.out.Fields, field)
			if first != nil {
				r.out.Warnings = append(r.out.Warnings, strings.TrimPrefix(first.Error(), r.file.Name+": ")+"; "+c.v.Name+" taken instead")
			}
		case errors.Is(err, errPassed):
			r.warn(c.v.Name, "%v", err)
		case first == nil:
			first = err
		}
	}
	if best == nil {
		return first
	}
	if len(passed) > 0 {
		r.warn(best.v.Name, "taken; %s left", strings.Join(passed, ", "))
	}
	return nil
}

// candidates lists the variables that may give a quantity, best first: by
// height where the quantity has one, then by name, in file order among equals.
func (r *reader) candidates(q *quantity, taken map[*netcdf.Var]bool) []candidate {
	var all []candidate
	for _, v := range r.file.Vars {
		if taken[v] || v.Type == netcdf.Char || v.Type == netcdf.String || len(v.Dims) < 2 {
			continue
		}
		rank := q.match(v)
		if rank == 0 || !r.convertible(q, v, rank) {
			continue
		}
		all = append(all, candidate{q: q, v: v, rank: rank, height: r.heightOf(v)})
	}
	sort.SliceStable(all, func(i, j int) bool {
		a, b := all[i], all[j]
		if x, y := far(a.height, q.height), far(b.height, q.height); x != y {
			return x < y
		}
		return a.rank > b.rank
	})
	return all
}

// far orders heights by how far they are from the wanted one; a file that does
// not say is next to right.
func far(height, wanted float64) float64 {
	switch {
	case wanted == 0 || height == wanted:
		return 0
	case height == 0:
		return 0.1
	case height > wanted:
		return height / wanted
	}
	return wanted / height
}

// convertible drops variables that only share a short name: fsr in metres is a
// roughness. A variable of the right standard name stays, for its error.
func (r *reader) convertible(q *quantity, v *netcdf.Var, rank int) bool {
	u, err := parseUnit(v.Text("units"))
	return err != nil || v.Text("units") == "" || rank >= 3000-len(q.standard) || q.takes(v, u)
}

// takes tells whether a unit is of the quantity.
func (q *quantity) takes(v *netcdf.Var, u unit) bool {
	switch {
	case u.dims == one && q.dims == one:
		return true
	case q.dims == irradiance:
		return u.dims == irradiance || u.dims == irradiation
	case q.of == grid.Elevation && u.dims == geopotent:
		return true
	}
	return u.dims == q.dims
}

// field makes a field of a candidate.
func (r *reader) field(c candidate) (grid.Field, error) {
	v, q := c.v, c.q
	f := grid.Field{Quantity: q.of, Variable: v.Name}
	if q.of == grid.Wind || q.of == grid.WindEast || q.of == grid.WindNorth {
		f.Height = c.height
	}
	if level := r.pressureLevel(v); level != nil {
		return f, fmt.Errorf("lies on a pressure level, %s: %w", level.Name, errPassed)
	}
	u, err := r.unitOf(v, q)
	if err != nil {
		return f, err
	}
	s, timeCoord, err := r.slab(v)
	if err != nil {
		return f, err
	}
	s.scale, s.offset = u.scale*q.scale, u.offset*q.scale+q.offset
	if u.dims == geopotent {
		s.scale /= gravity
	}
	if q.of == grid.Elevation {
		s.static = true
	} else if s.t < 0 {
		return f, r.fail(v.Name, "no time axis: hours, or means of twelve months, are needed")
	} else {
		k, err := r.clock(v.Dims[s.t], timeCoord)
		if err != nil {
			return f, err
		}
		if err := r.timing(&f, s, k, q, u.dims == irradiation); err != nil {
			return f, err
		}
	}
	if err := r.judge(&f, s, q, u); err != nil {
		return f, err
	}
	f.Read = s.read
	f.ChunkTime, f.ChunkRows = s.chunk()
	if ofSeaHeatBudget(v) {
		r.warn(v.Name, "available solar radiation of an ocean heat budget is net of what the sea reflects, some 6 to 10 %%; taken as global irradiance, on the low side")
	}
	return f, nil
}

// gravity is the standard acceleration of free fall, m/s² (WMO, for geopotential height).
const gravity = 9.80665

// ofSeaHeatBudget tells a flux that is what the sea takes up. In Esbensen and
// Kushnir, The heat budget of the global ocean (Oregon State University, 1981), it
// is to 0.01 W/m² the sum of the net downward radiation and the net upward long-wave
// flux: absorbed, not incident, radiation.
func ofSeaHeatBudget(v *netcdf.Var) bool {
	return plain(v.Text("long_name")) == "available_solar_radiation"
}

// unitOf reads the unit of a variable and holds it against the quantity.
func (r *reader) unitOf(v *netcdf.Var, q *quantity) (unit, error) {
	text := v.Text("units")
	if q.of == grid.Snow && strings.Contains(strings.ToLower(text+v.Text("long_name")), "water") {
		return unit{}, fmt.Errorf("units %q: water equivalent is no depth of snow: %w", text, errPassed)
	}
	if text == "" && q.dims != one {
		return unit{}, r.fail(v.Name, "has no units")
	}
	u, err := parseUnit(text)
	if err != nil {
		return unit{}, r.fail(v.Name, "units: %v", err)
	}
	if !q.takes(v, u) {
		return unit{}, r.fail(v.Name, "units %q do not fit %q", text, v.Text("standard_name"))
	}
	return u, nil
}

// pairWind keeps either the speed or both components of the wind, whichever is
// nearer to 10 m.
func (r *reader) pairWind() {
	find := func(q grid.Quantity) *grid.Field {
		if i := slices.IndexFunc(r.out.Fields, func(f grid.Field) bool { return f.Quantity == q }); i >= 0 {
			return &r.out.Fields[i]
		}
		return nil
	}
	speed, east, north := find(grid.Wind), find(grid.WindEast), find(grid.WindNorth)
	switch {
	case east == nil && north == nil:
	case east == nil || north == nil:
		r.drop("one component of the wind without the other; left", grid.WindEast, grid.WindNorth)
	case east.Height != north.Height:
		r.drop("components of the wind at different heights; left", grid.WindEast, grid.WindNorth)
	case speed == nil:
	case far(speed.Height, 10) <= far(east.Height, 10):
		r.drop("left for the wind speed", grid.WindEast, grid.WindNorth)
	default:
		r.drop("left for the components of the wind nearer to 10 m", grid.Wind)
	}
}

// drop takes fields out again, saying why.
func (r *reader) drop(why string, quantities ...grid.Quantity) {
	r.out.Fields = slices.DeleteFunc(r.out.Fields, func(f grid.Field) bool {
		gone := slices.Contains(quantities, f.Quantity)
		if gone {
			r.warn(f.Variable, "%s", why)
		}
		return gone
	})
}

// mostNamed is how many variables an error lists.
const mostNamed = 12

// variables lists the names of the file's variables for an error.
func (r *reader) variables() string {
	var names []string
	for _, v := range r.file.Vars {
		if len(v.Dims) < 2 || r.isBounds(v) {
			continue
		}
		name := fmt.Sprintf("%.40q", v.Name)
		if why := strange(v); why != "" {
			name += " (" + why + ")"
		}
		names = append(names, name)
	}
	if len(names) == 0 {
		return "the file has none on a grid"
	}
	if len(names) > mostNamed {
		names = append(names[:mostNamed], fmt.Sprintf("and %d more", len(names)-mostNamed))
	}
	return strings.Join(names, ", ")
}
