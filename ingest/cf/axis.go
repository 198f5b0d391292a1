package cf

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"stillrow/ingest/netcdf"
)

// coords are the horizontal coordinates of a file, by dimension.
type coords struct {
	lat, lon int // dimensions
	nx       int // columns taken: those past a full circle repeat the first
}

// longestAxis bounds the values of a coordinate that are read: an hourly century
// fits.
const longestAxis = 1 << 21

// kind tells one horizontal coordinate from the other.
type kind struct {
	name     string   // as CF spells it
	units    []string // as squeeze makes them
	axis     string
	common   []string
	wrong    []string // standard names of coordinates that are no geographical ones
	min, max float64
}

var (
	latitude = kind{
		name: "latitude", axis: "Y", min: -90, max: 90,
		units:  []string{"degreesnorth", "degreenorth", "degreesn", "degreen", "degnorth", "degn", "degreesnorthward"},
		common: []string{"lat", "latitude", "nav_lat", "y", "eskuy"},
		wrong:  []string{"grid_latitude", "projection_y_coordinate"},
	}
	longitude = kind{
		name: "longitude", axis: "X", min: -360, max: 720,
		units:  []string{"degreeseast", "degreeeast", "degreese", "degreee", "degeast", "dege", "degreeseastward"},
		common: []string{"lon", "longitude", "long", "nav_lon", "x", "eskux"},
		wrong:  []string{"grid_longitude", "projection_x_coordinate"},
	}
)

// squeeze makes the spellings of a unit of direction alike.
func squeeze(text string) string {
	return strings.NewReplacer(" ", "", "_", "", ".", "", "-", "").Replace(strings.ToLower(text))
}

// plain makes names alike that differ in case, blanks and signs.
func plain(text string) string {
	return strings.ToLower(strings.Join(strings.FieldsFunc(text, func(c rune) bool {
		return !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9')
	}), "_"))
}

// readCoords finds latitude and longitude and checks them.
func (r *reader) readCoords() error {
	lat, err := r.findCoord(&latitude)
	if err != nil {
		return err
	}
	lon, err := r.findCoord(&longitude)
	if err != nil {
		return err
	}
	if lat.Dims[0] == lon.Dims[0] {
		return r.fail(lat.Name, "shares the dimension %q with %s: a list of places is no grid", r.file.Dims[lat.Dims[0]].Name, lon.Name)
	}
	r.coord = coords{lat: lat.Dims[0], lon: lon.Dims[0]}
	if r.out.Lat, err = r.readLatitude(lat); err != nil {
		return err
	}
	if r.out.Lon, err = r.readLongitude(lon); err != nil {
		return err
	}
	r.coord.nx = len(r.out.Lon)
	r.out.LatEdges, err = r.readEdges(lat)
	return err
}

// findCoord finds the coordinate variable of a kind: by standard_name or units,
// then by axis, then by common names.
func (r *reader) findCoord(k *kind) (*netcdf.Var, error) {
	var best, twoD *netcdf.Var
	var bestRank int
	for _, v := range r.file.Vars {
		rank := k.rank(v)
		if rank == 0 || v.Type == netcdf.Char || v.Type == netcdf.String {
			continue
		}
		switch {
		case len(v.Dims) == 2 && twoD == nil && !r.isBounds(v):
			twoD = v
		case len(v.Dims) == 1 && rank > bestRank:
			best, bestRank = v, rank
		}
	}
	if best != nil {
		return best, nil
	}
	if twoD != nil {
		return nil, r.fail(twoD.Name, "%s is two-dimensional: rotated and projected grids cannot be read; bring the file to a regular grid first", k.name)
	}
	for _, v := range r.file.Vars {
		if slices.Contains(k.wrong, v.Text("standard_name")) {
			return nil, r.fail(v.Name, "%s in place of %s: rotated and projected grids cannot be read; bring the file to a regular grid first",
				v.Text("standard_name"), k.name)
		}
	}
	return nil, r.fail("", "no %s coordinate", k.name)
}

// rank says how surely a variable is the coordinate, 0 where it is not.
func (k *kind) rank(v *netcdf.Var) int {
	name, standard := strings.ToLower(v.Name), strings.ToLower(v.Text("standard_name"))
	units := squeeze(v.Text("units"))
	switch {
	case slices.Contains(k.wrong, standard):
		return 0
	case standard == k.name:
		return 4
	case slices.Contains(k.units, units):
		return 3
	case units != "" && !strings.HasPrefix(units, "deg"):
		return 0 // y and x of a projection, in metres
	case slices.Contains(k.common, name) && len(name) > 1:
		return 2
	case units != "" && (v.Text("axis") == k.axis || slices.Contains(k.common, name)):
		return 1
	}
	return 0
}

// isBounds tells whether a variable holds the bounds of another one.
func (r *reader) isBounds(v *netcdf.Var) bool {
	for _, w := range r.file.Vars {
		for _, a := range []string{"bounds", "climatology", "edges"} {
			if w.Text(a) == v.Name {
				return true
			}
		}
	}
	return false
}

