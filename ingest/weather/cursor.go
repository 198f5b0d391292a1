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
	group  int
	pages  []parquet.Pages // site_id, hour, then valueColumns
	hours  twins
	floats [len(valueColumns)]dictionary
}

// A dictionary holds the values of one, which most pages of a column share.
type dictionary struct {
	of     parquet.Dictionary
	values []float32
	usable bool // all of them are
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
func newCursor(file io.ReaderAt, g parquet.RowGroup, group int, columns []int) (*cursor, error) {
	c := &cursor{group: group}
	for k, column := range columns {
		chunk := g.ColumnChunks()[column]
		index, err := chunk.OffsetIndex()
		if err != nil && !errors.Is(err, parquet.ErrMissingOffsetIndex) {
			c.close()
			return nil, err
		}
		if k == 1 && err == nil {
			c.hours = newTwins(file, index, g.NumRows())
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
	if !c.hours.knows(s) {
		err = eachPage(c.pages[1], s, func(page parquet.Page, hour, n int) error {
			return checkHours(page, n, hour)
		})
		if err != nil {
			return hourColumn.Name, err
		}
		c.hours.know(s)
	}
	for k := range valueColumns {
		dst, least := *valueColumns[k].of(y), valueColumns[k].least
		err = eachPage(c.pages[2+k], s, func(page parquet.Page, hour, n int) error {
			return c.floats[k].copy(dst[hour:hour+n], page, hour, least)
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
		data := page.Data()
		indexes := data.Int32()[:n]
		for from := 0; from < n; { // once where they are equal
			same := indexes[from]
			if got := dict.Index(same).ByteArray(); string(got) != want {
				return fmt.Errorf("rows belong to site %q", got)
			}
			from += equalRun(indexes[from:])
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

// equalRun gives how many of the first are equal, at least one.
func equalRun(list []int32) int {
	first, n := list[0], 0
	for ; n+8 <= len(list); n += 8 {
		l := (*[8]int32)(list[n:])
		if (l[0]^first)|(l[1]^first)|(l[2]^first)|(l[3]^first)|(l[4]^first)|(l[5]^first)|(l[6]^first)|(l[7]^first) != 0 {
			break
		}
	}
	for n < len(list) && list[n] == first {
		n++
	}
	return n
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
	i := 0
	for ; i+4 <= n; i += 4 {
		v, want := (*[4]int32)(values[i:]), int32(hour+i)
		if (v[0]^want)|(v[1]^(want+1))|(v[2]^(want+2))|(v[3]^(want+3)) != 0 {
			break
		}
	}
	for ; i < n; i++ {
		if got := values[i]; got != int32(hour+i) {
			return fmt.Errorf("hour %d where %d should be", got, hour+i)
		}
	}
	return nil
}

// copy fills dst from the page, whose first row is the given hour, and refuses
// what Year.Validate would. A page that has a dictionary holds indexes, so its
// values are gathered; any other page gives its values as a slice.
func (d *dictionary) copy(dst []float32, page parquet.Page, hour int, least float32) error {
	data := page.Data()
	of := page.Dictionary()
	if of == nil {
		copy(dst, data.Float()[:len(dst)])
		return checkFloats(dst, hour, least)
	}
	if of != d.of {
		all := of.Page().Data()
		*d = dictionary{of: of, values: all.Float()}
		d.usable = checkFloats(d.values, 0, least) == nil
	}
	values, indexes := d.values, data.Int32()
	indexes = indexes[:len(dst)]
	i := 0
	for ; i+16 <= len(dst); i += 16 { // the loop itself is what costs
		to, ix := (*[16]float32)(dst[i:]), (*[16]int32)(indexes[i:])
		to[0], to[1] = values[uint32(ix[0])], values[uint32(ix[1])]
		to[2], to[3] = values[uint32(ix[2])], values[uint32(ix[3])]
		to[4], to[5] = values[uint32(ix[4])], values[uint32(ix[5])]
		to[6], to[7] = values[uint32(ix[6])], values[uint32(ix[7])]
		to[8], to[9] = values[uint32(ix[8])], values[uint32(ix[9])]
		to[10], to[11] = values[uint32(ix[10])], values[uint32(ix[11])]
		to[12], to[13] = values[uint32(ix[12])], values[uint32(ix[13])]
		to[14], to[15] = values[uint32(ix[14])], values[uint32(ix[15])]
	}
	for ; i < len(dst); i++ {
		dst[i] = values[uint32(indexes[i])]
	}
	if d.usable {
		return nil
	}
	return checkFloats(dst, hour, least)
}

// checkFloats refuses values that Year.Validate would, of the hours from hour.
func checkFloats(values []float32, hour int, least float32) error {
	// Of a usable x, x − least is a finite number without a sign: adding 0 takes
	// that of −0. All other bit patterns are at or above that of infinity, so a
	// running maximum finds them without a branch for each value.
	top := uint32(0)
	for _, x := range values {
		top = max(top, math.Float32bits(x-least+0))
	}
	if top < math.Float32bits(float32(math.Inf(1))) {
		return nil
	}
	i := slices.IndexFunc(values, func(x float32) bool { return !usable(x, least) })
	return fmt.Errorf("hour %d is %v, want a finite value of at least %v", hour+i, values[i], least)
}
