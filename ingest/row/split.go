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
	ends []int
}

// Split finds the fields of a line, whose memory they share.
//
// Fields of weather files are four bytes long on average: eight bytes are
// looked at together, and ends are kept as numbers, which the garbage collector
// need not follow.
func (f *Fields) Split(line []byte) {
	const (
		commas = 0x2c2c2c2c2c2c2c2c
		low    = 0x7f7f7f7f7f7f7f7f
	)
	ends := f.ends[:0]
	i := 0
	for ; i+8 <= len(line); i += 8 {
		x := binary.LittleEndian.Uint64(line[i:]) ^ commas
		// The top bit of every byte of x that is 0, and no other: adding 0x7f
		// to seven bits carries into the top bit unless they are 0.
		zero := ^((x&low + low) | x | low)
		for ; zero != 0; zero &= zero - 1 {
			ends = append(ends, i+bits.TrailingZeros64(zero)/8)
		}
	}
	for ; i < len(line); i++ {
		if line[i] == ',' {
			ends = append(ends, i)
		}
	}
	f.line, f.ends = line, append(ends, len(line))
}

// Len gives the number of fields.
func (f *Fields) Len() int { return len(f.ends) }

// Field gives a field, counted from 0.
func (f *Fields) Field(i int) []byte {
	start := 0
	if i > 0 {
		start = f.ends[i-1] + 1
	}
	return f.line[start:f.ends[i]]
}

// Trim takes off empty fields at the end, as a spreadsheet adds them, down to a
// number of fields.
func (f *Fields) Trim(least int) {
	for len(f.ends) > least && len(bytes.TrimSpace(f.Field(len(f.ends)-1))) == 0 {
		f.ends = f.ends[:len(f.ends)-1]
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
