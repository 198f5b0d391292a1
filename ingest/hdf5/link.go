package hdf5

import "sort"

// A link is a name in a group, of the object at an address.
type link struct {
	name  string
	addr  int64
	order int64 // of creation, -1 where the file does not keep it
}

// links gives the hard links of a group in order of creation, or by name where
// that is not kept. Links to elsewhere are left out.
func (in *input) links(messages []message) ([]link, error) {
	var list []link
	take := func(c *cursor) error {
		l, hard, err := decodeLink(c)
		if hard {
			list = append(list, l)
		}
		return err
	}
	for _, m := range messages {
		var err error
		switch m.kind {
		case msgLink:
			err = take(m.body)
		case msgLinkInfo:
			err = in.denseLinks(m.body, take)
		case msgSymbolTable:
			tree, heap := m.body.address(), m.body.address()
			if err = m.body.err; err == nil {
				err = in.symbolTable(tree, heap, &list)
			}
		}
		if err != nil {
			return nil, err
		}
	}
	ordered := true
	for _, l := range list {
		ordered = ordered && l.order >= 0
	}
	sort.SliceStable(list, func(i, j int) bool {
		if ordered {
			return list[i].order < list[j].order
		}
		return list[i].name < list[j].name
	})
	return list, nil
}

// denseLinks passes on the link messages that a link info message refers to.
func (in *input) denseLinks(c *cursor, take func(*cursor) error) error {
	c.version(0)
	if flags := c.u8(); flags&1 != 0 {
		c.skip(8)
	}
	heapAt, tree := c.address(), c.address()
	if c.err != nil || heapAt == undefined || tree == undefined {
		return c.err
	}
	heap, err := in.fractalHeap(heapAt)
	if err != nil {
		return err
	}
	return in.tree2(tree, func(kind int, r *cursor) error {
		r.skip(4) // hash of the name
		id := r.bytes(7)
		if kind != 5 || r.err != nil {
			return damaged("link index", r.at, "a record of kind %d", kind)
		}
		body, err := heap.object(id)
		if err != nil {
			return err
		}
		return take(body)
	})
}

// decodeLink decodes a link message and tells whether it names an object of
// this file.
func decodeLink(c *cursor) (l link, hard bool, err error) {
	c.version(1)
	flags, kind := c.u8(), 0
	l.order = -1
	if flags&8 != 0 {
		kind = c.u8()
	}
	if flags&4 != 0 {
		l.order = c.size(8)
	}
	if flags&16 != 0 {
		c.skip(1) // character set
	}
	l.name = string(c.bytes(c.count(1 << (flags & 3))))
	if kind == 0 {
		l.addr = c.address()
	}
	return l, kind == 0 && c.err == nil, c.err
}

// symbolTable adds the links of a group of the old kind.
func (in *input) symbolTable(tree, heapAt int64, list *[]link) error {
	c, err := in.readUpTo("local heap", heapAt, 32)
	if err != nil {
		return err
	}
	c.signature("HEAP")
	c.version(0)
	c.skip(3)
	size := c.long()
	c.long() // list of free space
	data := c.address()
	if c.err != nil {
		return c.err
	}
	names, err := in.read("local heap", data, size)
	if err != nil {
		return err
	}
	return in.tree1(tree, 0, in.length, func(_ *cursor, node int64) error {
		c, err := in.readUpTo("symbol table node", node, 8)
		if err != nil {
			return err
		}
		c.signature("SNOD")
		c.version(1)
		c.skip(1)
		n := c.u16()
		if c.err != nil {
			return c.err
		}
		if c, err = in.read(c.what, node+8, int64(n)*int64(2*in.offset+24)); err != nil {
			return err
		}
		for range n {
			name, addr, cached := c.address(), c.address(), c.u32()
			c.skip(20)
			if name < 0 || name >= int64(len(names.b)) {
				return damaged(c.what, c.at, "a name at %d of a heap of %d bytes", name, len(names.b))
			}
			if cached == 2 { // a symbolic link
				continue
			}
			*list = append(*list, link{text(names.b[name:], false), addr, -1})
		}
		return c.err
	})
}
