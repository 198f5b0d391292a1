package tile

import (
	"cmp"
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geo"
	"github.com/paulmach/orb/maptile"

	"stillrow/rank/pmtiles"
	"stillrow/rank/survey"
)

const (
	// finest is the least width of the finest cells at the deepest zoom, and of
	// squares at the others, in widths of a tile: 8 of 256 pixels.
	finest = 8.0 / 256

	// crowd is the number of features a tile should not exceed, all layers
	// together, as long as deeper zooms help: 500 kB where no two are alike.
	crowd = 10000

	deepest = 14

	// sparse is the deepest zoom of stations alone, unless they crowd: a tile
	// is 300 km wide, a unit 80 m.
	sparse = 7
)

// A pyramid says what every zoom shows where, for all layers.
type pyramid struct {
	weights []float64 // by place: area of its cell, m²; 1 for a station
	levels  []level   // by zoom
}

// A level is one zoom: the features on it, and the tiles that show them.
type level struct {
	z      uint8
	of     []int32 // by place: its feature; nil where features are the places
	counts []int32 // by feature: its places; nil likewise
	first  []int32 // by feature: the first of its places; nil likewise
	boxes  []box   // by feature
	shapes map[int32][]orb.Polygon
	shown  []shown // by tile, in the order of their ids
	tiles  []stretch
	before int // tiles of the zooms before
}

// shown says that a tile shows a feature. Its column is counted on beyond the
// antimeridian, where the tile lies as seen from the feature.
type shown struct {
	tile                 uint64 // pmtiles.ID
	feature, column, row int32
}

// A stretch is the part of level.shown that one tile has.
type stretch struct {
	tile     uint64
	from, to int
}

// newPyramid lays out a survey.
func newPyramid(s *survey.Survey) *pyramid {
	p := &pyramid{weights: make([]float64, s.Len())}
	for i := range p.weights {
		p.weights[i] = 1
		if s.Place(i).CellDeg > 0 {
			p.weights[i] = geo.Area(s.Shape(i))
		}
	}
	last, cell := resolution(s)
	for z := uint8(0); z <= last; z++ {
		l := level{z: z}
		if z == last {
			l.places(s)
		} else {
			k := math.Exp2(float64(last - z))
			l.merge(s, cell[0]*k, cell[1]*k)
		}
		l.cover()
		if z > 0 {
			before := &p.levels[z-1]
			l.before = before.before + len(before.tiles)
		}
		p.levels = append(p.levels, l)
	}
	return p
}

// tiles is the number of all tiles.
func (p *pyramid) tiles() int {
	l := &p.levels[len(p.levels)-1]
	return l.before + len(l.tiles)
}

// resolution is the deepest zoom of a survey, and the size of its finest cells
// in degrees of longitude and latitude.
func resolution(s *survey.Survey) (zoom uint8, cell [2]float64) {
	cell = [2]float64{math.Inf(1), math.Inf(1)}
	for i := range s.Len() {
		if p := s.Place(i); p.CellDeg > 0 {
			cell[0], cell[1] = min(cell[0], width(p)), min(cell[1], p.CellDeg)
		}
	}
	least := min(cell[0], cell[1])
	if math.IsInf(least, 1) {
		zoom = sparse
	}
	for zoom < deepest && least/360*math.Exp2(float64(zoom)) < finest {
		zoom++
	}
	for zoom < deepest && fullest(s, maptile.Zoom(zoom))*len(s.Layers) > crowd {
		zoom++
	}
	if math.IsInf(least, 1) {
		side := 360 * finest / math.Exp2(float64(zoom))
		cell = [2]float64{side, side}
	}
	return zoom, cell
}

// width of a cell, degrees of longitude.
func width(p *survey.Place) float64 { return cmp.Or(p.CellLonDeg, p.CellDeg) }

// fullest is the number of places in the tile that has most.
func fullest(s *survey.Survey, z maptile.Zoom) int {
	counts, most := make(map[maptile.Tile]int), 0
	for i := range s.Len() {
		t := maptile.At(orb.Point{s.Place(i).Lon, s.Place(i).Lat}, z)
		counts[t]++
		most = max(most, counts[t])
	}
	return most
}

// places makes every place a feature.
func (l *level) places(s *survey.Survey) {
	l.boxes = make([]box, s.Len())
	for i := range l.boxes {
		l.boxes[i] = l.outline(int32(i), s, i)
	}
}

// outline is the box of the i-th place; a shape that is no rectangle is filed
// under the number of its feature.
func (l *level) outline(feature int32, s *survey.Survey, i int) box {
	var all orb.MultiPolygon
	switch g := s.Shape(i).(type) {
	case orb.Point:
		return boxOf(g.Bound())
	case orb.Polygon:
		all = orb.MultiPolygon{g}
	case orb.MultiPolygon:
		all = g
	}
	p, wide := s.Place(i), 0.0
	rectangles := true
	for _, part := range all {
		b := part.Bound()
		wide += b.Right() - b.Left()
		rectangles = rectangles && len(part) == 1 && part.Equal(b.ToPolygon())
	}
	const hair = 1e-6 // degrees
	if rectangles && (len(all) == 1 || math.Abs(wide-width(p)) < hair) {
		return boxOf(reach(s, i)) // of a cell cut at the antimeridian as a whole
	}
	if l.shapes == nil {
		l.shapes = make(map[int32][]orb.Polygon)
	}
	for _, part := range all {
		l.shapes[feature] = append(l.shapes[feature], world(part))
	}
	return boxOf(all.Bound())
}

