package grid

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"stillrow/ingest/weather"
)

// A Region is cells that one or several files give, and the fields they have
// there.
type Region struct {
	Files []*File   // in the order given
	Lat   []float64 // rows, as the first file stores them, degrees
	Lon   []float64 // columns, degrees, −180 up to 180

	latEdges         []float64 // one more than Lat
	stepLat, stepLon float64   // usual distance of rows and of columns, degrees; 0 of one alone
	cellLat, cellLon float64   // edges of a cell, degrees
	fields           [Quantities]*joined
	static           *part // elevation
	local            bool
	stampFlag        string // how undocumented stamps were settled
}

// near says how far apart two coordinates may lie, in parts of a cell, and be
// the same: files round them differently.
const near = 0.01

// mostCells bounds the cells of a file, all of which are asked whether they are
// wanted: the earth by 15 seconds of arc has 3.7 thousand million.
const mostCells = 1 << 32

// check refuses axes that are no grid.
func (f *File) check() error {
	fail := func(field string, err error) error { return &weather.FileError{File: f.Name, Field: field, Err: err} }
	if len(f.Lat) == 0 || len(f.Lon) == 0 {
		return fail("", errors.New("no cells"))
	}
	if n := int64(len(f.Lat)) * int64(len(f.Lon)); n > mostCells {
		return fail("", fmt.Errorf("%d × %d cells, %d, want at most %d", len(f.Lat), len(f.Lon), n, int64(mostCells)))
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
				return fail(a.name, fmt.Errorf("value %d is %g", i+1, x))
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

// newRegion makes a region of the cells of a file.
func newRegion(f *File) *Region {
	r := &Region{Lat: f.Lat, latEdges: f.LatEdges}
	for _, lon := range f.Lon {
		r.Lon = append(r.Lon, turn(lon))
	}
	r.stepLat, r.stepLon = spacing(f.Lat), spacing(f.Lon)
	r.cellLat, r.cellLon = r.stepLat, r.stepLon
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

// turn brings a longitude to −180 up to 180, and leaves one that is there.
func turn(lon float64) float64 {
	if lon >= -180 && lon < 180 {
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

// within finds the region's rows and columns in a file, in any order and from
// any longitude on; not ok where one is not there, or where the file's cells are
// of another size.
func (r *Region) within(f *File) (row, col []int, ok bool) {
	apart := func(x, y float64) bool { return x > 0 && y > 0 && math.Abs(x-y) > near*x }
	if apart(r.stepLat, spacing(f.Lat)) || apart(r.stepLon, spacing(f.Lon)) {
		return nil, nil, false
	}
	row = match(r.Lat, f.Lat, near*r.cellLat, false)
	col = match(r.Lon, f.Lon, near*r.cellLon, true)
	return row, col, row != nil && col != nil
}

// match gives for each of want the index of the same value in have, nil unless
// all are there. Values of an angle are the same whatever its turns.
func match(want, have []float64, tolerance float64, angle bool) []int {
	same := func(w, h float64) bool {
		if angle {
			return math.Abs(math.Remainder(h-w, 360)) <= tolerance
		}
		return math.Abs(h-w) <= tolerance
	}
	at := make([]int, len(want))
	for i, w := range want {
		// Mostly it is the neighbour of the one before.
		switch {
		case i > 0 && at[i-1]+1 < len(have) && same(w, have[at[i-1]+1]):
			at[i] = at[i-1] + 1
		case i > 0 && at[i-1] > 0 && same(w, have[at[i-1]-1]):
			at[i] = at[i-1] - 1
		default:
			if at[i] = slices.IndexFunc(have, func(h float64) bool { return same(w, h) }); at[i] < 0 {
				return nil
			}
		}
	}
	return at
}
