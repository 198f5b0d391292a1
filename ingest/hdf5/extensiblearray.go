package hdf5

import (
	"math"
	"math/bits"
	"slices"
)

// An extensibleArray is a chunk index for datasets with one unlimited
// dimension: an entry for each chunk, in C order with that dimension first, in
// blocks that grow. Blocks of one size make a super block; the addresses of the
// first ones are in the index block, those of later ones in blocks of their own.
type extensibleArray struct {
	r          *indexReader
	size       int // bytes of an entry
	filtered   bool
	offsetSize int  // bytes of an entry's number
	pageBits   int  // of the entries of a page
	unlimited  int  // the dimension
	grid       grid // unlimited dimension first
	end        int  // number of entries that can be of use
}

// extensibleArray reads the index.
func (r *indexReader) extensibleArray() error {
	c, err := r.in.read("extensible array", r.d.layout.addr, int64(4+8+6*r.in.length+r.in.offset+4))
	if err != nil {
		return err
	}
	c.signature("EAHD")
	c.version(0)
	a := &extensibleArray{r: r, filtered: c.u8() == 1, size: c.u8(), unlimited: slices.Index(r.d.Unlimited, true)}
	numberBits, direct, least, pointers := c.u8(), c.u8(), c.u8(), c.u8()
	a.pageBits = c.u8()
	c.skip(6 * r.in.length)
	addr := c.address()
	c.checksum()
	powers := power(int64(least)) && power(int64(pointers))
	if c.err == nil && (a.size < r.in.offset || numberBits > 62 || a.pageBits > 32 || !powers || a.unlimited < 0) {
		c.fail("entries of %d bytes, %d bits, blocks of %d, %d pointers", a.size, numberBits, least, pointers)
	}
	if c.err != nil || addr == undefined {
		return c.err
	}
	a.offsetSize = (numberBits + 7) / 8
	a.order()
	superBlocks := numberBits - bits.Len(uint(least)) + 2
	near := 2 * (bits.Len(uint(pointers)) - 1) // super blocks whose data blocks the index block lists
	nearBlocks, farBlocks := 2*(pointers-1), max(0, superBlocks-near)
	c, err = r.in.read("extensible array index", addr,
		int64(6+r.in.offset+direct*a.size+(nearBlocks+farBlocks)*r.in.offset+4))
	if err != nil {
		return err
	}
	c.signature("EAIB")
	c.version(0)
	c.skip(1 + r.in.offset)
	r.entries(c, 0, direct, a.size, a.filtered, a.cell)
	list := c.sub(c.what, (nearBlocks+farBlocks)*r.in.offset)
	c.checksum()
	if c.err != nil {
		return c.err
	}
	first := direct
	for u := 0; u < superBlocks && first < a.end; u++ {
		blocks, entries := 1<<(u/2), least<<((u+1)/2)
		if u >= near {
			if err := a.superBlock(list.address(), first, blocks, entries); err != nil {
				return err
			}
			first += blocks * entries
			continue
		}
		for range blocks {
			if err := a.dataBlock(list.address(), first, entries, 0, nil); err != nil {
				return err
			}
			first += entries
		}
	}
	return list.err
}

// order sets how the entries are counted.
func (a *extensibleArray) order() {
	a.grid = grid{a.r.now[a.unlimited]}
	for i, n := range a.r.most {
		if i != a.unlimited {
			a.grid = append(a.grid, n)
		}
	}
	var ok bool
	if a.end, ok = product(a.grid...); !ok {
		a.end = math.MaxInt
	}
}

// cell gives the place of the chunk of an entry, nil where there is none.
func (a *extensibleArray) cell(number int) []int {
	if number >= a.end {
		return nil
	}
	at := a.grid.at(number)
	first := at[0]
	copy(at, at[1:a.unlimited+1])
	at[a.unlimited] = first
	return at
}

// superBlock reads data blocks of so many entries.
func (a *extensibleArray) superBlock(addr int64, first, blocks, entries int) error {
	if addr == undefined {
		return nil
	}
	in := a.r.in
	pages := 0 // of a data block
	if page := 1 << a.pageBits; entries > page {
		pages = entries / page
	}
	// The bits that tell which pages were written follow each other without
	// regard to data blocks, though the space for them is whole bytes a block.
	flags := (pages + 7) / 8
	c, err := in.read("extensible array super block", addr,
		int64(6+in.offset+a.offsetSize)+int64(blocks)*int64(flags+in.offset)+4)
	if err != nil {
		return err
	}
	c.signature("EASB")
	c.version(0)
	c.skip(1 + in.offset + a.offsetSize)
	written := bitmap(c.bytes(blocks * flags))
	list := c.sub(c.what, blocks*in.offset)
	c.checksum()
	if c.err != nil {
		return c.err
	}
	for i := 0; i < blocks && first < a.end; i++ {
		if err := a.dataBlock(list.address(), first, entries, pages, func(page int) bool {
			return written.has(i*pages + page)
		}); err != nil {
			return err
		}
		first += entries
	}
	return list.err
}

// dataBlock reads a block of entries that lie in pages, of which some were
// written, or where there is no page directly in the block.
func (a *extensibleArray) dataBlock(addr int64, first, entries, pages int, written func(page int) bool) error {
	if addr == undefined {
		return nil
	}
	in := a.r.in
	length := 6 + in.offset + a.offsetSize + 4
	if pages == 0 {
		length += entries * a.size
	}
	c, err := in.read("extensible array block", addr, int64(length))
	if err != nil {
		return err
	}
	c.signature("EADB")
	c.version(0)
	c.skip(1 + in.offset + a.offsetSize)
	if pages == 0 {
		a.r.entries(c, first, entries, a.size, a.filtered, a.cell)
		c.checksum()
		return c.err
	}
	c.checksum()
	if c.err != nil {
		return c.err
	}
	page := 1 << a.pageBits
	for i := range pages {
		if !written(i) {
			continue
		}
		c, err := in.read("extensible array page", addr+int64(length)+int64(i)*int64(page*a.size+4), int64(page*a.size+4))
		if err != nil {
			return err
		}
		a.r.entries(c, first+i*page, page, a.size, a.filtered, a.cell)
		c.checksum()
		if c.err != nil {
			return c.err
		}
	}
	return nil
}
