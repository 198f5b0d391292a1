package page

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"stillrow/rank/shade"
	"stillrow/rank/survey"
)

// scale is the number of units of a coordinate in a degree.
const scale = 1000

// A grid is the squares of a page: the places of a survey, or means of them.
type grid struct {
	of     []int   // by place: its square
	west   float64 // where the map is cut
	counts []int
	names  [][]string
	bounds [][4]int // west, south, east, north
	rings  [][][]int
	merged bool
}

// merge makes squares of the places; where there are too many, neighbours share
// one, of twice, three times… the size of the finest cell.
func merge(s *survey.Survey) *grid {
	g := &grid{of: make([]int, s.Len()), west: seam(s)}
	if s.Len() <= most {
		for i := range g.of {
			g.of[i] = i
			g.add(unroll(s.Shape(i), g.west), s.Place(i))
		}
		return g
	}
	g.merged = true
	size := math.Inf(1)
	for i := range s.Len() {
		if d := s.Place(i).CellDeg; d > 0 {
			size = min(size, d)
		}
	}
	if math.IsInf(size, 1) {
		size = 0.1 // stations alone
	}
	for k := 2.0; ; k++ {
		if g.square(s, k*size) {
			return g
		}
	}
}

// square sorts the places into squares of a size, unless there are too many.
func (g *grid) square(s *survey.Survey, size float64) bool {
	squares := make(map[[2]int]int)
	g.counts, g.names, g.bounds, g.rings = nil, nil, nil, nil
	for i := range s.Len() {
		p := s.Place(i)
		b := unroll(s.Shape(i), g.west).Bound()
		if b.Right()-b.Left() > 180 {
			// Cut at the antimeridian, where the map ends: shown where its centre lies.
			b = orb.Point{p.Lon, p.Lat}.Bound()
		}
		key := [2]int{int(math.Floor((b.Center().Lon() - g.west) / size)), int(math.Floor((p.Lat + 90) / size))}
		n, ok := squares[key]
		if !ok {
			if n = len(g.counts); n == most {
				return false
			}
			squares[key] = n
			g.add(b.ToPolygon(), p)
			g.counts[n] = 0
			g.names[n] = []string{fmt.Sprint("square ", n+1), "", p.Country}
		}
		g.of[i] = n
		g.counts[n]++
		w := &g.bounds[n]
		w[0], w[1] = min(w[0], unit(b.Left())), min(w[1], unit(b.Bottom()))
		w[2], w[3] = max(w[2], unit(b.Right())), max(w[3], unit(b.Top()))
	}
	return true
}

func (g *grid) add(shape orb.Geometry, p *survey.Place) {
	g.counts = append(g.counts, 1)
	g.names = append(g.names, []string{p.ID, p.Name, p.Country})
	b := shape.Bound()
	g.bounds = append(g.bounds, [4]int{unit(b.Left()), unit(b.Bottom()), unit(b.Right()), unit(b.Top())})
	var rings [][]int
	switch v := shape.(type) {
	case orb.Polygon:
		if len(v) > 1 || !v.Equal(b.ToPolygon()) {
			rings = flat(v)
		}
	case orb.MultiPolygon:
		for _, p := range v {
			rings = append(rings, flat(p)...)
		}
	}
	g.rings = append(g.rings, rings)
}

// view is what holds all squares, with a margin to see where they lie.
func (g *grid) view() orb.Bound {
	if len(g.bounds) == 0 {
		return orb.Bound{Min: orb.Point{-180, -90}, Max: orb.Point{180, 90}}
	}
	w := g.bounds[0]
	for _, b := range g.bounds {
		w = [4]int{min(w[0], b[0]), min(w[1], b[1]), max(w[2], b[2]), max(w[3], b[3])}
	}
	v := orb.Bound{Min: orb.Point{float64(w[0]) / scale, float64(w[1]) / scale}, Max: orb.Point{float64(w[2]) / scale, float64(w[3]) / scale}}
	v = v.Pad(5 + max(v.Max[0]-v.Min[0], v.Max[1]-v.Min[1])/2)
	if mid := v.Center().Lon(); v.Max[0]-v.Min[0] > 360 { // once round is enough
		v.Min[0], v.Max[0] = mid-180, mid+180
	}
	return v
}

// layer is the columns of a layer and the digits of each. A mean is over the
// cells that have the figure; the design is the most frequent one.
func (g *grid) layer(s *survey.Survey, l int) ([][]int32, []int, error) {
	list, n := quantities(), len(g.counts)
	sums, known := make([][]float64, len(list)), make([][]uint32, len(list))
	for c := range list {
		sums[c], known[c] = make([]float64, n), make([]uint32, n)
	}
	var votes [3][]map[int32]int
	for v := range votes {
		votes[v] = make([]map[int32]int, n)
	}
	err := s.Each(l, func(i int, f *survey.Finding) error {
		k := g.of[i]
		for c := range list {
			if x := list[c].of(f); !math.IsNaN(x) && !math.IsInf(x, 0) {
				sums[c][k] += x
				known[c][k]++
			}
		}
		for v, d := range [3]int32{f.Design, f.Second, f.Without} {
			if votes[v][k] == nil {
				votes[v][k] = make(map[int32]int, 1)
			}
			votes[v][k][d]++
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	var columns [][]int32
	var digits []int
	classes := make([]int32, n)
	for c, q := range list {
		var sizes []float64
		for k := range n {
			if known[c][k] == 0 {
				sums[c][k] = math.NaN()
				continue
			}
			sums[c][k] /= float64(known[c][k])
			sizes = append(sizes, math.Abs(sums[c][k]))
		}
		if q.figures > 0 {
			q.digits = decimals(sizes, q.figures)
		}
		column := make([]int32, n)
		for k, x := range sums[c] {
			column[k] = quantise(x, q.digits)
			if q.name == "ratio" {
				classes[k] = int32(shade.Of(x))
			}
		}
		columns, digits = append(columns, column), append(digits, q.digits)
	}
	for v := range votes {
		column := make([]int32, n)
		for k, m := range votes[v] {
			column[k] = majority(m)
		}
		columns, digits = append(columns, column), append(digits, 0)
	}
	return append(columns, classes), append(digits, 0), nil
}

// majority is the number most cells have, of several the least; none (-1) only
// where all have none.
func majority(votes map[int32]int) int32 {
	best, count := int32(-1), 0
	for d, n := range votes {
		if d >= 0 && (n > count || n == count && d < best) {
			best, count = d, n
		}
	}
	return best
}

func unit(deg float64) int { return int(math.Round(deg * scale)) }

func flat(p orb.Polygon) (out [][]int) {
	for _, r := range p {
		out = append(out, line(r))
	}
	return out
}

func line(r orb.Ring) []int {
	out := make([]int, 0, 2*len(r))
	for _, p := range r {
		out = append(out, unit(p[0]), unit(p[1]))
	}
	return out
}
