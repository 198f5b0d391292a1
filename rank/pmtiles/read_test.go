package pmtiles

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"sort"
)

// parseDirectory is the specification's section 4.2 read the other way round.
func parseDirectory(b []byte) ([]entry, error) {
	r := bytes.NewReader(b)
	var broken error
	next := func() uint64 {
		v, err := binary.ReadUvarint(r)
		broken = errors.Join(broken, err)
		return v
	}
	n := next()
	if n > uint64(len(b)) {
		return nil, fmt.Errorf("%d entries in %d bytes", n, len(b))
	}
	list := make([]entry, n)
	id := uint64(0)
	for i := range list {
		id += next()
		list[i].id = id
	}
	for i := range list {
		list[i].run = uint32(next())
	}
	for i := range list {
		list[i].length = uint32(next())
	}
	for i := range list {
		switch v := next(); {
		case v > 0:
			list[i].offset = v - 1
		case i > 0:
			list[i].offset = list[i-1].offset + uint64(list[i-1].length)
		default:
			return nil, errors.New("the first offset follows on nothing")
		}
	}
	if r.Len() > 0 {
		return nil, fmt.Errorf("%d bytes too many", r.Len())
	}
	return list, broken
}

func unpacked(b []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

// An archive is a file as a reader sees it.
type archive []byte

func (a archive) number(at int) uint64 { return binary.LittleEndian.Uint64(a[at:]) }

// section is the bytes of one, whose offset and length stand in the header.
func (a archive) section(at int) []byte { return a[a.number(at):][:a.number(at+8)] }

// tile looks one up as a reader does: nil where there is none.
func (a archive) tile(id uint64) ([]byte, error) {
	packed := a.section(8)
	for {
		plain, err := unpacked(packed)
		if err != nil {
			return nil, err
		}
		list, err := parseDirectory(plain)
		if err != nil {
			return nil, err
		}
		i := sort.Search(len(list), func(i int) bool { return list[i].id > id }) - 1
		switch {
		case i < 0:
			return nil, nil
		case list[i].run == 0:
			packed = a.section(40)[list[i].offset:][:list[i].length]
		case id < list[i].id+uint64(list[i].run):
			return a.section(56)[list[i].offset:][:list[i].length], nil
		default:
			return nil, nil
		}
	}
}
