package weather

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"
)

// A parquetFile is an open Parquet file whose errors say where it is.
type parquetFile struct {
	*os.File
	path string
	pq   *parquet.File
}

// openParquet opens path and reads its footer, but no page index: that of a
// column is read when it is needed. Of a column, ahead bytes are read at a time.
func openParquet(path string, ahead int) (*parquetFile, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err // names the path
	}
	size, body, err := parquetSize(f)
	if err == nil {
		var pq *parquet.File
		if pq, err = parquet.OpenFile(f, size, parquet.SkipBloomFilters(true), parquet.SkipPageIndex(true),
			parquet.ReadBufferSize(ahead)); err == nil {
			if err = checkExtent(pq, body); err == nil {
				return &parquetFile{f, path, pq}, nil
			}
		}
	}
	f.Close()
	return nil, fmt.Errorf("%s: %w", path, err)
}

// parquetSize returns the size of a file whose ends are those of a whole
// Parquet file, and how much of it lies before the footer. The library checks them too, but allocates what a foreign
// footer asks for.
func parquetSize(f *os.File) (size, body int64, err error) {
	info, err := f.Stat()
	if err != nil {
		return 0, 0, err
	}
	size = info.Size()
	var head [4]byte
	var tail [8]byte // length of the footer, then the mark again
	if size < int64(len(head)+len(tail)) {
		return 0, 0, fmt.Errorf("%d bytes are no Parquet file", size)
	}
	if _, err := f.ReadAt(head[:], 0); err != nil {
		return 0, 0, err
	}
	if _, err := f.ReadAt(tail[:], size-int64(len(tail))); err != nil {
		return 0, 0, err
	}
	body = size - int64(len(tail)) - int64(binary.LittleEndian.Uint32(tail[:]))
	switch mark := "PAR1"; {
	case string(head[:]) != mark:
		return 0, 0, fmt.Errorf("not a Parquet file: it begins with %q, not %q", head, mark)
	case string(tail[4:]) != mark:
		return 0, 0, fmt.Errorf("truncated Parquet file: it ends with %q, not %q", tail[4:], mark)
	case body < int64(len(head)):
		return 0, 0, errors.New("damaged Parquet file: its footer is longer than the file")
	}
	return size, body, nil
}

// checkExtent finds out that a piece of the file is missing, or that its footer
// speaks of places and lengths that no file of its size has.
func checkExtent(pq *parquet.File, size int64) error {
	within := func(offset, length int64) bool {
		return offset >= 0 && length >= 0 && offset <= size && length <= size-offset
	}
	for g, group := range pq.Metadata().RowGroups {
		for _, c := range group.Columns {
			start := c.MetaData.DataPageOffset
			if dict := c.MetaData.DictionaryPageOffset; dict > 0 {
				start = min(start, dict)
			}
			if !within(start, c.MetaData.TotalCompressedSize) || !within(c.OffsetIndexOffset, int64(c.OffsetIndexLength)) ||
				!within(c.ColumnIndexOffset, int64(c.ColumnIndexLength)) {
				return fmt.Errorf("damaged Parquet file: row group %d, column %s goes beyond its %d bytes",
					g, strings.Join(c.MetaData.PathInSchema, "."), size)
			}
		}
	}
	return nil
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

// values calls use with every value of a column in the row groups from first to
// before end, in file order.
func (f *parquetFile) values(column, first, end int, use func(parquet.Value) error) error {
	for g := first; g < end; g++ {
		group := f.pq.RowGroups()[g]
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
