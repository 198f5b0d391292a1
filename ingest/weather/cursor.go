package weather

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go"
)

// A cursor reads the columns of one row group.
type cursor struct {
	group int
	pages []parquet.Pages // site_id, hour, then valueColumns
}

// A span is a run of rows of one site within one row group.
type span struct {
	site string
	hour int   // of its first row
	row  int64 // first row, counted in the row group
	n    int
}

// newCursor reads the index of the columns' pages, where the file has one, and
// leaves it with the file: without it a seek reads all pages before.
func newCursor(g parquet.RowGroup, group int, columns []int) (*cursor, error) {
	c := &cursor{group: group}
	for _, column := range columns {
		chunk := g.ColumnChunks()[column]
		if _, err := chunk.OffsetIndex(); err != nil && !errors.Is(err, parquet.ErrMissingOffsetIndex) {
			c.close()
			return nil, err
		}
		c.pages = append(c.pages, chunk.Pages())
	}
	return c, nil
}

func (c *cursor) close() {
	for _, p := range c.pages {
		p.Close() // gives back buffers; nothing can be lost
	}
}

// read copies the values of s into y after checking that its rows belong to
// the site and hours they should. It names the column of an error.
func (c *cursor) read(s span, y *Year) (column string, err error) {
	err = eachPage(c.pages[0], s, func(page parquet.Page, _, n int) error {
		return checkSiteID(page, n, s.site)
	})
	if err != nil {
		return siteIDColumn.Name, err
	}
	err = eachPage(c.pages[1], s, func(page parquet.Page, hour, n int) error {
		return checkHours(page, n, hour)
	})
	if err != nil {
		return hourColumn.Name, err
	}
	for k := range valueColumns {
		dst := *valueColumns[k].of(y)
		err = eachPage(c.pages[2+k], s, func(page parquet.Page, hour, n int) error {
			return copyFloats(dst[hour:hour+n], page, hour, valueColumns[k].least)
		})
		if err != nil {
			return valueColumns[k].Name, err
		}
	}
	return "", nil
}

// eachPage calls use with the pages that hold s: the page, the hour of its
// first row, and how many of its rows to take.
func eachPage(pages parquet.Pages, s span, use func(page parquet.Page, hour, n int) error) error {
	if err := pages.SeekToRow(s.row); err != nil {
		return err
	}
	for done := 0; done < s.n; {
		page, err := pages.ReadPage()
		if err == io.EOF {
			return fmt.Errorf("hour %d: %w", s.hour+done, io.ErrUnexpectedEOF)
		}
		if err != nil {
			return err
		}
		n := int(min(page.NumRows(), int64(s.n-done)))
		if i := firstNull(page, n); i >= 0 {
			err = fmt.Errorf("hour %d is null", s.hour+done+i)
		} else {
			err = use(page, s.hour+done, n)
		}
		parquet.Release(page)
		if err != nil {
			return err
		}
		done += n
	}
	return nil
}

// firstNull returns the first of the first n rows that is null, −1 if none is.
// Where none is, the first n values of the page are those of its first n rows.
func firstNull(page parquet.Page, n int) int {
	if page.NumNulls() == 0 {
		return -1
	}
	return slices.Index(page.DefinitionLevels()[:n], 0) // of a nullable column: 0 null, 1 a value
}

// checkSiteID checks that the first n rows of the page hold the identifier.
func checkSiteID(page parquet.Page, n int, want string) error {
	if dict := page.Dictionary(); dict != nil {
		known := int32(-1) // index that means want
		data := page.Data()
		for _, ix := range data.Int32()[:n] {
			if ix == known {
				continue
			}
			if got := dict.Index(ix).ByteArray(); string(got) != want {
				return fmt.Errorf("rows belong to site %q", got)
			}
			known = ix
		}
		return nil
	}
	data := page.Data()
	text, offsets := data.ByteArray()
	for i := range n {
		if got := text[offsets[i]:offsets[i+1]]; !bytes.Equal(got, []byte(want)) {
			return fmt.Errorf("rows belong to site %q", got)
		}
	}
	return nil
}

// checkHours checks that the first n rows of the page count up from hour.
func checkHours(page parquet.Page, n, hour int) error {
	data := page.Data()
	values := data.Int32()[:n] // hours, or with a dictionary their indexes
	if dict := page.Dictionary(); dict != nil {
		dictData := dict.Page().Data()
		of := dictData.Int32()
		for i, ix := range values {
			if got := of[ix]; got != int32(hour+i) {
				return fmt.Errorf("hour %d where %d should be", got, hour+i)
			}
		}
		return nil
	}
	for i, got := range values {
		if got != int32(hour+i) {
			return fmt.Errorf("hour %d where %d should be", got, hour+i)
		}
	}
	return nil
}

// copyFloats fills dst from the page, whose first row is the given hour, and
// refuses what Year.Validate would. A dictionary page holds indexes, so its
// values are gathered; any other page gives its values as a slice.
func copyFloats(dst []float32, page parquet.Page, hour int, least float32) error {
	// Of a usable x, x − least is a finite number without a sign: adding 0 takes
	// that of −0. All other bit patterns are at or above that of infinity, so a
	// running maximum finds them without a branch for each value.
	top := uint32(0)
	data := page.Data()
	if dict := page.Dictionary(); dict != nil {
		dictData := dict.Page().Data()
		of := dictData.Float()
		for i, ix := range data.Int32()[:len(dst)] {
			x := of[ix]
			dst[i] = x
			top = max(top, math.Float32bits(x-least+0))
		}
	} else {
		for i, x := range data.Float()[:len(dst)] {
			dst[i] = x
			top = max(top, math.Float32bits(x-least+0))
		}
	}
	if top < math.Float32bits(float32(math.Inf(1))) {
		return nil
	}
	i := slices.IndexFunc(dst, func(x float32) bool { return !usable(x, least) })
	return fmt.Errorf("hour %d is %v, want a finite value of at least %v", hour+i, dst[i], least)
}
