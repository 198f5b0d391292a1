package hdf5

import (
	"encoding/binary"
	"fmt"
	"math/bits"
)

// Numbers of filters.
const (
	filterDeflate    = 1
	filterShuffle    = 2
	filterFletcher32 = 3
)

var otherFilters = map[int]string{4: "szip", 5: "n-bit", 6: "scale-offset", 307: "bzip2", 32000: "lzf",
	32001: "blosc", 32004: "lz4", 32008: "bitshuffle", 32013: "zfp", 32015: "zstd"}

// A pipeline is the filters of a dataset, in the order in which they were
// applied when it was written.
type pipeline []filter

type filter struct {
	id     int
	values []int64 // parameters
}

// decodePipeline decodes a filter message.
func decodePipeline(c *cursor) (pipeline, error) {
	version, n := c.u8(), c.u8()
	switch version {
	case 1:
		c.skip(6)
	case 2:
	default:
		if c.err == nil {
			c.err = unsupported("version %d of the filters at byte %d", version, c.at)
		}
	}
	if n > 32 {
		c.fail("%d filters", n)
	}
	var p pipeline
	for range n {
		f := filter{id: c.u16()}
		nameSize := 0
		if version == 1 || f.id >= 256 {
			nameSize = c.u16()
		}
		c.skip(2) // whether the filter may fail, which the masks of the chunks tell
		values := c.u16()
		from := c.pos
		c.skip(nameSize)
		if version == 1 {
			c.pad(from, 8)
		}
		if c.err != nil || values*4 > c.left() {
			c.fail("a filter of %d parameters", values)
			break
		}
		for range values {
			f.values = append(f.values, c.u32())
		}
		if version == 1 && values%2 != 0 {
			c.skip(4)
		}
		p = append(p, f)
	}
	return p, c.err
}

// check tells which filter is not read.
func (p pipeline) check() error {
	deflates := 0
	for _, f := range p {
		switch f.id {
		case filterDeflate:
			if deflates++; deflates > 1 {
				return unsupported("data deflated twice")
			}
		case filterShuffle, filterFletcher32:
		default:
			if name := otherFilters[f.id]; name != "" {
				return unsupported("%s filter (%d)", name, f.id)
			}
			return unsupported("filter %d", f.id)
		}
	}
	return nil
}

// decode undoes the filters, but for those whose bit is set in mask, on the
// stored bytes of a chunk that has size bytes. It may use stored as scratch;
// what it gives is stored or from get, and it hands to put what it leaves.
func (p pipeline) decode(stored []byte, size, elementSize int, mask uint32, get func(int) []byte, put func([]byte)) ([]byte, error) {
	for i := len(p) - 1; i >= 0; i-- {
		if mask>>i&1 != 0 {
			continue
		}
		switch f := p[i]; f.id {
		case filterFletcher32:
			n := len(stored) - 4
			if n < 0 {
				return nil, fmt.Errorf("fletcher32: %d bytes", len(stored))
			}
			want, sum := binary.LittleEndian.Uint32(stored[n:]), fletcher32(stored[:n])
			// Files from before HDF5 1.6.3 have the bytes of both sums swapped.
			if swapped := bits.ReverseBytes32(bits.RotateLeft32(sum, 16)); want != sum && want != swapped {
				return nil, fmt.Errorf("fletcher32: the checksum is wrong")
			}
			stored = stored[:n]
		case filterShuffle:
			if len(f.values) > 0 {
				elementSize = int(f.values[0])
			}
			if elementSize > 1 && elementSize <= len(stored) {
				out := get(len(stored))
				unshuffle(out, stored, elementSize)
				put(stored)
				stored = out
			}
		case filterDeflate:
			n := size
			for j, before := range p[:i] {
				if before.id == filterFletcher32 && mask>>j&1 == 0 {
					n += 4
				}
			}
			// Deflate cannot shrink data more than 1032 times.
			if n/1040 > len(stored) {
				return nil, fmt.Errorf("deflate: %d bytes cannot become %d", len(stored), n)
			}
			out, err := inflate(stored, n, get, put)
			if err != nil {
				return nil, fmt.Errorf("deflate: %w", err)
			}
			put(stored)
			stored = out
		}
	}
	if len(stored) != size {
		return nil, fmt.Errorf("%d bytes instead of %d", len(stored), size)
	}
	return stored, nil
}
