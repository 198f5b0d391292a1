package result

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"reflect"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"
	"github.com/parquet-go/parquet-go/format"

	"stillrow/data/outfile"
)

// A parquetFile is a Parquet writer on an output file.
type parquetFile struct {
	path string
	out  *outfile.File
	buf  *bufio.Writer
	hash hash.Hash // of the bytes written
	w    *parquet.GenericWriter[any]
	rows int
}

func createParquet(path string, schema *parquet.Schema) (*parquetFile, error) {
	out, err := outfile.Create(path)
	if err != nil {
		return nil, err
	}
	f := &parquetFile{path: path, out: out, buf: bufio.NewWriterSize(out, 1<<16), hash: sha256.New()}
	f.w = parquet.NewGenericWriter[any](io.MultiWriter(f.buf, f.hash), schema,
		parquet.Compression(&zstd.Codec{Level: zstd.SpeedFastest}),
		parquet.DataPageVersion(1), // which the most readers know
		parquet.CreatedBy("stillrow", "1", "parquet-go"))
	return f, nil
}

func (f *parquetFile) finish() error {
	if err := f.w.Close(); err != nil {
		return fmt.Errorf("%s: %w", f.path, err)
	}
	if err := f.buf.Flush(); err != nil {
		return fmt.Errorf("%s: %w", f.path, err)
	}
	return nil
}

func (f *parquetFile) sum() string { return fmt.Sprintf("%x", f.hash.Sum(nil)) }

// writeRow writes one row of cells; row is scratch space, returned for the
// next call.
func writeRow[T any](f *parquetFile, cells []cell[T], of *T, row parquet.Row) (parquet.Row, error) {
	row = row[:0]
	for i := range cells {
		v, defined := cells[i].get(of), 0
		if cells[i].null && !v.IsNull() {
			defined = 1
		}
		row = append(row, v.Level(0, defined, i))
	}
	if _, err := f.w.WriteRows([]parquet.Row{row}); err != nil {
		return row, fmt.Errorf("%s: %w", f.path, err)
	}
	if f.rows++; f.rows%groupRows == 0 {
		if err := f.w.Flush(); err != nil {
			return row, fmt.Errorf("%s: %w", f.path, err)
		}
	}
	return row, nil
}

// openParquet opens a Parquet file on disk; the caller closes the first result.
func openParquet(path string) (*os.File, *parquet.File, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	p, err := footer(f, path)
	if err != nil {
		f.Close()
		return nil, nil, err
	}
	return f, p, nil
}

func footer(f *os.File, path string) (p *parquet.File, err error) {
	defer damage(path, &err)
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	// The library takes the memory that the footer's length claims before it looks
	// whether the file is that long.
	const ends = 12 // bytes: the mark, the footer's length, the mark again
	tail := make([]byte, 4)
	if info.Size() < ends {
		return nil, fmt.Errorf("%s: %d bytes are no Parquet file", path, info.Size())
	}
	if _, err := f.ReadAt(tail, info.Size()-8); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if claimed := int64(binary.LittleEndian.Uint32(tail)); claimed > info.Size()-ends {
		return nil, fmt.Errorf("%s: a footer of %d bytes in a file of %d", path, claimed, info.Size())
	}
	if p, err = parquet.OpenFile(f, info.Size()); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return p, nil
}

// readCells reads the table at path, after making sure that it is the one
// whose checksum the heat table carries under key.
func readCells[T any](path string, cells []cell[T], heat *parquet.File, key string) ([]T, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	if want, _ := heat.Lookup(key); fmt.Sprintf("%x", sha256.Sum256(data)) != want {
		return nil, fmt.Errorf("%s: not the file that %s was written with", path, HeatFile)
	}
	f, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	cellOf := make(map[int]*cell[T], len(cells)) // by column of the file
	for i := range cells {
		at, err := leaf(f, path, cells[i].name, cells[i].typ())
		if err != nil {
			return nil, err
		}
		cellOf[at] = &cells[i]
	}
	list := make([]T, 0, f.NumRows())
	buf := make([]parquet.Row, 256)
	for _, group := range f.RowGroups() {
		rows := group.Rows()
		for err == nil {
			var n int
			n, err = rows.ReadRows(buf)
			for _, row := range buf[:n] {
				var t T
				for _, v := range row {
					if c := cellOf[v.Column()]; c != nil {
						c.set(&t, v)
					}
				}
				list = append(list, t)
			}
		}
		if err = errors.Join(ignoreEOF(err), rows.Close()); err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
	}
	return list, nil
}

func ignoreEOF(err error) error {
	if err == io.EOF {
		return nil
	}
	return err
}

// leaf finds a column that holds single values of Go type t, and returns its
// number. It refuses what parquet-go does not read right.
func leaf(f *parquet.File, path, name string, t reflect.Type) (int, error) {
	at, ok := f.Schema().Lookup(name)
	if !ok || at.MaxRepetitionLevel > 0 {
		return 0, fmt.Errorf("%s: no column %s of single values", path, name)
	}
	want := map[reflect.Kind]parquet.Kind{
		reflect.String: parquet.ByteArray, reflect.Int32: parquet.Int32,
		reflect.Float32: parquet.Float, reflect.Float64: parquet.Double,
	}[t.Kind()]
	if got := at.Node.Type().Kind(); got != want {
		return 0, fmt.Errorf("%s: column %s holds %v, want %v", path, name, got, want)
	}
	for _, group := range f.Metadata().RowGroups {
		if codec := group.Columns[at.ColumnIndex].MetaData.Codec; codec == format.Lz4Raw {
			// parquet-go v0.32.0 decodes some LZ4_RAW pages to wrong values.
			return 0, fmt.Errorf("%s: column %s is compressed with %v, which is not read safely: rewrite the file with zstd", path, name, codec)
		}
	}
	return at.ColumnIndex, nil
}

// damage turns a panic of parquet-go over a damaged file into an error.
func damage(path string, err *error) {
	if p := recover(); p != nil {
		*err = fmt.Errorf("%s: damaged: %v", path, p)
	}
}
