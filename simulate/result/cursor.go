package result

import (
	"io"
	"math"

	"github.com/parquet-go/parquet-go"
)

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
