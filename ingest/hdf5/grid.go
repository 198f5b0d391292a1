package hdf5

// A grid is the number of chunks along each dimension.
type grid []int

// gridOf gives the number of chunks that cover a shape.
func gridOf(shape, chunk []int) grid {
	g := make(grid, len(shape))
	for i, n := range shape {
		g[i] = (n + chunk[i] - 1) / chunk[i]
	}
	return g
}

// number gives the place of a chunk in C order.
func (g grid) number(at []int) int {
	n := 0
	for i, x := range at {
		n = n*g[i] + x
	}
	return n
}

// at undoes number; of numbers too large it gives a place outside the grid.
func (g grid) at(number int) []int {
	at := make([]int, len(g))
	for i := len(g) - 1; i > 0; i-- {
		at[i] = number % g[i]
		number /= g[i]
	}
	if len(at) > 0 {
		at[0] = number
	}
	return at
}

// holds tells whether a chunk is in the grid.
func (g grid) holds(at []int) bool {
	if len(at) != len(g) {
		return false
	}
	for i, x := range at {
		if x < 0 || x >= g[i] {
			return false
		}
	}
	return true
}
