package hdf5

import (
	"cmp"
	"fmt"
	"slices"
)

// A chunk is where a stored chunk lies. Its number is its place in the grid of
// the chunks that cover the dataset, in C order.
type chunk struct {
	number int
	block
	mask uint32 // of the filters that were skipped
}

// A chunkIndex finds chunks by number.
type chunkIndex struct {
	list []chunk // by number; of implicit indexes it holds chunk 0 alone

	implicit bool
	most     grid // of the largest extent, by which implicit indexes count
	now      grid
}

// find gives the chunk of a number, false where it was never written.
func (x *chunkIndex) find(number int) (chunk, bool) {
	if x.implicit {
		if len(x.list) == 0 {
			return chunk{}, false
		}
		first := x.list[0]
		first.addr += int64(x.most.number(x.now.at(number))) * first.size
		first.number = number
		return first, true
	}
	i, ok := slices.BinarySearchFunc(x.list, number, func(c chunk, n int) int { return cmp.Compare(c.number, n) })
	if !ok {
		return chunk{}, false
	}
	return x.list[i], true
}

// indexReader gathers the chunks of a dataset.
type indexReader struct {
	in        *input
	d         *Dataset
	now, most grid
	size      int64 // bytes of a chunk without filters
	list      []chunk
}

// readIndex reads the index of the chunks of a dataset.
func (d *Dataset) readIndex() (chunkIndex, error) {
	l := &d.layout
	r := &indexReader{in: d.in.renew(), d: d, now: gridOf(d.Shape, l.chunk), most: gridOf(d.space.max, l.chunk),
		size: int64(d.chunkBytes())}
	x := chunkIndex{now: r.now, most: r.most}
	if l.addr == undefined {
		return x, nil
	}
	var err error
	switch l.index {
	case indexTree1:
		err = r.tree1()
	case indexSingle:
		size := r.size
		if l.singleSize >= 0 {
			size = l.singleSize
		}
		r.add(make([]int, len(r.now)), block{l.addr, size}, l.singleMask)
	case indexImplicit:
		x.implicit = true
		r.add(make([]int, len(r.now)), block{l.addr, r.size}, 0)
		if n, ok := product(r.most...); !ok || int64(n) > r.in.size/r.size {
			err = fmt.Errorf("chunks of %d bytes, %d of them, do not fit the file", r.size, r.most)
		}
	case indexFixed:
		err = r.fixedArray()
	case indexExtensible:
		err = r.extensibleArray()
	case indexTree2:
		err = r.tree2()
	}
	if err != nil {
		return x, fmt.Errorf("chunk index: %w", err)
	}
	slices.SortFunc(r.list, func(a, b chunk) int { return cmp.Compare(a.number, b.number) })
	x.list = r.list
	return x, nil
}

// add takes a chunk, unless it is outside the grid: datasets can have been made
// smaller since they were written.
func (r *indexReader) add(at []int, b block, mask uint32) {
	if b.addr != undefined && r.now.holds(at) {
		r.list = append(r.list, chunk{r.now.number(at), b, mask})
	}
}

// tree1 reads a B-tree of version 1, whose keys hold sizes and the indexes of
// the first value of each chunk.
func (r *indexReader) tree1() error {
	shape := r.d.layout.chunk
	at := make([]int, len(shape))
	return r.in.tree1(r.d.layout.addr, 1, 4+4+8*(len(shape)+1), func(key *cursor, child int64) error {
		size, mask := key.u32(), uint32(key.u32())
		for i := range at {
			first := int(key.size(8))
			if first%shape[i] != 0 {
				key.fail("a chunk begins at %d, where chunks have %d", first, shape[i])
			}
			at[i] = first / shape[i]
		}
		r.add(at, block{child, size}, mask)
		return key.err
	})
}

// tree2 reads a B-tree of version 2, whose records hold the place of each chunk.
func (r *indexReader) tree2() error {
	at := make([]int, len(r.now))
	return r.in.tree2(r.d.layout.addr, func(kind int, c *cursor) error {
		b, mask := block{c.address(), r.size}, uint32(0)
		switch kind {
		case 10:
		case 11:
			b.size, mask = c.size(len(c.b)-c.offsetSize-4-8*len(at)), uint32(c.u32())
		default:
			c.fail("kind %d", kind)
		}
		for i := range at {
			at[i] = c.count(8)
		}
		r.add(at, b, mask)
		return c.err
	})
}

// element decodes the entry of a chunk in an array: its address and, where the
// chunks are filtered, size and mask.
func (r *indexReader) element(c *cursor, size int, filtered bool) (block, uint32) {
	e := c.sub("array element", size)
	b, mask := block{e.address(), r.size}, uint32(0)
	if filtered {
		b.size, mask = e.size(size-e.offsetSize-4), uint32(e.u32())
	}
	if c.err == nil {
		c.err = e.err
	}
	return b, mask
}
