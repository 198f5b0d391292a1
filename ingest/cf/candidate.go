package cf

import (
	"sort"

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
