package hdf5

// Kinds of layouts.
const (
	layoutCompact = iota
	layoutContiguous
	layoutChunked
	layoutVirtual
)

// Kinds of chunk indexes, numbered as in layout messages of version 4.
const (
	indexTree1 = iota // the only one of earlier versions
	indexSingle
	indexImplicit
	indexFixed
	indexExtensible
	indexTree2
)

// A layout is where and how the values of a dataset lie.
type layout struct {
	kind int
	data []byte // of a compact dataset
	addr int64  // of the contiguous data or of the chunk index
	size int64  // of the contiguous data, -1 where the message does not state it

	chunk       []int // shape of a chunk, without the size of a value
	elementSize int
	index       int
	rawEdges    bool  // chunks over the edge are not filtered
	singleSize  int64 // of the filtered single chunk
	singleMask  uint32
}

// decodeLayout decodes a layout message.
func decodeLayout(c *cursor) (layout, error) {
	l := layout{addr: undefined, size: -1}
	switch version := c.u8(); version {
	case 1, 2:
		rank := c.u8()
		l.kind = c.u8()
		c.skip(5)
		if l.kind != layoutCompact {
			l.addr = c.address()
		}
		l.dims(c, rank, 4)
		if l.kind == layoutCompact {
			l.data = c.bytes(int(c.u32()))
		}
	case 3, 4:
		l.kind = c.u8()
		switch {
		case l.kind == layoutCompact:
			l.data = c.bytes(c.u16())
		case l.kind == layoutContiguous:
			l.addr, l.size = c.address(), c.long()
		case l.kind == layoutChunked && version == 3:
			rank := c.u8()
			l.addr = c.address()
			l.dims(c, rank, 4)
		case l.kind == layoutChunked:
			l.chunked4(c)
		}
	default:
		if c.err == nil {
			c.err = unsupported("version %d of the layout at byte %d", version, c.at)
		}
	}
	if c.err == nil && l.kind >= layoutVirtual {
		name := "unknown layout"
		if l.kind == layoutVirtual {
			name = "virtual dataset"
		}
		c.err = unsupported("%s", name)
	}
	return l, c.err
}

// dims reads the shape of a chunk, whose last dimension is the size of a value.
// The other layouts of the first versions have a shape there too, of no use.
func (l *layout) dims(c *cursor, rank, width int) {
	if rank > 33 || rank == 0 && l.kind == layoutChunked {
		c.fail("chunks of %d dimensions", rank)
		return
	}
	dims := make([]int, rank)
	for i := range dims {
		dims[i] = c.count(width)
	}
	if l.kind != layoutChunked {
		return
	}
	l.chunk, l.elementSize = dims[:rank-1], dims[rank-1]
	if n, ok := product(dims...); c.err == nil && (n == 0 || !ok) {
		c.fail("chunks of %d", dims)
	}
}

// chunked4 decodes the chunked layout of version 4.
func (l *layout) chunked4(c *cursor) {
	flags, rank, width := c.u8(), c.u8(), c.u8()
	l.rawEdges = flags&1 != 0
	l.dims(c, rank, width)
	l.index = c.u8()
	switch l.index {
	case indexSingle:
		l.singleSize = -1
		if flags&2 != 0 {
			l.singleSize, l.singleMask = c.long(), uint32(c.u32())
		}
	case indexImplicit:
	case indexFixed:
		c.skip(1)
	case indexExtensible:
		c.skip(5) // its header repeats them
	case indexTree2:
		c.skip(6) // its header repeats them
	default:
		if c.err == nil {
			c.err = unsupported("chunk index of kind %d", l.index)
		}
	}
	l.addr = c.address()
}
