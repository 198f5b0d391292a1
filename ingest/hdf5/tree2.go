package hdf5

import (
	"math"
	"math/bits"
)

// A tree2 is a B-tree of version 2.
type tree2 struct {
	in         *input
	kind       int
	recordSize int
	countSize  int   // bytes of a child's number of records
	totalSizes []int // bytes of the number of records below a child, by level of the child
	record     func(kind int, r *cursor) error
}

// tree2 hands out the records of the tree at an address, in order.
func (in *input) tree2(addr int64, record func(kind int, r *cursor) error) error {
	const what = "B-tree header"
	c, err := in.read(what, addr, int64(4+1+1+4+2+2+1+1+in.offset+2+in.length+4))
	if err != nil {
		return err
	}
	c.signature("BTHD")
	c.version(0)
	t := &tree2{in: in, kind: c.u8(), record: record}
	nodeSize := c.u32()
	t.recordSize = c.u16()
	depth := c.u16()
	c.skip(2)
	root, n := c.address(), c.u16()
	c.skip(in.length)
	c.checksum()
	if c.err == nil && (t.recordSize == 0 || depth > 32 || nodeSize < 16) {
		c.fail("records of %d bytes in nodes of %d, %d deep", t.recordSize, nodeSize, depth)
	}
	if c.err != nil || root == undefined {
		return c.err
	}
	t.widths(nodeSize, depth)
	return t.node(root, n, depth)
}

// widths finds the bytes that counts of records take: just enough for the most
// that nodes of that size can hold.
func (t *tree2) widths(nodeSize int64, depth int) {
	const overhead = 4 + 1 + 1 + 4
	most := uint64(nodeSize-overhead) / uint64(t.recordSize)
	t.countSize = width(most)
	t.totalSizes = []int{0}
	total := most
	for level := 1; level < depth; level++ {
		pointer := int64(t.in.offset + t.countSize + t.totalSizes[level-1])
		most = uint64(max(0, nodeSize-overhead-pointer)) / uint64(int64(t.recordSize)+pointer)
		if over, _ := bits.Mul64(most+1, total+1); over != 0 {
			total = math.MaxUint64
		} else {
			total = (most+1)*total + most
		}
		t.totalSizes = append(t.totalSizes, width(total))
	}
}

// width gives the number of bytes that a number takes.
func width(n uint64) int { return max(1, (bits.Len64(n)+7)/8) }

// node walks the node at an address, with n records and so many levels below.
func (t *tree2) node(addr int64, n, level int) error {
	size := int64(4 + 1 + 1 + n*t.recordSize + 4)
	name, pointer := "BTLF", 0
	if level > 0 {
		name, pointer = "BTIN", t.in.offset+t.countSize+t.totalSizes[level-1]
		size += int64((n + 1) * pointer)
	}
	c, err := t.in.read("B-tree node", addr, size)
	if err != nil {
		return err
	}
	c.signature(name)
	c.version(0)
	if kind := c.u8(); c.err == nil && kind != t.kind {
		c.fail("kind %d in a tree of kind %d", kind, t.kind)
	}
	records := c.sub("B-tree record", n*t.recordSize)
	children := c.sub("B-tree node", (n+1)*pointer)
	c.checksum()
	if c.err != nil {
		return c.err
	}
	for i := 0; i <= n; i++ {
		if level > 0 {
			child, count := children.address(), children.size(t.countSize)
			children.skip(t.totalSizes[level-1])
			if children.err != nil {
				return children.err
			}
			if count > math.MaxUint16 {
				return damaged("B-tree node", c.at, "a child of %d records", count)
			}
			if err := t.node(child, int(count), level-1); err != nil {
				return err
			}
		}
		if i < n {
			if err := t.record(t.kind, records.sub("B-tree record", t.recordSize)); err != nil {
				return err
			}
		}
	}
	return nil
}
