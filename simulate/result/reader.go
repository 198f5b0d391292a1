package result

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"math"
	"os"
	"path/filepath"
	"reflect"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/format"
)

// A Reader reads the heat table of a folder.
type Reader struct {
	table Table
	sites []Site
	path  string // of HeatFile
	file  *os.File
	heat  *parquet.File
}

// Open opens the heat table in folder dir and reads its designs and sites. It
// refuses files that do not belong together. Columns it does not know are
// passed over.
func Open(dir string) (*Reader, error) {
	r := &Reader{path: filepath.Join(dir, HeatFile)}
	var err error
	if r.file, r.heat, err = openParquet(r.path); err != nil {
		return nil, err
	}
	if err := r.open(dir); err != nil {
		r.Close()
		return nil, err
	}
	return r, nil
}

func (r *Reader) open(dir string) (err error) {
	defer damage(r.path, &err)
	for _, s := range StressColumns {
		if _, ok := r.heat.Schema().Lookup(s.Name); ok {
			r.table.Stress = true // and the others have to be there, too
		}
	}
	for _, c := range heatColumns(r.table.Stress) {
		if _, err := leaf(r.heat, r.path, c.name, c.typ); err != nil {
			return err
		}
	}
	text, ok := r.heat.Lookup(keyOutlets)
	if !ok {
		return fmt.Errorf("%s: no %s in its metadata: not a heat table", r.path, keyOutlets)
	}
	if err := json.Unmarshal([]byte(text), &r.table.Outlets); err != nil {
		return fmt.Errorf("%s: %s: %w", r.path, keyOutlets, err)
	}
	designs, err := readCells(filepath.Join(dir, DesignsFile), designColumns, r.heat, keyDesigns)
	if err != nil {
		return err
	}
	for i, d := range designs {
		if d.ID != i {
			return fmt.Errorf("%s: row %d: design_id = %d, want %d", filepath.Join(dir, DesignsFile), i+1, d.ID, i)
		}
		r.table.Designs = append(r.table.Designs, d.Design)
	}
	if r.sites, err = readCells(filepath.Join(dir, SitesFile), siteColumns(), r.heat, keySites); err != nil {
		return err
	}
	if want := int64(len(r.sites)) * int64(len(r.table.Designs)) * int64(len(r.table.Outlets)); r.heat.NumRows() != want {
		return fmt.Errorf("%s: %d rows, want %d: %d sites × %d designs × %d outlet temperatures",
			r.path, r.heat.NumRows(), want, len(r.sites), len(r.table.Designs), len(r.table.Outlets))
	}
	return nil
}

// Table says what the blocks hold.
func (r *Reader) Table() Table { return r.table }

// Sites lists the sites in file order.
func (r *Reader) Sites() []Site { return r.sites }

// Close closes the file of the blocks.
func (r *Reader) Close() error { return r.file.Close() }

