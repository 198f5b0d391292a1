package result

import (
	"encoding/binary"
	"errors"
)

// AppendPacked puts what the block holds, but for its site, after buf: a form to
// keep it in for a while, which is no file format.
func (b *Block) AppendPacked(buf []byte) []byte {
	for _, v := range [][]float32{b.Heat, b.Stress} {
		buf = binary.LittleEndian.AppendUint32(buf, uint32(len(v)))
		buf, _ = binary.Append(buf, binary.LittleEndian, v) // a slice of numbers fails never
	}
	buf = binary.LittleEndian.AppendUint32(buf, uint32(len(b.Sensitivities)))
	for i := range b.Sensitivities {
		s := &b.Sensitivities[i]
		buf = binary.LittleEndian.AppendUint32(buf, uint32(s.Design))
		buf = binary.LittleEndian.AppendUint32(buf, uint32(s.Outlet))
		buf, _ = binary.Append(buf, binary.LittleEndian, &s.Low)
		buf, _ = binary.Append(buf, binary.LittleEndian, &s.High)
	}
	return buf
}

var errPacked = errors.New("not a packed block of this table")

// Unpack takes up what AppendPacked put at the beginning of buf and gives the
// rest of it. Numbers of designs and outlets are those of t.
func (b *Block) Unpack(buf []byte, t *Table) ([]byte, error) {
	n := len(t.Designs) * len(t.Outlets)
	var err error
	if b.Heat, buf, err = unpackFloats(buf, 12*n); err != nil {
		return nil, err
	}
	if b.Stress, buf, err = unpackFloats(buf, Stresses*n); err != nil {
		return nil, err
	}
	if len(buf) < 4 {
		return nil, errPacked
	}
	picks := binary.LittleEndian.Uint32(buf)
	buf = buf[4:]
	b.Sensitivities = nil
	var s Sensitivity
	size := 8 + binary.Size(s.Low) + binary.Size(s.High)
	if uint64(len(buf)) < uint64(picks)*uint64(size) {
		return nil, errPacked
	}
	for range picks {
		s.Design, s.Outlet = int(binary.LittleEndian.Uint32(buf)), int(binary.LittleEndian.Uint32(buf[4:]))
		if s.Design >= len(t.Designs) || s.Outlet >= len(t.Outlets) {
			return nil, errPacked
		}
		for _, v := range []*[Params][12]float32{&s.Low, &s.High} {
			at := 8
			if v == &s.High {
				at += binary.Size(s.Low)
			}
			if _, err := binary.Decode(buf[at:], binary.LittleEndian, v); err != nil {
				return nil, err
			}
		}
		b.Sensitivities, buf = append(b.Sensitivities, s), buf[size:]
	}
	return buf, nil
}

// unpackFloats gives the numbers that lie at the beginning, as many as want or
// none, and what comes after them.
func unpackFloats(buf []byte, want int) ([]float32, []byte, error) {
	if len(buf) < 4 {
		return nil, nil, errPacked
	}
	n := int(binary.LittleEndian.Uint32(buf))
	buf = buf[4:]
	if n == 0 {
		return nil, buf, nil
	}
	if n != want || len(buf) < 4*n {
		return nil, nil, errPacked
	}
	v := make([]float32, n)
	if _, err := binary.Decode(buf, binary.LittleEndian, v); err != nil {
		return nil, nil, err
	}
	return v, buf[4*n:], nil
}
