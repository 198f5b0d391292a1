package weather

import (
	"bytes"
	"io"
	"sort"

	"github.com/parquet-go/parquet-go"
)

// mostTwins is how many bytes of a column's pages are held to be compared.
const mostTwins = 1 << 16

// twins tells pages of one column of a row group whose bytes are those of a page
// known to be right: they share the dictionary, so what they hold is the same.
// The hours of all sites are such pages.
type twins struct {
	index parquet.OffsetIndex // nil: no page is told
	rows  int64               // of the row group
	from  int64               // in the file, of raw
	raw   []byte              // all pages
	known []byte              // the one known
	hour  int                 // of its first row
}

// newTwins reads the pages of a column if they are few bytes; whatever is wrong
// with them is left to those who read them in earnest.
func newTwins(file io.ReaderAt, index parquet.OffsetIndex, rows int64) twins {
	if index == nil || index.NumPages() < 2 {
		return twins{}
	}
	from, last := index.Offset(0), index.NumPages()-1
	n := index.Offset(last) - from + index.CompressedPageSize(last)
	if from < 0 || n <= 0 || n > mostTwins {
		return twins{}
	}
	t := twins{index: index, rows: rows, from: from, raw: make([]byte, n)}
	if _, err := file.ReadAt(t.raw, from); err != nil {
		return twins{}
	}
	return t
}

// page gives the bytes of the page that has the rows of s and no others, nil
// where there is none.
func (t *twins) page(s span) []byte {
	if t.index == nil {
		return nil
	}
	pages := t.index.NumPages()
	i := sort.Search(pages, func(i int) bool { return t.index.FirstRowIndex(i) > s.row }) - 1
	if i < 0 || t.index.FirstRowIndex(i) != s.row {
		return nil
	}
	end := t.rows
	if i+1 < pages {
		end = t.index.FirstRowIndex(i + 1)
	}
	at, n := t.index.Offset(i)-t.from, t.index.CompressedPageSize(i)
	if end != s.row+int64(s.n) || at < 0 || n <= 0 || at > int64(len(t.raw)) || n > int64(len(t.raw))-at {
		return nil
	}
	return t.raw[at : at+n]
}

// know notes that the page of s is right.
func (t *twins) know(s span) { t.known, t.hour = t.page(s), s.hour }

// knows reports whether the page of s has the bytes of the one that is right.
func (t *twins) knows(s span) bool {
	return t.known != nil && s.hour == t.hour && bytes.Equal(t.page(s), t.known)
}
