package grid

import "math"

// A Cell is a place in a region: its row and column.
type Cell struct{ Row, Col int }

// mostSelected bounds the cells taken of a region: at a hundred a second they
// are more than a day's work, and their places alone some 160 MB.
const mostSelected = 10_000_000

// Select gives the cells of the region, row by row, that inside accepts by
// their centres and edges, degrees (nil: all); every n > 1 keeps one of n rows and one of n columns, the middle
// ones of n. Of a row at a pole, whose cells are one place, one is kept. Outside
// counts what inside refused among those kept. It ends early with more cells than
// NewLoader takes.
func (r *Region) Select(inside func(lat, lon, cellLat, cellLon float64) bool, every int) (cells []Cell, outside int) {
	every = max(every, 1)
	kept := func(i, n int) bool { return i%every == min(every, n)/2 }
	for y, lat := range r.Lat {
		if !kept(y, len(r.Lat)) {
			continue
		}
		for x, lon := range r.Lon {
			if !kept(x, len(r.Lon)) {
				continue
			}
			if cellLat, cellLon := r.edges(Cell{y, x}); inside != nil && !inside(lat, lon, cellLat, cellLon) {
				outside++
				continue
			}
			if cells = append(cells, Cell{y, x}); len(cells) > mostSelected {
				return cells, outside
			}
			if math.Abs(lat) > pole {
				break
			}
		}
	}
	return cells, outside
}

// pole is a latitude from which on all longitudes are one place, degrees.
const pole = 90 - 1e-6

// Nearest gives the cell whose centre is nearest to a place.
func (r *Region) Nearest(lat, lon float64) Cell {
	const rad = math.Pi / 180
	best, least := Cell{}, math.Inf(1)
	for y, cLat := range r.Lat {
		for x, cLon := range r.Lon {
			a := math.Sin((cLat - lat) * rad / 2)
			b := math.Sin((cLon - lon) * rad / 2)
			if d := a*a + math.Cos(lat*rad)*math.Cos(cLat*rad)*b*b; d < least {
				best, least = Cell{y, x}, d
			}
		}
	}
	return best
}

// edges gives the extent of a cell in latitude and longitude, degrees.
func (r *Region) edges(c Cell) (lat, lon float64) {
	if r.latEdges != nil {
		return math.Abs(r.latEdges[c.Row+1] - r.latEdges[c.Row]), r.cellLon
	}
	return r.cellLat, r.cellLon
}

// Find gives the cell of an identifier.
func (r *Region) Find(id string) (Cell, bool) {
	for y, lat := range r.Lat {
		for x, lon := range r.Lon {
			if cellID(lat, lon) == id {
				return Cell{y, x}, true
			}
		}
	}
	return Cell{}, false
}
