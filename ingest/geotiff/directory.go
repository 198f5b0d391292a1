package geotiff

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Tags of a directory.
const (
	tagSubfile      = 254
	tagWidth        = 256
	tagHeight       = 257
	tagBits         = 258
	tagCompression  = 259
	tagPhotometric  = 262
	tagFillOrder    = 266
	tagStripOffsets = 273
	tagSamples      = 277
	tagRowsPerStrip = 278
	tagStripCounts  = 279
	tagPlanar       = 284
	tagPredictor    = 317
	tagTileWidth    = 322
	tagTileHeight   = 323
	tagTileOffsets  = 324
	tagTileCounts   = 325
	tagFormat       = 339
	tagPixelScale   = 33550
	tagTiepoint     = 33922
	tagTransform    = 34264
	tagGeoKeys      = 34735
	tagMetadata     = 42112
	tagNoData       = 42113
)

const (
	mostEntries     = 4096     // of a directory
	mostDirectories = 1024     // of a file
	mostValue       = 64 << 20 // bytes of a tag's value
)

// A file is what lies behind a raster.
type file struct {
	r     io.ReaderAt
	size  int64
	order binary.ByteOrder
	big   bool // BigTIFF
	first uint64
}

var errNoTIFF = errors.New("no TIFF file")

// openFile reads the header.
func openFile(r io.ReaderAt, size int64) (*file, error) {
	f := &file{r: r, size: size, order: binary.LittleEndian}
	head, err := f.bytes(0, 8)
	if err != nil {
		return nil, errNoTIFF
	}
	switch string(head[:2]) {
	case "II":
	case "MM":
		f.order = binary.BigEndian
	default:
		return nil, errNoTIFF
	}
	switch f.order.Uint16(head[2:]) {
	case 42:
		f.first = uint64(f.order.Uint32(head[4:]))
	case 43:
		f.big = true
		if head, err = f.bytes(0, 16); err != nil {
			return nil, err
		}
		if f.order.Uint16(head[4:]) != 8 {
			return nil, errors.New("BigTIFF with offsets of other than 8 bytes")
		}
		f.first = f.order.Uint64(head[8:])
	default:
		return nil, errNoTIFF
	}
	return f, nil
}

// bytes reads n bytes at an offset, which must lie in the file.
func (f *file) bytes(at, n uint64) ([]byte, error) {
	if at > uint64(f.size) || n > uint64(f.size)-at || n > mostValue {
		return nil, fmt.Errorf("%d bytes at %d in a file of %d: cut off or damaged", n, at, f.size)
	}
	b := make([]byte, n)
	if k, err := f.r.ReadAt(b, int64(at)); err != nil && !(err == io.EOF && k == len(b)) {
		return nil, err
	}
	return b, nil
}

// A directory is an image's list of tags.
type directory struct {
	file  *file
	entry map[uint16]entry
}

// An entry holds a tag's value or where it lies.
type entry struct {
	kind  uint16
	count uint64
	raw   [8]byte
}

// image finds the one image of full size among the directories.
func (f *file) image(name string) (*directory, error) {
	var found *directory
	full := 0
	seen := map[uint64]bool{}
	for at := f.first; at != 0; {
		if seen[at] || len(seen) == mostDirectories {
			return nil, errors.New("the list of images does not end: damaged")
		}
		seen[at] = true
		d, next, err := f.directory(at)
		if err != nil {
			return nil, err
		}
		kind, err := d.whole(tagSubfile, 0, 0, math.MaxInt32)
		if err != nil {
			return nil, err
		}
		if kind&(reduced|mask) == 0 {
			if full++; found == nil {
				found = d
			}
		}
		at = next
	}
	switch {
	case found == nil:
		return nil, errors.New("no image in it")
	case full > 1:
		return nil, fmt.Errorf("%d images, want one with bands; take one out by: gdal_translate GTIFF_DIR:1:%s out.tif", full, name)
	}
	return found, nil
}

// Bits of tagSubfile.
const reduced, mask = 1, 4