// A square is a cell of the lattice that places are merged on.
type square struct {
	x, y    int
	station bool
	alone   int32 // the place, from 1, where it is too large to share a square
}

// merge makes features of the places in squares of so many degrees, which are
// counted from the edges of the westernmost and southernmost cells, so that a
// square holds whole ones.
func (l *level) merge(s *survey.Survey, lon, lat float64) {
	west, south := corner(s)
	numbers := make(map[square]int32)
	var bounds []orb.Bound
	var sums []orb.Point // of stations
	l.of = make([]int32, s.Len())
	for i := range l.of {
		p := s.Place(i)
		key := square{x: int(math.Floor((p.Lon - west) / lon)), y: int(math.Floor((p.Lat - south) / lat)), station: p.CellDeg == 0}
		if width(p) > 0.75*lon || p.CellDeg > 0.75*lat {
			key = square{alone: int32(i) + 1}
		}
		n, ok := numbers[key]
		b := reach(s, i)
		if !ok {
			n = int32(len(l.counts))
			numbers[key] = n
			l.counts, l.first = append(l.counts, 0), append(l.first, int32(i))
			bounds, sums = append(bounds, b), append(sums, orb.Point{})
			if key.alone > 0 {
				l.outline(n, s, i)
			}
		}
		l.of[i] = n
		l.counts[n]++
		bounds[n] = bounds[n].Union(b)
		sums[n][0], sums[n][1] = sums[n][0]+p.Lon, sums[n][1]+p.Lat
	}
	l.boxes = make([]box, len(bounds))
	for n := range bounds {
		if s.Place(int(l.first[n])).CellDeg == 0 {
			k := float64(l.counts[n])
			bounds[n] = orb.Point{sums[n][0] / k, sums[n][1] / k}.Bound()
		}
		l.boxes[n] = boxOf(bounds[n])
	}
}

// corner is the western and southern edge of all cells; 0 of stations alone.
func corner(s *survey.Survey) (west, south float64) {
	west, south = math.Inf(1), math.Inf(1)
	for i := range s.Len() {
		if p := s.Place(i); p.CellDeg > 0 {
			west, south = min(west, p.Lon-width(p)/2), min(south, p.Lat-p.CellDeg/2)
		}
	}
	if math.IsInf(west, 1) {
		return 0, 0
	}
	return west, south
}

// reach is the bounds of a place; of a cell cut at the antimeridian they run on
// beyond it.
func reach(s *survey.Survey, i int) orb.Bound {
	b := s.Shape(i).Bound()
	if b.Right()-b.Left() <= 180 {
		return b
	}
	p := s.Place(i)
	b.Min[0], b.Max[0] = edge(p.Lon-width(p)/2), edge(p.Lon+width(p)/2)
	return b
}

// edge rounds as shapes have it, so that neighbours share one.
func edge(deg float64) float64 { return math.Round(deg*1e9) / 1e9 }

// cover sorts the features into tiles.
func (l *level) cover() {
	l.shown = make([]shown, 0, len(l.boxes)+len(l.boxes)/8)
	for n := range l.boxes {
		f := int32(n)
		if parts, ok := l.shapes[f]; ok {
			for _, part := range parts {
				b := part.Bound()
				l.show(f, &box{b.Min[0], b.Min[1], b.Max[0], b.Max[1]})
			}
			continue
		}
		l.show(f, &l.boxes[n])
	}
	slices.SortFunc(l.shown, func(a, b shown) int {
		return cmp.Or(cmp.Compare(a.tile, b.tile), cmp.Compare(a.feature, b.feature), cmp.Compare(a.column, b.column))
	})
	l.shown = slices.Compact(l.shown)
	for i, e := range l.shown {
		if i == 0 || e.tile != l.shown[i-1].tile {
			l.tiles = append(l.tiles, stretch{tile: e.tile, from: i})
		}
		l.tiles[len(l.tiles)-1].to = i + 1
	}
}

// show adds a feature to the tiles that a box of it touches.
func (l *level) show(feature int32, b *box) {
	side := int64(1) << l.z
	point := b.x0 == b.x1 && b.y0 == b.y1
	if point && (b.y0 <= 0 || b.y0 >= 1) {
		return // beyond the map
	}
	west, east := span(at(b.x0, l.z), at(b.x1, l.z), point)
	north, south := span(at(b.y0, l.z), at(b.y1, l.z), point)
	if at(b.y0, l.z) == at(b.y1, l.z) && !point || at(b.x0, l.z) == at(b.x1, l.z) && !point {
		return // nothing is left of it
	}
	for y := max(north, 0); y <= min(south, side-1); y++ {
		for x := west; x <= east; x++ {
			column := uint32(x & (side - 1)) // also of a negative one
			l.shown = append(l.shown, shown{pmtiles.ID(l.z, column, uint32(y)), feature, int32(x), int32(y)})
		}
	}
}
