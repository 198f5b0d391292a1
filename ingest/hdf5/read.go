package hdf5

import (
	"encoding/binary"
	"fmt"
	"slices"
)

// Read fills dst with the hyperslab of count values a dimension from start on,
// in C order and the host's order of bytes: dst has the product of count times
// Size bytes. Values never written are the fill value, or 0 where none is
// stated. Chunks that are needed in part only are kept decoded, up to 16 MiB a
// dataset, so that neighbouring hyperslabs find them again.
func (d *Dataset) Read(dst []byte, start, count []int) error {
	if err := d.read(dst, start, count); err != nil {
		return fmt.Errorf("variable %q: %w", d.Name, err)
	}
	return nil
}

func (d *Dataset) read(dst []byte, start, count []int) error {
	if d.broken != nil {
		return d.broken
	}
	if len(start) != len(d.Shape) || len(count) != len(d.Shape) {
		return fmt.Errorf("a part of %d and %d dimensions, of data of %d", len(start), len(count), len(d.Shape))
	}
	for i, n := range d.Shape {
		if start[i] < 0 || count[i] < 0 || start[i] > n || count[i] > n-start[i] {
			return fmt.Errorf("%d values from %d on of dimension %d, which has %d", count[i], start[i], i, n)
		}
	}
	n, _ := product(append(slices.Clone(count), d.Size)...)
	if len(dst) != n {
		return fmt.Errorf("%d bytes for %d values of %d", len(dst), count, d.Size)
	}
	if n == 0 {
		return nil
	}
	var err error
	switch l := &d.layout; {
	case l.kind == layoutChunked:
		err = d.readChunks(dst, start, count)
	case l.kind == layoutCompact:
		copyBox(dst, box{count, make([]int, len(count))}, l.data, box{d.Shape, start}, count, d.Size)
	case l.addr == undefined:
		d.fillAll(dst)
	default:
		err = walk(box{count, make([]int, len(count))}, box{d.Shape, start}, count, d.Size, func(i, j, n int) error {
			return d.in.readAt("data", dst[i:i+n], l.addr+int64(j))
		})
	}
	d.native(dst)
	return err
}

// readChunks reads a hyperslab chunk by chunk.
func (d *Dataset) readChunks(dst []byte, start, count []int) error {
	d.once.Do(func() { d.index, d.fault = d.readIndex() })
	if d.fault != nil {
		return d.fault
	}
	shape := d.layout.chunk
	rank := len(shape)
	first, last := make([]int, rank), make([]int, rank)
	for i := range shape {
		first[i], last[i] = start[i]/shape[i], (start[i]+count[i]-1)/shape[i]
	}
	// The part of the chunk at hand: from where in dst and in the chunk, how much.
	to, from, part := make([]int, rank), make([]int, rank), make([]int, rank)
	for at := slices.Clone(first); ; {
		whole, edge := true, false
		for i, n := range shape {
			begin := at[i] * n
			lo, hi := max(begin, start[i]), min(begin+n, start[i]+count[i])
			to[i], from[i], part[i] = lo-start[i], lo-begin, hi-lo
			whole = whole && part[i] == min(n, d.Shape[i]-begin)
			edge = edge || begin+n > d.Shape[i]
		}
		if err := d.readChunk(dst, box{count, to}, box{shape, from}, part, d.index.now.number(at), whole, edge); err != nil {
			return err
		}
		i := rank - 1
		for ; i >= 0 && at[i] == last[i]; i-- {
			at[i] = first[i]
		}
		if i < 0 {
			return nil
		}
		at[i]++
	}
}

// readChunk copies a part of a chunk to its place in dst.
func (d *Dataset) readChunk(dst []byte, to, from box, part []int, number int, whole, edge bool) error {
	c, ok := d.index.find(number)
	if !ok {
		return walk(to, to, part, d.Size, func(i, _, n int) error {
			d.fillAll(dst[i : i+n])
			return nil
		})
	}
	data := d.cache.get(number)
	kept := data != nil
	if !kept {
		if edge && d.layout.rawEdges {
			c.mask = ^uint32(0)
		}
		var err error
		if data, err = d.decode(c); err != nil {
			return fmt.Errorf("chunk at byte %d: %w", d.in.base+c.addr, err)
		}
		kept = !whole && d.cache.put(number, data)
	}
	copyBox(dst, to, data, from, part, d.Size)
	if !kept {
		d.putBuffer(data)
	}
	return nil
}

// decode reads a chunk and undoes its filters.
func (d *Dataset) decode(c chunk) ([]byte, error) {
	size := d.chunkBytes()
	if c.size > d.in.size || c.size/2 > int64(size)+1024 {
		return nil, fmt.Errorf("%d bytes stored, of a chunk of %d in a file of %d", c.size, size, d.in.size)
	}
	stored := d.getBuffer(int(c.size))
	if err := d.in.readAt("data", stored, c.addr); err != nil {
		return nil, err
	}
	return d.filters.decode(stored, size, d.Size, c.mask, d.getBuffer, d.putBuffer)
}

func (d *Dataset) getBuffer(n int) []byte {
	if b, ok := d.pool.Get().(*[]byte); ok && cap(*b) >= n {
		return (*b)[:n]
	}
	return make([]byte, n)
}

func (d *Dataset) putBuffer(b []byte) { d.pool.Put(&b) }

// fillAll fills dst with the fill value.
func (d *Dataset) fillAll(dst []byte) {
	clear(dst)
	for n := copy(dst, d.fill); n > 0 && n < len(dst); n *= 2 {
		copy(dst[n:], dst[:n])
	}
}

// native brings values from the file's order of bytes to the host's.
func (d *Dataset) native(b []byte) {
	if host := binary.NativeEndian.Uint16([]byte{0, 1}) == 1; d.typ.big == host || d.Class == String {
		return
	}
	switch d.Size {
	case 2:
		for ; len(b) >= 2; b = b[2:] {
			binary.LittleEndian.PutUint16(b, binary.BigEndian.Uint16(b))
		}
	case 4:
		for ; len(b) >= 4; b = b[4:] {
			binary.LittleEndian.PutUint32(b, binary.BigEndian.Uint32(b))
		}
	case 8:
		for ; len(b) >= 8; b = b[8:] {
			binary.LittleEndian.PutUint64(b, binary.BigEndian.Uint64(b))
		}
	}
}
