package hdf5

import "math"

// A dataspace is the shape of values.
type dataspace struct {
	dims      []int
	max       []int // the same as dims where the file states none
	unlimited []bool
	empty     bool // holds no value, not even a scalar
}

// decodeDataspace decodes a dataspace message.
func decodeDataspace(c *cursor) (dataspace, error) {
	version, rank, flags := c.u8(), c.u8(), c.u8()
	var s dataspace
	switch version {
	case 1:
		c.skip(5)
	case 2:
		s.empty = c.u8() == 2
	default:
		if c.err == nil {
			c.err = unsupported("version %d of the dataspace at byte %d", version, c.at)
		}
	}
	if rank > 32 {
		c.fail("a shape of %d dimensions", rank)
	}
	if c.err != nil {
		return s, c.err
	}
	s.dims = make([]int, rank)
	for i := range s.dims {
		s.dims[i] = c.count(c.lengthSize)
	}
	s.max = append([]int(nil), s.dims...)
	s.unlimited = make([]bool, rank)
	if flags&1 != 0 {
		for i := range s.max {
			most := c.uint(c.lengthSize)
			s.unlimited[i] = most == math.MaxUint64>>(64-8*c.lengthSize)
			if s.unlimited[i] {
				continue
			}
			if most < uint64(s.dims[i]) || most > mostBytes {
				c.fail("a dimension of %d that may have %d", s.dims[i], most)
			}
			s.max[i] = int(most)
		}
	}
	if _, ok := product(s.dims...); !ok {
		c.fail("a shape of %d, want at most %d values", s.dims, mostBytes)
	}
	return s, c.err
}

// count gives the number of values.
func (s dataspace) count() int {
	if s.empty {
		return 0
	}
	n, _ := product(s.dims...)
	return n
}

// mostBytes bounds products of sizes, so that they can be reckoned with.
const mostBytes = math.MaxInt / 4

// product multiplies numbers that are not negative, and tells whether every
// partial product is small enough to go on with. A 0 makes no exception for
// the others, so that sub-products can be taken later.
func product(numbers ...int) (n int, ok bool) {
	n, all := 1, 1
	for _, x := range numbers {
		n *= x
		if x = max(x, 1); x > mostBytes/all {
			return 0, false
		}
		all *= x
	}
	return n, true
}
