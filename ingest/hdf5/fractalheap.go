package hdf5

import "math/bits"

// A fractalHeap holds links and attributes that are too many for a header.
type fractalHeap struct {
	in         *input
	at         int64
	checksums  bool  // direct blocks have them
	offsetSize int   // bytes of an offset in the heap
	lengthSize int   // bytes of an object's length
	huge       int64 // tree of the objects outside the heap
	width      int   // blocks in a row
	start      int64 // size of the first blocks
	direct     int   // rows of direct blocks
	root       int64
	rows       int               // of the root, 0 where it is a direct block
	blocks     map[int64]*cursor // direct blocks read so far
	children   map[int64][]int64 // addresses in the indirect blocks read so far
	large      map[int64]block   // huge objects by number, nil before they were listed
}

// fractalHeap reads the header of the heap at an address.
func (in *input) fractalHeap(addr int64) (*fractalHeap, error) {
	c, err := in.read("fractal heap", addr, int64(26+3*in.offset+12*in.length))
	if err != nil {
		return nil, err
	}
	c.signature("FRHP")
	c.version(0)
	c.skip(2) // bytes of an identifier, which the indexes know
	filters := c.u16()
	h := &fractalHeap{in: in, at: addr, checksums: c.u8()&2 != 0,
		blocks: make(map[int64]*cursor), children: make(map[int64][]int64)}
	mostObject := c.u32()
	c.long()
	h.huge = c.address()
	c.long()
	c.address()
	c.skip(8 * in.length)
	h.width = c.u16()
	h.start = c.long()
	mostDirect := c.long()
	heapBits := c.u16()
	c.skip(2)
	h.root, h.rows = c.address(), c.u16()
	if c.err == nil && filters > 0 {
		return nil, unsupported("filtered fractal heap at byte %d", c.at)
	}
	c.checksum()
	powers := power(int64(h.width)) && power(h.start) && power(mostDirect)
	if c.err == nil && (!powers || mostDirect < h.start || heapBits > 64) {
		c.fail("%d blocks of %d to %d bytes a row, %d bits", h.width, h.start, mostDirect, heapBits)
	}
	h.offsetSize = (heapBits + 7) / 8
	h.lengthSize = width(uint64(min(mostDirect, mostObject)))
	h.direct = bits.Len64(uint64(mostDirect)) - bits.Len64(uint64(h.start)) + 2
	return h, c.err
}

// power tells whether n is a power of two.
func power(n int64) bool { return n > 0 && n&(n-1) == 0 }

// object gives the object of an identifier.
func (h *fractalHeap) object(id []byte) (*cursor, error) {
	c := &cursor{what: "heap identifier", b: id, at: h.in.base + h.at,
		offsetSize: h.in.offset, lengthSize: h.in.length}
	head := c.u8()
	switch kind := head >> 4 & 3; {
	case head>>6 != 0:
		c.fail("version %d", head>>6)
	case kind == 0:
		offset, n := c.size(h.offsetSize), c.size(h.lengthSize)
		if c.err == nil {
			return h.managed(offset, n)
		}
	case kind == 1:
		number := c.size(min(h.in.length, c.left()))
		if c.err == nil {
			return h.outside(number)
		}
	case kind == 2:
		return c.sub("heap object", head&15+1), c.err
	default:
		c.fail("kind %d", kind)
	}
	return nil, c.err
}

// managed gives the n bytes at an offset of the heap.
func (h *fractalHeap) managed(offset, n int64) (*cursor, error) {
	addr, rows, size := h.root, h.rows, h.start
	for rows > 0 {
		row, first := 0, int64(0)
		for size = h.start; offset-first >= size*int64(h.width); row++ {
			first += size * int64(h.width)
			if row > 0 {
				size *= 2
			}
			if row >= rows || bits.Len64(uint64(size))+bits.Len(uint(h.width)) > 60 {
				return nil, damaged("fractal heap", h.in.base+h.at, "an object at %d lies beyond its end", offset)
			}
		}
		if row >= rows {
			return nil, damaged("fractal heap", h.in.base+h.at, "an object at %d lies beyond its end", offset)
		}
		list, err := h.indirect(addr, rows)
		if err != nil {
			return nil, err
		}
		column := (offset - first) / size
		offset -= first + column*size
		addr = list[int64(row*h.width)+column]
		rows = 0
		if row >= h.direct {
			rows = bits.Len64(uint64(size)) - bits.Len64(uint64(h.start*int64(h.width))) + 1
		}
	}
	c := h.blocks[addr]
	if c == nil {
		var err error
		if c, err = h.block(addr, size); err != nil {
			return nil, err
		}
		h.blocks[addr] = c
	}
	if offset > int64(len(c.b)) || n > int64(len(c.b))-offset {
		return nil, damaged(c.what, c.at, "an object of %d bytes at %d", n, offset)
	}
	return &cursor{what: "heap object", b: c.b[offset : offset+n], at: c.at + offset,
		offsetSize: h.in.offset, lengthSize: h.in.length}, nil
}

// indirect gives the addresses in an indirect block of so many rows.
func (h *fractalHeap) indirect(addr int64, rows int) ([]int64, error) {
	if list := h.children[addr]; len(list) == rows*h.width {
		return list, nil
	}
	n := rows * h.width
	c, err := h.in.read("fractal heap block", addr, int64(5+h.in.offset+h.offsetSize+n*h.in.offset+4))
	if err != nil {
		return nil, err
	}
	c.signature("FHIB")
	c.version(0)
	c.skip(h.in.offset + h.offsetSize)
	list := make([]int64, n)
	for i := range list {
		list[i] = c.address()
	}
	c.checksum()
	h.children[addr] = list
	return list, c.err
}

// block reads a direct block.
func (h *fractalHeap) block(addr, size int64) (*cursor, error) {
	c, err := h.in.read("fractal heap block", addr, size)
	if err != nil {
		return nil, err
	}
	c.signature("FHDB")
	c.version(0)
	c.skip(h.in.offset + h.offsetSize)
	if h.checksums {
		at := c.pos
		want := uint32(c.u32())
		if c.err == nil {
			clear(c.b[at:c.pos]) // the sum is taken with its own place zero
			if lookup3(c.b) != want {
				c.fail("the checksum is wrong")
			}
		}
	}
	return c, c.err
}

// outside gives an object that is too large for the heap's blocks.
func (h *fractalHeap) outside(number int64) (*cursor, error) {
	if h.large == nil {
		h.large = make(map[int64]block)
		err := h.in.tree2(h.huge, func(kind int, r *cursor) error {
			if kind != 1 {
				return unsupported("huge heap objects of kind %d, at byte %d", kind, r.at)
			}
			b := block{r.address(), r.long()}
			h.large[r.long()] = b
			return r.err
		})
		if err != nil {
			return nil, err
		}
	}
	b, ok := h.large[number]
	if !ok {
		return nil, damaged("fractal heap", h.in.base+h.at, "huge object %d is missing", number)
	}
	return h.in.read("heap object", b.addr, b.size)
}
