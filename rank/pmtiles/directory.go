package pmtiles

import (
	"encoding/binary"
)

// An entry says where the bytes of a run of tiles lie.
type entry struct {
	id     uint64
	offset uint64 // from the start of the tiles or, of a leaf, of the leaves
	length uint32
	run    uint32 // tiles with these bytes, from id on; 0 points to a leaf
}

// appendDirectory appends entries in the order of their ids: column after
// column, each id as the step from the one before, an offset as 0 where the
// bytes follow on, else as itself plus 1. Source: PMTiles specification 3,
// section 4.2.
func appendDirectory(b []byte, list []entry) []byte {
	b = binary.AppendUvarint(b, uint64(len(list)))
	last := uint64(0)
	for i := range list {
		b = binary.AppendUvarint(b, list[i].id-last)
		last = list[i].id
	}
	for i := range list {
		b = binary.AppendUvarint(b, uint64(list[i].run))
	}
	for i := range list {
		b = binary.AppendUvarint(b, uint64(list[i].length))
	}
	for i := range list {
		if i > 0 && list[i].offset == list[i-1].offset+uint64(list[i-1].length) {
			b = append(b, 0)
		} else {
			b = binary.AppendUvarint(b, list[i].offset+1)
		}
	}
	return b
}

// directories packs entries into a root of at most limit bytes and, where that
// does not hold them, the leaves it points to.
func directories(list []entry, limit int) (root, leaves []byte, err error) {
	if root, err = packed(appendDirectory(nil, list)); err != nil || len(root) <= limit {
		return root, nil, err
	}
	// Leaves double until the root holds all of them; a reader fetches one leaf
	// to find a tile, so they are kept small.
	for size := 1024; ; size *= 2 {
		var top []entry
		leaves = leaves[:0]
		for from := 0; from < len(list); from += size {
			leaf, err := packed(appendDirectory(nil, list[from:min(from+size, len(list))]))
			if err != nil {
				return nil, nil, err
			}
			top = append(top, entry{id: list[from].id, offset: uint64(len(leaves)), length: uint32(len(leaf))})
			leaves = append(leaves, leaf...)
		}
		if root, err = packed(appendDirectory(nil, top)); err != nil || len(root) <= limit {
			return root, leaves, err
		}
	}
}
