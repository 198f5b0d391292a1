package tile

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
)

// Units of a tile's side, and how far beyond it outlines are kept, so that the
// lines along which they are cut are not seen.
const (
	extent = 4096
	buffer = 64
)

// A box is a rectangle on the web Mercator square: x eastward from the
// antimeridian, y southward from 85.0511° N, both 0 to 1, though x runs on where
// the rectangle crosses the antimeridian. Of a point both corners are the same.
type box struct{ x0, y0, x1, y1 float64 }

func boxOf(b orb.Bound) box {
	return box{eastward(b.Left()), southward(b.Top()), eastward(b.Right()), southward(b.Bottom())}
}

func eastward(lon float64) float64 { return lon/360 + 0.5 }

func southward(lat float64) float64 {
	y := 0.5 - math.Asinh(math.Tan(lat*math.Pi/180))/(2*math.Pi)
	return max(0, min(1, y)) // tan of 90° is finite and large
}

// world projects a polygon.
func world(p orb.Polygon) orb.Polygon {
	out := make(orb.Polygon, len(p))
	for i, r := range p {
		out[i] = make(orb.Ring, len(r))
		for k, at := range r {
			out[i][k] = orb.Point{eastward(at[0]), southward(at[1])}
		}
	}
	return out
}

// at scales a coordinate of the square to units of zoom z.
func at(v float64, z uint8) int64 { return int64(math.Round(v * float64(int64(extent)<<z))) }

// span gives the columns or rows of tiles that show what lies between two units;
// none where first is the greater. A point is shown by its own tile alone.
func span(from, to int64, point bool) (first, last int64) {
	if point {
		return floorDiv(from, extent), floorDiv(from, extent)
	}
	return floorDiv(from-extent-buffer, extent) + 1, floorDiv(to+buffer-1, extent)
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

var tileBound = orb.Bound{Min: orb.Point{-buffer, -buffer}, Max: orb.Point{extent + buffer, extent + buffer}}

// rectangle is what a tile in column x, row y of zoom z shows of a box; nil for
// nothing.
func (b *box) rectangle(z uint8, x, y int64) orb.Polygon {
	x0, x1 := at(b.x0, z)-x*extent, at(b.x1, z)-x*extent
	y0, y1 := at(b.y0, z)-y*extent, at(b.y1, z)-y*extent
	x0, x1 = max(x0, -buffer), min(x1, extent+buffer)
	y0, y1 = max(y0, -buffer), min(y1, extent+buffer)
	if x0 >= x1 || y0 >= y1 {
		return nil
	}
	west, east, north, south := float64(x0), float64(x1), float64(y0), float64(y1)
	return orb.Polygon{{{west, north}, {east, north}, {east, south}, {west, south}, {west, north}}}
}

// polygon is what a tile shows of a polygon on the square.
func polygon(p orb.Polygon, z uint8, x, y int64) orb.Polygon {
	scale := float64(int64(extent) << z)
	local := make(orb.Polygon, len(p))
	for i, r := range p {
		local[i] = make(orb.Ring, len(r))
		for k, v := range r {
			local[i][k] = orb.Point{math.Round(v[0]*scale) - float64(x*extent), math.Round(v[1]*scale) - float64(y*extent)}
		}
	}
	var out orb.Polygon
	for i, r := range clip.Polygon(tileBound, local) {
		r = whole(r)
		// Vector tile specification 2.1, section 4.3.4.4: outer rings run
		// clockwise as seen, which is counter-clockwise where y points up.
		want := orb.CCW
		if i > 0 {
			want = orb.CW
		}
		switch {
		case len(r) < 4 || r.Orientation() == 0:
			if i == 0 {
				return nil
			}
			continue
		case r.Orientation() != want:
			r.Reverse()
		}
		out = append(out, r)
	}
	return out
}

// whole rounds the corners that clipping made, and leaves out those that repeat.
func whole(r orb.Ring) orb.Ring {
	out := r[:0]
	for _, v := range r {
		v = orb.Point{math.Round(v[0]), math.Round(v[1])}
		if len(out) == 0 || v != out[len(out)-1] {
			out = append(out, v)
		}
	}
	return out
}
