package cf

import (
	"errors"
	"fmt"
	"strings"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
)

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
				r.out.Warnings = append(r.out.Warnings, r.bare(first)+"; "+c.v.Name+" taken instead")
			}
		case errors.Is(err, errPassed):
			r.warn(c.v.Name, "%v", err)
		case first == nil:
			first = err
		}
	}
	if best == nil {
		if q.of == grid.Elevation && first != nil { // not what a file is refused for
			r.out.Warnings = append(r.out.Warnings, r.bare(first)+"; left")
			return nil
		}
		return first
	}
	if len(passed) > 0 {
		r.warn(best.v.Name, "taken; %s left", strings.Join(passed, ", "))
	}
	return nil
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
// flux: absorbed, not incident, radiation. The sea reflects 6 % under a high sun and
// 10 % under a low one (Payne 1972, from memory).
func ofSeaHeatBudget(v *netcdf.Var) bool {
	return plain(v.Text("long_name")) == "available_solar_radiation"
}

// bare gives the text of an error without the name of the file, for a warning.
func (r *reader) bare(err error) string { return strings.TrimPrefix(err.Error(), r.file.Name+": ") }

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
