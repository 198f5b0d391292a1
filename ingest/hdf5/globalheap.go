package hdf5

// sequence reads a reference into the global heap and gives the bytes of the
// items of the given size that it stands for.
func (in *input) sequence(c *cursor, itemSize int) ([]byte, error) {
	n, addr, index := c.u32(), c.address(), uint32(c.u32())
	if c.err != nil || n == 0 || addr == undefined {
		return nil, c.err
	}
	if in.heaps[addr] == nil {
		objects, err := in.globalHeap(addr)
		if err != nil {
			return nil, err
		}
		if in.heaps == nil {
			in.heaps = make(map[int64]map[uint32][]byte)
		}
		in.heaps[addr] = objects
	}
	b, ok := in.heaps[addr][index]
	if !ok || n > int64(len(b)/itemSize) {
		return nil, damaged("global heap", in.base+addr, "object %d of %d × %d bytes is missing", index, n, itemSize)
	}
	// Many references to one long object could fill the memory.
	return b[:n*int64(itemSize)], in.spend("global heap", addr, n*int64(itemSize))
}

// globalHeap reads the collection at an address.
func (in *input) globalHeap(addr int64) (map[uint32][]byte, error) {
	const what = "global heap"
	c, err := in.readUpTo(what, addr, 16)
	if err != nil {
		return nil, err
	}
	c.signature("GCOL")
	c.version(1)
	c.skip(3)
	size := c.long()
	if c.err != nil {
		return nil, c.err
	}
	head := c.pos
	if c, err = in.read(what, addr, max(size, int64(head))); err != nil {
		return nil, err
	}
	c.skip(head)
	objects := make(map[uint32][]byte)
	for c.left() >= 8+in.length {
		index := uint32(c.u16())
		c.skip(6)
		n := c.count(c.lengthSize)
		if index == 0 { // what follows is free
			break
		}
		from := c.pos
		objects[index] = c.bytes(n)
		if c.left() > 0 {
			c.pad(from, 8)
		}
		if c.err != nil {
			return nil, c.err
		}
	}
	return objects, c.err
}
