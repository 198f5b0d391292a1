package hdf5

// fixedArray reads a chunk index for datasets of fixed extent: an entry for
// each chunk, in C order.
func (r *indexReader) fixedArray() error {
	c, err := r.in.read("fixed array", r.d.layout.addr, int64(4+1+1+1+1+r.in.length+r.in.offset+4))
	if err != nil {
		return err
	}
	c.signature("FAHD")
	c.version(0)
	filtered, size, pageBits := c.u8() == 1, c.u8(), c.u8()
	n, data := c.long(), c.address()
	c.checksum()
	if c.err == nil && (size < r.in.offset || n > min(r.in.size, mostBytes)/int64(size) || pageBits > 30) {
		c.fail("%d entries of %d bytes, 2^%d a page", n, size, pageBits)
	}
	if c.err != nil || data == undefined {
		return c.err
	}
	count, page := int(n), 1<<pageBits
	head, pages := 4+1+1+r.in.offset, 0
	length := head + 4
	if count > page {
		pages = (count + page - 1) / page
		length += (pages + 7) / 8
	} else {
		length += count * size
	}
	if c, err = r.in.read("fixed array data", data, int64(length)); err != nil {
		return err
	}
	c.signature("FADB")
	c.version(0)
	c.skip(1 + r.in.offset)
	if pages == 0 {
		r.entries(c, 0, count, size, filtered, r.cell)
		c.checksum()
		return c.err
	}
	written := bitmap(c.bytes((pages + 7) / 8))
	c.checksum()
	if c.err != nil {
		return c.err
	}
	for i := range pages {
		if !written.has(i) {
			continue
		}
		first := i * page
		n := min(page, count-first)
		c, err := r.in.read("fixed array page", data+int64(length)+int64(i)*int64(page*size+4), int64(n*size+4))
		if err != nil {
			return err
		}
		r.entries(c, first, n, size, filtered, r.cell)
		c.checksum()
		if c.err != nil {
			return c.err
		}
	}
	return nil
}

// entries takes n entries, of which the first is that of chunk number first;
// cell says where in the grid a chunk is.
func (r *indexReader) entries(c *cursor, first, n, size int, filtered bool, cell func(int) []int) {
	for i := first; i < first+n && c.err == nil; i++ {
		b, mask := r.element(c, size, filtered)
		if b.addr != undefined {
			r.add(cell(i), b, mask)
		}
	}
}

// cell gives the place of a chunk that is counted in the largest extent, nil
// where that has none.
func (r *indexReader) cell(number int) []int {
	for _, n := range r.most {
		if n == 0 {
			return nil
		}
	}
	return r.most.at(number)
}

// A bitmap holds a bit for each page, from the highest of each byte on.
type bitmap []byte

func (b bitmap) has(i int) bool { return b[i/8]&(0x80>>(i%8)) != 0 }
