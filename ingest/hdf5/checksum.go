package hdf5

import (
	"encoding/binary"
	"math/bits"
)

// lookup3 is the checksum of HDF5's own structures: the hash that Bob Jenkins
// published under this name in 2006, begun with 0.
func lookup3(b []byte) uint32 {
	start := 0xdeadbeef + uint32(len(b))
	x, y, z := start, start, start
	for ; len(b) > 12; b = b[12:] {
		x += binary.LittleEndian.Uint32(b)
		y += binary.LittleEndian.Uint32(b[4:])
		z += binary.LittleEndian.Uint32(b[8:])
		x = (x - z) ^ bits.RotateLeft32(z, 4)
		z += y
		y = (y - x) ^ bits.RotateLeft32(x, 6)
		x += z
		z = (z - y) ^ bits.RotateLeft32(y, 8)
		y += x
		x = (x - z) ^ bits.RotateLeft32(z, 16)
		z += y
		y = (y - x) ^ bits.RotateLeft32(x, 19)
		x += z
		z = (z - y) ^ bits.RotateLeft32(y, 4)
		y += x
	}
	if len(b) == 0 {
		return z
	}
	var tail [12]byte
	copy(tail[:], b)
	x += binary.LittleEndian.Uint32(tail[:])
	y += binary.LittleEndian.Uint32(tail[4:])
	z += binary.LittleEndian.Uint32(tail[8:])
	z = (z ^ y) - bits.RotateLeft32(y, 14)
	x = (x ^ z) - bits.RotateLeft32(z, 11)
	y = (y ^ x) - bits.RotateLeft32(x, 25)
	z = (z ^ y) - bits.RotateLeft32(y, 16)
	x = (x ^ z) - bits.RotateLeft32(z, 4)
	y = (y ^ x) - bits.RotateLeft32(x, 14)
	z = (z ^ y) - bits.RotateLeft32(y, 24)
	return z
}

// fletcher32 is the checksum of the filter of this name: Fletcher's sums of
// big-endian 16-bit words, an odd last byte being the high one.
func fletcher32(b []byte) uint32 {
	var low, high uint64
	for len(b) > 0 {
		// Sums of so few words stay far below 64 bits.
		block := b[:min(len(b), 2*20000)]
		b = b[len(block):]
		for ; len(block) > 1; block = block[2:] {
			low += uint64(block[0])<<8 | uint64(block[1])
			high += low
		}
		if len(block) == 1 {
			low += uint64(block[0]) << 8
			high += low
		}
		low, high = fold(low), fold(high)
	}
	return uint32(high)<<16 | uint32(low)
}

// fold reduces a sum modulo 65535 as the filter does: a sum that is not 0 never
// becomes 0.
func fold(sum uint64) uint64 {
	for sum > 0xffff {
		sum = sum&0xffff + sum>>16
	}
	return sum
}
