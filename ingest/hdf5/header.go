package hdf5

// header reads the object header at an address, with its continuations.
func (in *input) header(addr int64) ([]message, error) {
	const what = "object header"
	c, err := in.readUpTo(what, addr, 48)
	if err != nil {
		return nil, err
	}
	if len(c.b) > 4 && string(c.b[:4]) == "OHDR" {
		return in.header2(c, addr)
	}
	c.version(1)
	c.skip(1 + 2 + 4)
	size := c.u32()
	if c.err != nil {
		return nil, c.err
	}
	if c, err = in.read(what, addr+16, size); err != nil {
		return nil, err
	}
	list := &headerList{in: in}
	list.scan1(c)
	for len(list.more) > 0 && list.err == nil {
		next := list.more[0]
		list.more = list.more[1:]
		if c, list.err = in.read(what, next.addr, next.size); list.err == nil {
			list.scan1(c)
		}
	}
	return list.messages, list.err
}

// header2 reads a header of version 2, of which c holds the beginning.
func (in *input) header2(c *cursor, addr int64) ([]message, error) {
	c.skip(4)
	c.version(2)
	flags := c.u8()
	if flags&0x20 != 0 {
		c.skip(16) // times
	}
	if flags&0x10 != 0 {
		c.skip(4) // bounds between compact and dense
	}
	size := c.size(1 << (flags & 3))
	if c.err != nil {
		return nil, c.err
	}
	prefix := c.pos
	c, err := in.read(c.what, addr, int64(prefix)+size+4)
	if err != nil {
		return nil, err
	}
	c.skip(prefix)
	list := &headerList{in: in, ordered: flags&0x04 != 0}
	list.scan2(c)
	for len(list.more) > 0 && list.err == nil {
		next := list.more[0]
		list.more = list.more[1:]
		if c, list.err = in.read("object header continuation", next.addr, next.size); list.err == nil {
			c.signature("OCHK")
			list.scan2(c)
		}
	}
	return list.messages, list.err
}

// A block is a piece of the file.
type block struct{ addr, size int64 }

// A headerList gathers the messages of a header.
type headerList struct {
	in       *input
	ordered  bool // version 2 with order of creation
	messages []message
	more     []block // continuations not yet read
	err      error
}

// scan1 takes the messages of a block of version 1.
func (l *headerList) scan1(c *cursor) {
	for c.left() >= 8 && c.err == nil {
		kind, size, flags := c.u16(), c.u16(), c.u8()
		c.skip(3)
		l.add(kind, flags, 0, c.sub("header message", size))
	}
	if l.err == nil {
		l.err = c.err
	}
}

// scan2 takes the messages of a block of version 2, which ends in a checksum.
func (l *headerList) scan2(c *cursor) {
	lead := 4
	if l.ordered {
		lead = 6
	}
	for c.left() >= lead+4 && c.err == nil {
		kind, size, flags, order := c.u8(), c.u16(), c.u8(), 0
		if l.ordered {
			order = c.u16()
		}
		if size > c.left()-4 {
			c.fail("a message of %d bytes runs over the end", size)
		}
		l.add(kind, flags, order, c.sub("header message", size))
	}
	c.skip(max(0, c.left()-4)) // a gap too small for a message
	c.checksum()
	if l.err == nil {
		l.err = c.err
	}
}

func (l *headerList) add(kind, flags, order int, body *cursor) {
	switch {
	case body.err != nil || kind == 0:
	case kind == msgContinuation:
		l.more = append(l.more, block{body.address(), body.long()})
		if l.err == nil {
			l.err = body.err
		}
	default:
		l.messages = append(l.messages, message{kind, flags&2 != 0, order, body})
	}
}