// Blocks walks the sites in file order, holding a page of each column and one
// block in memory. The *Block is overwritten by the next step: copy it,
// together with its Heat and Stress, to keep it. An error comes last, with a nil block;
// the end of ctx is such an error.
func (r *Reader) Blocks(ctx context.Context) iter.Seq2[*Block, error] {
	return func(yield func(*Block, error) bool) {
		columns := heatColumns(r.table.Stress)
		cursors := make([]cursor, len(columns))
		for i, c := range columns {
			at, _ := r.heat.Schema().Lookup(c.name) // Open has seen it
			cursors[i] = cursor{groups: r.heat.RowGroups(), column: at.ColumnIndex}
			defer cursors[i].close()
		}
		nd := len(r.table.Designs)
		n := nd * len(r.table.Outlets)
		b := &Block{Heat: make([]float32, 12*n)}
		if r.table.Stress {
			b.Stress = make([]float32, n*Stresses)
		}
		values, floats := make([]parquet.Value, n), make([]float32, n)
		step := func(s int) (err error) {
			defer damage(r.path, &err)
			if err := ctx.Err(); err != nil {
				return err
			}
			b.Site = r.sites[s]
			for ci, c := range columns {
				if c.values != nil {
					if err := cursors[ci].readFloats(floats, values); err != nil {
						return fmt.Errorf("%s: site %s: %s: %w", r.path, b.Site.ID, c.name, err)
					}
					to := c.values(b)
					for i, v := range floats {
						if v != v && !c.null {
							return fmt.Errorf("%s: row %d: %s is missing", r.path, s*n+i+1, c.name)
						}
						to[i*c.stride] = v
					}
					continue
				}
				if err := cursors[ci].read(values); err != nil {
					return fmt.Errorf("%s: site %s: %s: %w", r.path, b.Site.ID, c.name, err)
				}
				for i, v := range values {
					ok := false
					switch ci {
					case 0:
						ok = string(v.ByteArray()) == b.Site.ID
					case 1:
						ok = int(v.Int32()) == i%nd
					case 2:
						ok = v.Double() == r.table.Outlets[i/nd]
					}
					if !ok {
						return fmt.Errorf("%s: row %d: %s = %v, out of the order of %s and %s", r.path, s*n+i+1, c.name, v, SitesFile, DesignsFile)
					}
				}
			}
			return nil
		}
		for s := range r.sites {
			if err := step(s); err != nil {
				yield(nil, err)
				return
			}
			if !yield(b, nil) {
				return
			}
		}
	}
}

// A cursor reads one column from front to back, whatever its pages and row
// groups are. It holds one page.
type cursor struct {
	groups []parquet.RowGroup // those to come
	column int
	pages  parquet.Pages // of the current row group
	page   parquet.Page
	values parquet.ValueReader // what is left of page, nil for nothing
}

// next makes the next page current.
func (c *cursor) next() error {
	for {
		if c.pages == nil {
			if len(c.groups) == 0 {
				return io.ErrUnexpectedEOF
			}
			c.pages, c.groups = c.groups[0].ColumnChunks()[c.column].Pages(), c.groups[1:]
		}
		parquet.Release(c.page)
		c.page, c.values = nil, nil
		page, err := c.pages.ReadPage()
		if err == nil {
			c.page, c.values = page, page.Values()
			return nil
		}
		if err != io.EOF {
			return err
		}
		if err := c.pages.Close(); err != nil {
			return err
		}
		c.pages = nil
	}
}

// read fills dst. The bytes of its values live until the next read; those of
// an earlier page are copied, as the page is given back.
func (c *cursor) read(dst []parquet.Value) error {
	for done := 0; done < len(dst); {
		if c.values == nil {
			for i := range dst[:done] {
				dst[i] = dst[i].Clone()
			}
			if err := c.next(); err != nil {
				return err
			}
		}
		n, err := c.values.ReadValues(dst[done:])
		done += n
		if err == io.EOF {
			c.values = nil
		} else if err != nil {
			return err
		}
	}
	return nil
}

// readFloats fills dst, straight from the page where that is possible.
func (c *cursor) readFloats(dst []float32, scratch []parquet.Value) error {
	for done := 0; done < len(dst); {
		if c.values == nil {
			if err := c.next(); err != nil {
				return err
			}
		}
		var n int
		var err error
		if typed, ok := c.values.(parquet.FloatReader); ok {
			n, err = typed.ReadFloats(dst[done:])
		} else {
			n, err = c.values.ReadValues(scratch[:len(dst)-done])
			for i, v := range scratch[:n] {
				if dst[done+i] = v.Float(); v.IsNull() {
					dst[done+i] = float32(math.NaN())
				}
			}
		}
		done += n
		if err == io.EOF {
			c.values = nil
		} else if err != nil {
			return err
		}
	}
	return nil
}

func (c *cursor) close() {
	parquet.Release(c.page)
	if c.pages != nil {
		c.pages.Close() // it only gives memory back
	}
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
