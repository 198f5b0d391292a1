package hdf5

import (
	"encoding/binary"
	"math"
)

// A cursor decodes the little-endian fields of a structure one after another.
// Its first error stays; fields read after it are zero.
type cursor struct {
	what                   string
	b                      []byte
	at                     int64 // byte of the file where b begins
	pos                    int
	offsetSize, lengthSize int
	err                    error
}

func (c *cursor) fail(format string, args ...any) {
	if c.err == nil {
		c.err = damaged(c.what, c.at, format, args...)
	}
}

// left gives the number of bytes not yet read.
func (c *cursor) left() int { return len(c.b) - c.pos }

func (c *cursor) bytes(n int) []byte {
	if c.err == nil && (n < 0 || n > c.left()) {
		c.fail("ends after %d bytes, where %d more are needed", len(c.b), n)
	}
	if c.err != nil {
		return nil
	}
	b := c.b[c.pos : c.pos+n]
	c.pos += n
	return b
}

func (c *cursor) skip(n int) { c.bytes(n) }

// sub gives a cursor on the next n bytes.
func (c *cursor) sub(what string, n int) *cursor {
	at := c.at + int64(c.pos)
	b := c.bytes(n)
	return &cursor{what: what, b: b, at: at, offsetSize: c.offsetSize, lengthSize: c.lengthSize, err: c.err}
}

// uint reads an unsigned number of n bytes, 0 ≤ n ≤ 8.
func (c *cursor) uint(n int) uint64 {
	if n > 8 {
		c.fail("a number of %d bytes", n)
	}
	var v uint64
	for i, x := range c.bytes(n) {
		v |= uint64(x) << (8 * i)
	}
	return v
}

func (c *cursor) u8() int    { return int(c.uint(1)) }
func (c *cursor) u16() int   { return int(c.uint(2)) }
func (c *cursor) u32() int64 { return int64(c.uint(4)) }

// size reads a size of n bytes.
func (c *cursor) size(n int) int64 {
	v := c.uint(n)
	if v > math.MaxInt64/4 {
		c.fail("a size of %d", v)
		return 0
	}
	return int64(v)
}

// count reads a size of n bytes of what is reckoned with as an int: one that
// machines of 32 bits cannot hold is refused there, lest it be cut short.
func (c *cursor) count(n int) int {
	v := c.size(n)
	if v > mostBytes {
		c.fail("a size of %d", v)
		return 0
	}
	return int(v)
}

// long reads a size of the width that the superblock states.
func (c *cursor) long() int64 { return c.size(c.lengthSize) }

// address reads an address, undefined where all its bits are set.
func (c *cursor) address() int64 {
	v := c.uint(c.offsetSize)
	if v == math.MaxUint64>>(64-8*c.offsetSize) {
		return undefined
	}
	if v > math.MaxInt64/4 {
		c.fail("an address of %d", v)
		return undefined
	}
	return int64(v)
}

// signature checks the four letters that begin a structure.
func (c *cursor) signature(want string) {
	if got := c.bytes(len(want)); c.err == nil && string(got) != want {
		c.fail("begins with %q, not with %q", got, want)
	}
}

// version checks a version that has a single allowed value.
func (c *cursor) version(want int) {
	if got := c.u8(); c.err == nil && got != want {
		c.err = unsupported("version %d of the %s at byte %d", got, c.what, c.at)
	}
}

// checksum compares the checksum that comes next with the bytes before it.
func (c *cursor) checksum() {
	sum := lookup3(c.b[:c.pos])
	if got := c.bytes(4); c.err == nil && binary.LittleEndian.Uint32(got) != sum {
		c.fail("the checksum is wrong")
	}
}

// pad skips to the next multiple of n bytes after the position from.
func (c *cursor) pad(from, n int) {
	if over := (c.pos - from) % n; over != 0 {
		c.skip(n - over)
	}
}

// over gives a cursor on bytes that come from elsewhere, of the same file.
func (c *cursor) over(b []byte) *cursor {
	return &cursor{what: c.what, b: b, at: c.at, offsetSize: c.offsetSize, lengthSize: c.lengthSize, err: c.err}
}
