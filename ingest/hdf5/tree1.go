package hdf5

// tree1 walks a B-tree of version 1 whose nodes are of a kind, 0 for groups and
// 1 for chunks, and hands out the leaves' children, each with the key before it.
func (in *input) tree1(addr int64, kind, keySize int, leaf func(key *cursor, child int64) error) error {
	return in.tree1Node(addr, kind, keySize, -1, leaf)
}

// tree1Node walks the node at an address, whose level is known but for the root.
func (in *input) tree1Node(addr int64, kind, keySize, level int, leaf func(*cursor, int64) error) error {
	const what = "B-tree node"
	head := int64(8 + 2*in.offset)
	c, err := in.read(what, addr, head)
	if err != nil {
		return err
	}
	c.signature("TREE")
	gotKind, gotLevel, n := c.u8(), c.u8(), c.u16()
	if c.err == nil && (gotKind != kind || level >= 0 && gotLevel != level) {
		c.fail("kind %d and level %d, not %d and %d", gotKind, gotLevel, kind, level)
	}
	if c.err != nil {
		return c.err
	}
	if c, err = in.read(what, addr+head, int64(n)*int64(keySize+in.offset)); err != nil {
		return err
	}
	for range n {
		key, child := c.sub("B-tree key", keySize), c.address()
		if c.err != nil {
			return c.err
		}
		if gotLevel == 0 {
			err = leaf(key, child)
		} else {
			err = in.tree1Node(child, kind, keySize, gotLevel-1, leaf)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
