package hdf5

import (
	"encoding/binary"
	"math"
	"strings"
)

// texts reads n strings.
func (in *input) texts(c *cursor, t datatype, n int) (string, error) {
	list := make([]string, n)
	for i := range list {
		b := c.bytes(t.size)
		if t.vlen {
			var err error
			if b, err = in.sequence(c.over(b), 1); err != nil {
				return "", err
			}
		}
		list[i] = text(b, t.space)
	}
	return strings.Join(list, ", "), nil
}

// text gives the string in its padded bytes.
func text(b []byte, space bool) string {
	s := string(b)
	if i := strings.IndexByte(s, 0); i >= 0 {
		s = s[:i]
	}
	if space {
		s = strings.TrimRight(s, " ")
	}
	return s
}

// references reads n sequences of object addresses.
func (in *input) references(c *cursor, n int) ([][]int64, error) {
	list := make([][]int64, n)
	for i := range list {
		b, err := in.sequence(c, in.offset)
		if err != nil {
			return nil, err
		}
		r := c.over(b)
		for r.left() >= in.offset {
			list[i] = append(list[i], r.address())
		}
	}
	return list, c.err
}

// numbers converts stored values, in the order of bytes of the file.
func (t datatype) numbers(b []byte) []float64 {
	var order binary.ByteOrder = binary.LittleEndian
	if t.big {
		order = binary.BigEndian
	}
	out := make([]float64, len(b)/t.size)
	for i := range out {
		v := b[i*t.size : (i+1)*t.size]
		var u uint64
		switch t.size {
		case 1:
			u = uint64(v[0])
		case 2:
			u = uint64(order.Uint16(v))
		case 4:
			u = uint64(order.Uint32(v))
		default:
			u = order.Uint64(v)
		}
		unused := 64 - 8*t.size
		switch {
		case t.class == Float && t.size == 4:
			out[i] = float64(math.Float32frombits(uint32(u)))
		case t.class == Float:
			out[i] = math.Float64frombits(u)
		case t.class == Int:
			out[i] = float64(int64(u<<unused) >> unused)
		default:
			out[i] = float64(u)
		}
	}
	return out
}
