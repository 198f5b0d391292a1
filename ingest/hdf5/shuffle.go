package hdf5

import "encoding/binary"

// unshuffle brings together the bytes of each value: src holds the first bytes
// of all values, then the second ones, and so on. Bytes left over stay last.
func unshuffle(dst, src []byte, size int) {
	n := len(src) / size
	switch size {
	case 2:
		a, b := src[:n], src[n:2*n]
		for i := range n {
			binary.LittleEndian.PutUint16(dst[2*i:], uint16(a[i])|uint16(b[i])<<8)
		}
	case 4:
		a, b, c, d := src[:n], src[n:2*n], src[2*n:3*n], src[3*n:4*n]
		for i := range n {
			binary.LittleEndian.PutUint32(dst[4*i:], uint32(a[i])|uint32(b[i])<<8|uint32(c[i])<<16|uint32(d[i])<<24)
		}
	default:
		for k := range size {
			from := src[k*n : (k+1)*n]
			for i, x := range from {
				dst[i*size+k] = x
			}
		}
	}
	copy(dst[n*size:], src[n*size:])
}