// values reads a whole coordinate.
func (r *reader) values(v *netcdf.Var) ([]float64, error) {
	shape, n := v.Shape(), 1
	for _, l := range shape {
		if l > longestAxis || n*l > 2*longestAxis {
			return nil, r.fail(v.Name, "%d entries, want at most %d", l, longestAxis)
		}
		n *= l
	}
	if n == 0 {
		return nil, r.fail(v.Name, "no entry")
	}
	x := make([]float64, n)
	if err := v.Read(x, make([]int, len(shape)), shape); err != nil {
		return nil, r.wrap(v.Name, err)
	}
	return x, nil
}

// coordinate reads the values of a coordinate as they stand: the missing value
// some data sets give them (0 in one) is no reason to lose the equator.
func (r *reader) coordinate(v *netcdf.Var) ([]float64, error) {
	bare := *v
	bare.Attrs = slices.DeleteFunc(slices.Clone(v.Attrs), func(a netcdf.Attr) bool {
		return a.Name == "_FillValue" || a.Name == "missing_value"
	})
	return r.values(&bare)
}

// checkAxis checks that values are finite, in range and all rise or all fall.
func (r *reader) checkAxis(v *netcdf.Var, x []float64, k *kind) error {
	for i, value := range x {
		switch {
		case math.IsNaN(value):
			return r.fail(v.Name, "entry %d is missing", i+1)
		case value < k.min || value > k.max:
			return r.fail(v.Name, "entry %d is %v, outside %g to %g°", i+1, value, k.min, k.max)
		case i > 0 && value == x[i-1]:
			return r.fail(v.Name, "entries %d and %d are both %v", i, i+1, value)
		case i > 1 && (value > x[i-1]) != (x[1] > x[0]):
			return r.fail(v.Name, "entry %d, %v, turns back from %v: %s has to rise or fall all along", i+1, value, x[i-1], k.name)
		}
	}
	return nil
}

func (r *reader) readLatitude(v *netcdf.Var) ([]float64, error) {
	x, err := r.coordinate(v)
	if err != nil {
		return nil, err
	}
	return x, r.checkAxis(v, x, &latitude)
}

// readLongitude reads the longitudes, brought to rise where they jump once from
// 180 to −180, without columns past a full circle.
func (r *reader) readLongitude(v *netcdf.Var) ([]float64, error) {
	x, err := r.coordinate(v)
	if err != nil {
		return nil, err
	}
	jumps := 0
	for i := 1; i < len(x); i++ {
		if x[i] += 360 * float64(jumps); jumps == 0 && x[i]-x[i-1] < -180 {
			jumps, x[i] = 1, x[i]+360
		}
	}
	if err := r.checkAxis(v, x, &longitude); err != nil {
		return nil, err
	}
	if len(x) > 1 && x[1] < x[0] {
		return nil, r.fail(v.Name, "falls from %v to %v: columns have to run from west to east", x[0], x[1])
	}
	const tiny = 1e-4 // of single precision at 360°
	n := slices.IndexFunc(x, func(lon float64) bool { return lon-x[0] >= 360-tiny })
	if n > 0 {
		r.warn(v.Name, "%d columns from %v on repeat those from %v; left out", len(x)-n, x[n], x[0])
		x = x[:n]
	}
	return x, nil
}

// readEdges gives the edges of the rows from a bounds or an edges variable, nil
// where the file has none or they leave gaps.
func (r *reader) readEdges(lat *netcdf.Var) ([]float64, error) {
	n := len(r.out.Lat)
	name := lat.Text("bounds")
	if name == "" {
		name = lat.Text("edges")
	}
	v := r.file.Var(strings.TrimSpace(name))
	if v == nil {
		return nil, nil
	}
	x, err := r.values(v)
	if err != nil {
		return nil, err
	}
	var edges []float64
	switch {
	case len(v.Dims) == 1 && len(x) == n+1:
		edges = x
	case len(v.Dims) == 2 && len(x) == 2*n:
		edges = joinBounds(x, r.out.Lat)
	}
	if err := checkEdges(edges, r.out.Lat); err != nil {
		r.warn(v.Name, "%v; row edges taken midway", err)
		return nil, nil
	}
	return edges, nil
}

// joinBounds makes edges of pairs of bounds in either order, nil where one row
// does not end where the next begins.
func joinBounds(pairs, centre []float64) []float64 {
	n := len(centre)
	falls := n > 1 && centre[1] < centre[0]
	edges := make([]float64, n+1)
	for i := range n {
		a, b := pairs[2*i], pairs[2*i+1]
		if (a > b) != falls {
			a, b = b, a
		}
		if i > 0 && !(math.Abs(a-edges[i]) < 1e-4) {
			return nil
		}
		edges[i], edges[i+1] = a, b
	}
	return edges
}

// checkEdges checks that every centre lies between its edges.
func checkEdges(edges, centre []float64) error {
	if edges == nil {
		return fmt.Errorf("not one row after the other")
	}
	for i, c := range centre {
		lo, hi := min(edges[i], edges[i+1]), max(edges[i], edges[i+1])
		if !(lo <= c && c <= hi && lo < hi && lo >= -90.001 && hi <= 90.001) {
			return fmt.Errorf("%v and %v do not enclose the row at %v", edges[i], edges[i+1], c)
		}
	}
	return nil
}
