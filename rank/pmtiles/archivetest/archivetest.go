// Package archivetest reads PMTiles archives as the specification says, for
// tests of those who write them.
package archivetest

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"sort"
)

// An Entry of a directory; one of run 0 points to a leaf.
type Entry struct {
	ID, Offset  uint64
	Length, Run uint32
}

// Directory reads one that is not compressed (PMTiles specification 3, section
// 4.2).
func Directory(b []byte) ([]Entry, error) {
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
	list := make([]Entry, n)
	id := uint64(0)
	for i := range list {
		id += next()
		list[i].ID = id
	}
	for i := range list {
		list[i].Run = uint32(next())
	}
	for i := range list {
		list[i].Length = uint32(next())
	}
	for i := range list {
		switch v := next(); {
		case v > 0:
			list[i].Offset = v - 1
		case i > 0:
			list[i].Offset = list[i-1].Offset + uint64(list[i-1].Length)
		default:
			return nil, errors.New("the first offset follows on nothing")
		}
	}
	if r.Len() > 0 {
		return nil, fmt.Errorf("%d bytes too many", r.Len())
	}
	return list, broken
}

// Unpack undoes gzip.
func Unpack(b []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

// An Archive is the bytes of one.
type Archive []byte

// Where in the header offset and length of a section stand.
const (
	Root     = 8
	Metadata = 24
	Leaves   = 40
	Tiles    = 56
)

// Number is the 8 bytes at a place of the header.
func (a Archive) Number(at int) uint64 { return binary.LittleEndian.Uint64(a[at:]) }

// Section is the bytes of one of the above.
func (a Archive) Section(at int) []byte { return a[a.Number(at):][:a.Number(at+8)] }

// Tile looks one up as a reader does: nil where there is none.
func (a Archive) Tile(id uint64) ([]byte, error) {
	packed := a.Section(Root)
	for {
		list, err := unpackDirectory(packed)
		if err != nil {
			return nil, err
		}
		i := sort.Search(len(list), func(i int) bool { return list[i].ID > id }) - 1
		switch {
		case i < 0:
			return nil, nil
		case list[i].Run == 0:
			packed = a.Section(Leaves)[list[i].Offset:][:list[i].Length]
		case id < list[i].ID+uint64(list[i].Run):
			return a.Section(Tiles)[list[i].Offset:][:list[i].Length], nil
		default:
			return nil, nil
		}
	}
}

// Each calls visit with every tile in the order of their ids.
func (a Archive) Each(visit func(id uint64, tile []byte) error) error {
	return a.each(a.Section(Root), visit)
}

func (a Archive) each(directory []byte, visit func(uint64, []byte) error) error {
	list, err := unpackDirectory(directory)
	if err != nil {
		return err
	}
	for _, e := range list {
		if e.Run == 0 {
			if err := a.each(a.Section(Leaves)[e.Offset:][:e.Length], visit); err != nil {
				return err
			}
		}
		for k := range uint64(e.Run) {
			if err := visit(e.ID+k, a.Section(Tiles)[e.Offset:][:e.Length]); err != nil {
				return err
			}
		}
	}
	return nil
}

func unpackDirectory(b []byte) ([]Entry, error) {
	plain, err := Unpack(b)
	if err != nil {
		return nil, err
	}
	return Directory(plain)
}
