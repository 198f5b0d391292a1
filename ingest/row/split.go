package row

import (
	"bytes"
	"encoding/binary"
	"math/bits"
)

// Fields are the fields of one line between commas; quotes mean nothing. Split
// may be called again for the next line.
type Fields struct {
	line []byte
	n    int
	near [nearRoom]byte // where each field starts, and one more after the line's end, in two bytes each
	far  []int          // instead, of a line that near cannot hold; else nil
}

// A line that near holds has at most so many fields and bytes.
const (
	mostNear    = 255
	longestNear = 65_000
	nearRoom    = 2 * (mostNear + 1 + 32)
)

// Split finds the fields of a line, whose memory they share.
func (f *Fields) Split(line []byte) {
	f.line, f.n = line, 1
	if f.far != nil {
		f.far = nil
	}
	switch {
	case len(line) == 0:
	case len(line) > longestNear:
		f.n = 0
	case hasVector:
		f.n = startsVector(&f.near, &line[0], len(line), mostNear-32)
	default:
		f.n = starts(&f.near, line)
	}
	if f.n == 0 {
		f.splitFar()
		return
	}
	binary.LittleEndian.PutUint16(f.near[2*f.n:], uint16(len(line)+1))
}

// starts sets near from 1 on to where fields after commas start, and gives the
// number of fields; 0 when there may be more than mostNear.
//
// Eight bytes are looked at together, what is found becomes one bit a byte, and
// a table tells where those bits are: eight places at once, which count as far as
// there are bits, as the next eight go over the others. So no step depends on how
// many commas there are. What lies behind the line in its memory, as a rule the
// next one, may be looked at but does not count.
func starts(near *[nearRoom]byte, line []byte) int {
	n := 1
	for at := 0; at < len(line); at += 32 {
		var found uint32
		if whole := line[at:cap(line)]; len(whole) >= 32 {
			found = commas32((*[32]byte)(whole))
		} else {
			var block [32]byte
			copy(block[:], line[at:])
			found = commas32(&block)
		}
		if rest := len(line) - at; rest < 32 {
			found &= 1<<(rest&31) - 1
		}
		if n > mostNear-32 {
			return 0
		}
		n = setStarts(near, n, uint64(at)*inEach, found)
	}
	return n
}

// setStarts sets near from the nth on to where the bits of found are, with from
// in each of four places added, and gives how many are set then.
func setStarts(near *[nearRoom]byte, n int, from uint64, found uint32) int {
	for range 4 {
		at := &places[found&0xff]
		to := (*[16]byte)(near[2*n:])
		binary.LittleEndian.PutUint64(to[:8], at.low+from)
		binary.LittleEndian.PutUint64(to[8:], at.high+from)
		n += int(at.n)
		found >>= 8
		from += 8 * inEach
	}
	return n
}

// inEach is 1 in each of four places.
const inEach = 0x0001000100010001

// splitFar finds the fields of a line that is too long for near.
func (f *Fields) splitFar() {
	f.far = append(make([]int, 0, bytes.Count(f.line, []byte{','})+2), 0)
	for i, c := range f.line {
		if c == ',' {
			f.far = append(f.far, i+1)
		}
	}
	f.n = len(f.far)
	f.far = append(f.far, len(f.line)+1)
}

// places tells of each byte which of its bits are set, from 1 and in two bytes
// each, and how many.
var places = func() (list [256]struct{ low, high, n, _ uint64 }) {
	for b := range list {
		p := &list[b]
		for found := uint8(b); found != 0; found &= found - 1 {
			place := uint64(bits.TrailingZeros8(found)+1) << (16 * (p.n % 4))
			if p.n < 4 {
				p.low |= place
			} else {
				p.high |= place
			}
			p.n++
		}
	}
	return list
}()

// commas32 gives a bit for each byte that is a comma, the first the lowest.
func commas32(b *[32]byte) uint32 {
	return commas(b[0:8]) | commas(b[8:16])<<8 | commas(b[16:24])<<16 | commas(b[24:32])<<24
}

func commas(b []byte) uint32 {
	const (
		eight = 0x2c2c2c2c2c2c2c2c
		low   = 0x7f7f7f7f7f7f7f7f
	)
	x := binary.LittleEndian.Uint64(b) ^ eight
	// The top bit of every byte of x that is 0, and no other: adding 0x7f to
	// seven bits carries into the top bit unless they are 0. The product then
	// brings the eight bits together in its top byte.
	zero := ^((x&low + low) | x | low)
	return uint32(zero * 0x0002040810204081 >> 56)
}

// start gives where a field starts, or at Len the end of the line and 1.
func (f *Fields) start(i int) int {
	if f.far != nil {
		return f.far[i]
	}
	return int(binary.LittleEndian.Uint16(f.near[2*i:]))
}

// Len gives the number of fields.
func (f *Fields) Len() int { return f.n }

// Field gives a field, counted from 0.
func (f *Fields) Field(i int) []byte { return f.line[f.start(i) : f.start(i+1)-1] }

// First gives the first n fields as one, with the commas between them.
func (f *Fields) First(n int) []byte { return f.line[:f.start(n)-1] }

// Trim takes off empty fields at the end, as a spreadsheet adds them, down to a
// number of fields.
func (f *Fields) Trim(least int) {
	for f.n > least && len(bytes.TrimSpace(f.Field(f.n-1))) == 0 {
		f.n--
	}
}

// Split gives the fields of one line between commas, less the empty ones at
// the end beyond a number of fields.
func Split(line []byte, least int) [][]byte {
	var f Fields
	f.Split(line)
	f.Trim(least)
	fields := make([][]byte, f.Len())
	for i := range fields {
		fields[i] = f.Field(i)
	}
	return fields
}
