package weather

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"
)

// A parquetFile is an open Parquet file whose errors say where it is.
type parquetFile struct {
	*os.File
	path string
	pq   *parquet.File
}

// openParquet opens path and reads its footer.
func openParquet(path string) (*parquetFile, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err // names the path
	}
	size, err := parquetSize(f)
	if err == nil {
		var pq *parquet.File
		if pq, err = parquet.OpenFile(f, size, parquet.SkipBloomFilters(true)); err == nil {
			return &parquetFile{f, path, pq}, nil
		}
	}
	f.Close()
	return nil, fmt.Errorf("%s: %w", path, err)
}

// parquetSize returns the size of a file whose ends are those of a whole
// Parquet file. The library checks them too, but allocates what a foreign
// footer asks for.
func parquetSize(f *os.File) (int64, error) {
	info, err := f.Stat()
	if err != nil {
		return 0, err
	}
	size := info.Size()
	var head [4]byte
	var tail [8]byte // length of the footer, then the mark again
	if size < int64(len(head)+len(tail)) {
		return 0, fmt.Errorf("%d bytes are no Parquet file", size)
	}
	if _, err := f.ReadAt(head[:], 0); err != nil {
		return 0, err
	}
	if _, err := f.ReadAt(tail[:], size-int64(len(tail))); err != nil {
		return 0, err
	}
	switch mark := "PAR1"; {
	case string(head[:]) != mark:
		return 0, fmt.Errorf("not a Parquet file: it begins with %q, not %q", head, mark)
	case string(tail[4:]) != mark:
		return 0, fmt.Errorf("truncated Parquet file: it ends with %q, not %q", tail[4:], mark)
	case int64(binary.LittleEndian.Uint32(tail[:])) > size-int64(len(head)+len(tail)):
		return 0, errors.New("damaged Parquet file: its footer is longer than the file")
	}
	return size, nil
}

// column returns the index of a column and checks that its values are of one
// of the given kinds and can be read right.
func (f *parquetFile) column(name string, kinds ...parquet.Kind) (int, error) {
	leaf, ok := f.pq.Schema().Lookup(name)
	switch {
	case !ok:
		return 0, fmt.Errorf("%s: column %s is missing", f.path, name)
	case leaf.MaxRepetitionLevel > 0 || leaf.MaxDefinitionLevel > 1:
		return 0, fmt.Errorf("%s: column %s holds lists or groups, not single values", f.path, name)
	case !slices.Contains(kinds, leaf.Node.Type().Kind()):
		return 0, fmt.Errorf("%s: column %s is %v, want %v", f.path, name, leaf.Node.Type().Kind(), kinds[0])
	}
	for g, group := range f.pq.Metadata().RowGroups {
		switch codec := group.Columns[leaf.ColumnIndex].MetaData.Codec; codec {
		case format.Uncompressed, format.Snappy, format.Gzip, format.Brotli, format.Zstd:
		default:
			// parquet-go v0.32.0 decodes some LZ4_RAW pages into wrong values.
			return 0, fmt.Errorf("%s: row group %d: column %s is compressed with %v, which cannot be read safely; rewrite the file with zstd",
				f.path, g, name, codec)
		}
	}
	return leaf.ColumnIndex, nil
}

// values calls use with every value of a column, in file order.
func (f *parquetFile) values(column int, use func(parquet.Value) error) error {
	for g, group := range f.pq.RowGroups() {
		if err := chunkValues(group.ColumnChunks()[column], use); err != nil {
			return fmt.Errorf("row group %d: %w", g, err)
		}
	}
	return nil
}

func chunkValues(chunk parquet.ColumnChunk, use func(parquet.Value) error) error {
	pages := chunk.Pages()
	defer pages.Close()
	buffer := make([]parquet.Value, 256)
	for {
		page, err := pages.ReadPage()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		for values := page.Values(); err == nil; {
			var n int
			n, err = values.ReadValues(buffer)
			for _, v := range buffer[:n] {
				if err := use(v); err != nil {
					parquet.Release(page)
					return err
				}
			}
		}
		parquet.Release(page)
		if err != io.EOF {
			return err
		}
	}
}

// recoverDamage, deferred, makes an error of a panic: the library trusts
// lengths and indexes that a damaged file may give.
func recoverDamage(path string, err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("%s: damaged Parquet file: %v", path, p)
	}
}
