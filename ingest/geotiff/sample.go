package geotiff

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Kinds of samples, by the numbers of tagFormat.
const (
	unsigned = 1
	signed   = 2
	float    = 3
)

// A sample says how one number is stored.
type sample struct {
	kind   int
	size   int // bytes
	order  binary.ByteOrder
	noData float64 // NaN where there is none
}

var nan32 = float32(math.NaN())

func newSample(d *directory, bands int, order binary.ByteOrder) (s sample, err error) {
	same := func(tag uint16, otherwise uint64) (int, error) {
		list, err := d.wholes(tag)
		if err != nil {
			return 0, err
		}
		if list == nil {
			list = []uint64{otherwise}
		}
		for _, v := range list {
			if v != list[0] {
				return 0, fmt.Errorf("bands of different kinds (tag %d: %d and %d), which is not read", tag, list[0], v)
			}
		}
		return int(min(list[0], 1<<20)), nil
	}
	bits, err := same(tagBits, 1)
	if err != nil {
		return s, err
	}
	if s.kind, err = same(tagFormat, unsigned); err != nil {
		return s, err
	}
	switch {
	case s.kind == float && (bits == 32 || bits == 64):
	case (s.kind == unsigned || s.kind == signed) && (bits == 8 || bits == 16 || bits == 32 || bits == 64):
	case s.kind > float:
		return s, fmt.Errorf("complex or untyped samples (format %d), which are not read", s.kind)
	default:
		return s, fmt.Errorf("samples of %d bits and format %d, which are not read; rewrite it by: gdal_translate -ot Float32 in.tif out.tif", bits, s.kind)
	}
	photometric, err := d.whole(tagPhotometric, 1, 0, 1<<16)
	if err != nil {
		return s, err
	}
	if photometric == 3 {
		return s, errors.New("a picture by a table of colours, no numbers")
	}
	s.size = bits / 8
	s.order = order
	// Predictor 3 leaves the highest byte first in a file of either order.
	predictor, err := d.whole(tagPredictor, 1, 1, 3)
	if err != nil {
		return s, err
	}
	if pack, _ := d.whole(tagCompression, packNone, 0, 1<<16); predictor == 3 && pack != packNone && pack != packBits {
		s.order = binary.BigEndian
	}
	text, err := d.text(tagNoData)
	if err != nil {
		return s, err
	}
	s.noData = math.NaN()
	if text = strings.TrimSpace(text); text != "" {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil && !strings.HasPrefix(text, "-1.#") && !strings.HasPrefix(text, "1.#") {
			return s, fmt.Errorf("no-data value %q is not a number", text)
		}
		if err == nil {
			s.noData = v
		}
	}
	if s.kind == float && s.size == 4 {
		s.noData = float64(float32(s.noData)) // so is the sample it is held against
	}
	return s, nil
}

// decode reads len(dst) samples a stride apart, NaN where missing: no-data
// values and what is not finite.
func (s *sample) decode(dst []float32, data []byte, stride int, b *Band) {
	for i := range dst {
		v := s.number(data[i*stride:])
		if v == s.noData || math.IsNaN(v) || math.IsInf(v, 0) {
			dst[i] = nan32
			continue
		}
		dst[i] = float32(v*b.Scale + b.Offset)
	}
}

func (s *sample) number(b []byte) float64 {
	var u uint64
	switch s.size {
	case 1:
		u = uint64(b[0])
	case 2:
		u = uint64(s.order.Uint16(b))
	case 4:
		u = uint64(s.order.Uint32(b))
	case 8:
		u = s.order.Uint64(b)
	}
	switch {
	case s.kind == float && s.size == 4:
		return float64(math.Float32frombits(uint32(u)))
	case s.kind == float:
		return math.Float64frombits(u)
	case s.kind == signed:
		shift := 64 - 8*s.size
		return float64(int64(u<<shift) >> shift)
	}
	return float64(u)
}
