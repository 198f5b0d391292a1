// Package pmtiles writes the PMTiles archive, version 3: all tiles of a map in
// one file of which a reader fetches parts. It is written from the published
// specification (github.com/protomaps/PMTiles, spec/v3).
//
// A file is a header of 127 bytes, the root directory within the first 16 KiB,
// metadata as JSON, leaf directories, and the tiles in the order of their ids,
// each content once. Directories and metadata are compressed by gzip. The same
// tiles give the same bytes.
package pmtiles

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"

	"github.com/paulmach/orb"
)

// Info is what an archive says of itself.
type Info struct {
	MinZoom, MaxZoom uint8
	Bound            orb.Bound // degrees of longitude and latitude
	Centre           orb.Point // where a viewer begins
	CentreZoom       uint8
	Metadata         any // becomes a JSON object; of vector tiles it must have vector_layers
}

// A Writer takes the tiles of one archive. Their bytes wait in a scratch file; in
// memory are some 60 bytes a tile. Close, which may always be deferred, removes
// the file.
type Writer struct {
	file    *os.File
	buf     *bufio.Writer
	size    uint64 // of the tiles so far
	tiles   uint64
	entries []entry
	places  map[[16]byte]entry // by the hash of a content: where it lies
}

// NewWriter begins an archive whose scratch file lies in folder dir.
func NewWriter(dir string) (*Writer, error) {
	f, err := os.CreateTemp(dir, ".tiles.*.part")
	if err != nil {
		return nil, fmt.Errorf("scratch file: %w", err)
	}
	return &Writer{file: f, buf: bufio.NewWriterSize(f, 1<<18), places: make(map[[16]byte]entry)}, nil
}

// Add takes the next tile, a vector tile compressed by gzip. Ids ascend.
func (w *Writer) Add(id uint64, tile []byte) error {
	if len(tile) == 0 || uint64(len(tile)) > math.MaxUint32 {
		return fmt.Errorf("pmtiles: tile %d: %d bytes, want 1 to 2^32-1", id, len(tile))
	}
	var last *entry
	if n := len(w.entries); n > 0 {
		last = &w.entries[n-1]
		if next := last.id + uint64(last.run); id < next {
			return fmt.Errorf("pmtiles: tile %d after tile %d, want ids to ascend", id, next-1)
		}
	}
	sum := sha256.Sum256(tile)
	key := [16]byte(sum[:])
	at, known := w.places[key]
	if !known {
		if _, err := w.buf.Write(tile); err != nil {
			return err // which names the file
		}
		at = entry{offset: w.size, length: uint32(len(tile))}
		w.size += uint64(len(tile))
		w.places[key] = at
	}
	w.tiles++
	if last != nil && last.offset == at.offset && last.id+uint64(last.run) == id {
		last.run++
		return nil
	}
	w.entries = append(w.entries, entry{id: id, offset: at.offset, length: at.length, run: 1})
	return nil
}

const (
	headerSize = 127
	rootLimit  = 1<<14 - headerSize // the specification wants header and root in 16 KiB
)

// Finish writes the archive. There must be a tile.
func (w *Writer) Finish(out io.Writer, info Info) error {
	if len(w.entries) == 0 {
		return fmt.Errorf("pmtiles: no tile, want at least one")
	}
	text, err := json.Marshal(info.Metadata)
	if err != nil {
		return fmt.Errorf("pmtiles: metadata: %w", err)
	}
	meta, err := packed(text)
	if err != nil {
		return err
	}
	root, leaves, err := directories(w.entries, rootLimit)
	if err != nil {
		return err
	}
	if err := w.buf.Flush(); err != nil {
		return err
	}
	for _, part := range [][]byte{w.header(&info, len(root), len(meta), len(leaves)), root, meta, leaves} {
		if _, err := out.Write(part); err != nil {
			return err
		}
	}
	_, err = io.Copy(out, io.NewSectionReader(w.file, 0, int64(w.size)))
	return err
}

// header has the fields of the specification's section 3 in their order.
func (w *Writer) header(info *Info, root, meta, leaves int) []byte {
	b := append(make([]byte, 0, headerSize), "PMTiles\x03"...)
	at := uint64(headerSize)
	for _, size := range []uint64{uint64(root), uint64(meta), uint64(leaves), w.size} {
		b = binary.LittleEndian.AppendUint64(b, at)
		b = binary.LittleEndian.AppendUint64(b, size)
		at += size
	}
	for _, n := range []uint64{w.tiles, uint64(len(w.entries)), uint64(len(w.places))} {
		b = binary.LittleEndian.AppendUint64(b, n)
	}
	const clustered, gzipped, vector = 1, 2, 1
	b = append(b, clustered, gzipped, gzipped, vector, info.MinZoom, info.MaxZoom)
	b = appendPosition(b, info.Bound.Min)
	b = appendPosition(b, info.Bound.Max)
	return appendPosition(append(b, info.CentreZoom), info.Centre)
}

// appendPosition appends longitude and latitude in units of 1e-7 degree.
func appendPosition(b []byte, p orb.Point) []byte {
	for _, deg := range p {
		b = binary.LittleEndian.AppendUint32(b, uint32(int32(math.Round(deg*1e7))))
	}
	return b
}

// Close removes the scratch file.
func (w *Writer) Close() {
	if w.file == nil {
		return
	}
	w.file.Close() // an error changes nothing: the file is thrown away
	os.Remove(w.file.Name())
	w.file = nil
}

// packed compresses by gzip.
func packed(b []byte) ([]byte, error) {
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(b); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
