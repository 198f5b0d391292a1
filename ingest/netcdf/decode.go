package netcdf

import (
	"encoding/binary"
	"math"
	"math/bits"
)

var (
	host      = binary.NativeEndian
	hostIsBig = host.Uint16([]byte{0, 1}) == 1
)

// toHost turns values of size bytes from big-endian into the host's order.
func toHost(b []byte, size int) {
	if hostIsBig || size == 1 {
		return
	}
	le := binary.LittleEndian
	for len(b) >= 8 {
		x := le.Uint64(b)
		switch size {
		case 2:
			const even = 0x00ff00ff00ff00ff
			x = x>>8&even | x&even<<8
		case 4:
			x = bits.RotateLeft64(bits.ReverseBytes64(x), 32)
		case 8:
			x = bits.ReverseBytes64(x)
		}
		le.PutUint64(b, x)
		b = b[8:]
	}
	for ; len(b) >= size; b = b[size:] {
		for i, j := 0, size-1; i < j; i, j = i+1, j-1 {
			b[i], b[j] = b[j], b[i]
		}
	}
}

// decode gives the values of type t stored in b, in the host's order of bytes,
// as float64: exact but for 64-bit integers beyond 2^53.
func decode(dst []float64, b []byte, t Type) {
	switch t {
	case Int8:
		for i := range dst {
			dst[i] = float64(int8(b[i]))
		}
	case Uint8:
		for i := range dst {
			dst[i] = float64(b[i])
		}
	case Int16:
		for i := range dst {
			dst[i] = float64(int16(host.Uint16(b[2*i:])))
		}
	case Uint16:
		for i := range dst {
			dst[i] = float64(host.Uint16(b[2*i:]))
		}
	case Int32:
		for i := range dst {
			dst[i] = float64(int32(host.Uint32(b[4*i:])))
		}
	case Uint32:
		for i := range dst {
			dst[i] = float64(host.Uint32(b[4*i:]))
		}
	case Int64:
		for i := range dst {
			dst[i] = float64(int64(host.Uint64(b[8*i:])))
		}
	case Uint64:
		for i := range dst {
			dst[i] = float64(host.Uint64(b[8*i:]))
		}
	case Float32:
		for i := range dst {
			dst[i] = float64(math.Float32frombits(host.Uint32(b[4*i:])))
		}
	case Float64:
		for i := range dst {
			dst[i] = math.Float64frombits(host.Uint64(b[8*i:]))
		}
	}
}
