package netcdf

import (
	"errors"
	"fmt"
	"math"
)

// Read fills dst with the hyperslab of count values from start on, an entry of
// both for each dimension, in the order of the dimensions, the last varying
// fastest. The values are unpacked by the attributes: NaN where missing, which
// is equal to _FillValue (by default that of the type, but for bytes) or one of
// missing_value, outside valid_range, valid_min or valid_max, or NaN; else times
// scale_factor plus add_offset. The length of dst must be the product of count.
// Variables of text give an error.
func (v *Var) Read(dst []float64, start, count []int) error { return read(v, dst, start, count) }

// ReadFloat32 is Read with the result rounded to float32.
func (v *Var) ReadFloat32(dst []float32, start, count []int) error { return read(v, dst, start, count) }

func read[F float32 | float64](v *Var, dst []F, start, count []int) error {
	if err := v.checkSlab(len(dst), start, count); err != nil {
		return v.file.fault(v.Name, err)
	}
	switch v.Type {
	case Char, String:
		return v.file.fault(v.Name, errors.New("text, not numbers"))
	case Other:
		none := make([]int, len(count))
		err := v.raw.read(nil, none, none)
		if err == nil {
			err = errors.New("numbers of a size that is not read")
		}
		return v.file.fault(v.Name, err)
	}
	u, err := v.unpacking()
	if err != nil || len(dst) == 0 {
		return err
	}
	start, count = append([]int(nil), start...), append([]int(nil), count...)
	if err := readPieces(v, dst, start, count, u, 0); err != nil {
		return v.file.fault(v.Name, err)
	}
	return nil
}

// checkSlab tells what is wrong with a hyperslab of n values.
func (v *Var) checkSlab(n int, start, count []int) error {
	if len(start) != len(v.Dims) || len(count) != len(v.Dims) {
		return fmt.Errorf("%d starts and %d counts for %d dimensions", len(start), len(count), len(v.Dims))
	}
	values := int64(1)
	fits := true
	for i, d := range v.Dims {
		dim := v.file.Dims[d]
		if start[i] < 0 || count[i] < 0 || start[i] > dim.Len || count[i] > dim.Len-start[i] {
			return fmt.Errorf("%d values from %d on are beyond dimension %s of %d", count[i], start[i], dim.Name, dim.Len)
		}
		if count[i] == 0 {
			values, fits = 0, true
			break
		}
		if fits {
			values, fits = times(values, int64(count[i]))
		}
	}
	if !fits || values != int64(n) {
		return fmt.Errorf("room for %d values, not those of %v", n, count)
	}
	return nil
}

// piece is how many bytes are read at a time: enough for large reads, few enough
// to stay in a cache while they are unpacked.
const piece = 1 << 20

// readPieces reads the hyperslab piece by piece, from dimension d on; of those
// before, count is 1. It changes start and count within, and puts them back.
func readPieces[F float32 | float64](v *Var, dst []F, start, count []int, u *unpacking, d int) error {
	for d < len(count) && count[d] == 1 {
		d++
	}
	size := int(u.stored.size())
	if d == len(count) || len(dst) <= piece/size {
		return readPiece(v, dst, start, count, u)
	}
	if v.Chunk != nil {
		return readBoxes(v, dst, start, count, u)
	}
	from, n := start[d], count[d]
	defer func() { start[d], count[d] = from, n }()
	inner := len(dst) / n
	step := max(1, piece/size/inner)
	for i := 0; i < n; i += step {
		start[d], count[d] = from+i, min(step, n-i)
		if err := readPieces(v, dst[i*inner:(i+count[d])*inner], start, count, u, d); err != nil {
			return err
		}
	}
	return nil
}

// readPiece reads a hyperslab at once. What lies beyond the part that is stored
// is missing.
func readPiece[F float32 | float64](v *Var, dst []F, start, count []int, u *unpacking) error {
	part, values, whole := count, 1, true
	if v.stored != nil {
		part = make([]int, len(count))
		for i, n := range v.stored {
			part[i] = max(0, min(count[i], n-start[i]))
			values *= part[i]
			whole = whole && part[i] == count[i]
		}
	}
	if whole {
		return readStored(v, dst, start, count, u)
	}
	for i := range dst {
		dst[i] = F(none)
	}
	if values == 0 {
		return nil
	}
	src := make([]F, values)
	if err := readStored(v, src, start, part, u); err != nil {
		return err
	}
	spread(dst, src, count, part, make([]int, len(count)))
	return nil
}

// readStored reads and unpacks a hyperslab.
func readStored[F float32 | float64](v *Var, dst []F, start, count []int, u *unpacking) error {
	size := int(u.stored.size())
	if len(dst) > math.MaxInt/size {
		return errors.New("more bytes than can be counted")
	}
	p, _ := v.file.buffers.Get().(*[]byte)
	if p == nil {
		p = new([]byte)
	}
	defer v.file.buffers.Put(p)
	if cap(*p) < len(dst)*size {
		*p = make([]byte, max(len(dst)*size, piece))
	}
	b := (*p)[:len(dst)*size]
	if err := v.raw.read(b, start, count); err != nil {
		return err
	}
	into(dst, b, u)
	return nil
}