// directory reads the directory at an offset and gives that of the next.
func (f *file) directory(at uint64) (*directory, uint64, error) {
	countSize, entrySize, offsetSize := uint64(2), uint64(12), uint64(4)
	if f.big {
		countSize, entrySize, offsetSize = 8, 20, 8
	}
	b, err := f.bytes(at, countSize)
	if err != nil {
		return nil, 0, fmt.Errorf("list of tags: %w", err)
	}
	n := f.number(b)
	if n > mostEntries {
		return nil, 0, fmt.Errorf("list of tags: %d of them, damaged", n)
	}
	if b, err = f.bytes(at+countSize, n*entrySize+offsetSize); err != nil {
		return nil, 0, fmt.Errorf("list of tags: %w", err)
	}
	d := &directory{f, make(map[uint16]entry, n)}
	for ; n > 0; n-- {
		e := entry{kind: f.order.Uint16(b[2:])}
		if f.big {
			e.count = f.order.Uint64(b[4:])
			copy(e.raw[:], b[12:20])
		} else {
			e.count = uint64(f.order.Uint32(b[4:]))
			copy(e.raw[:], b[8:12])
		}
		d.entry[f.order.Uint16(b)] = e
		b = b[entrySize:]
	}
	return d, f.number(b[:offsetSize]), nil
}

// number reads an unsigned number of as many bytes as there are.
func (f *file) number(b []byte) uint64 {
	switch len(b) {
	case 1:
		return uint64(b[0])
	case 2:
		return uint64(f.order.Uint16(b))
	case 4:
		return uint64(f.order.Uint32(b))
	}
	return f.order.Uint64(b)
}

// sizes of the types of values, bytes.
var sizes = map[uint16]uint64{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}

// value gives a tag's bytes; nil where there is no such tag.
func (d *directory) value(tag uint16) (b []byte, e entry, err error) {
	e, ok := d.entry[tag]
	if !ok {
		return nil, e, nil
	}
	size := sizes[e.kind]
	if size == 0 || e.count == 0 || e.count > mostValue/size {
		return nil, e, fmt.Errorf("tag %d: %d values of type %d: damaged", tag, e.count, e.kind)
	}
	inline := uint64(4)
	if d.file.big {
		inline = 8
	}
	if n := e.count * size; n <= inline {
		b = e.raw[:n]
	} else if b, err = d.file.bytes(d.file.number(e.raw[:inline]), n); err != nil {
		return nil, e, fmt.Errorf("tag %d: %w", tag, err)
	}
	return b, e, nil
}

// wholes gives a tag's unsigned numbers.
func (d *directory) wholes(tag uint16) ([]uint64, error) {
	b, e, err := d.value(tag)
	if err != nil || b == nil {
		return nil, err
	}
	switch e.kind {
	case 1, 3, 4, 13, 16, 18:
	default:
		return nil, fmt.Errorf("tag %d: values of type %d, want whole numbers", tag, e.kind)
	}
	size := sizes[e.kind]
	out := make([]uint64, e.count)
	for i := range out {
		out[i] = d.file.number(b[:size])
		b = b[size:]
	}
	return out, nil
}

// whole gives the first number of a tag, which must lie in low…high; without
// the tag it is the default.
func (d *directory) whole(tag uint16, otherwise, low, high int) (int, error) {
	list, err := d.wholes(tag)
	if err != nil {
		return 0, err
	}
	v := uint64(otherwise)
	if list != nil {
		v = list[0]
	}
	if v < uint64(low) || v > uint64(high) {
		return 0, fmt.Errorf("tag %d: %d, want %d to %d", tag, v, low, high)
	}
	return int(v), nil
}

// floats gives a tag's numbers of 64 bits.
func (d *directory) floats(tag uint16) ([]float64, error) {
	b, e, err := d.value(tag)
	if err != nil || b == nil {
		return nil, err
	}
	if e.kind != 12 {
		return nil, fmt.Errorf("tag %d: values of type %d, want doubles", tag, e.kind)
	}
	out := make([]float64, e.count)
	for i := range out {
		out[i] = math.Float64frombits(d.file.order.Uint64(b[8*i:]))
	}
	return out, nil
}

// text gives a tag's text without the zeros at its end.
func (d *directory) text(tag uint16) (string, error) {
	b, e, err := d.value(tag)
	if err != nil || b == nil {
		return "", err
	}
	if e.kind != 2 {
		return "", fmt.Errorf("tag %d: values of type %d, want text", tag, e.kind)
	}
	b, _, _ = bytes.Cut(b, []byte{0})
	return string(b), nil
}
