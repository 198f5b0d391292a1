package weather

import (
	"fmt"
	"path/filepath"
	"sort"
	"sync"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/parquet-go/parquet-go"
)

// A Table is a weather table opened for reading: the sites in memory, their
// hours on disk. Its methods are safe for concurrent use.
//
// The files are read with parquet-go, page by page into the memory of the
// columns, which is several times as fast as the Parquet reader of Arrow. The
// columns then travel as Arrow record batches: a Year is a view of one, and
// other tools read the same memory as an Arrow IPC stream.
type Table struct {
	Sites []Site // in the order of the file; not to be changed

	file    *parquetFile
	ids     map[string]int
	columns []int         // of the file: site_id, hour, then valueColumns
	first   []int64       // first row of each row group, and the number of rows
	schema  *arrow.Schema // of every record
	names   *array.String // the identifiers, dictionary of every record's site_id
	hour    arrow.Array   // the hour column of every record
	mu      sync.Mutex
	idle    []*cursor
}

// Open opens the weather table in dir. Files of other writers will do if they
// have the columns, without nulls and Hours rows a site in the order of the
// site table; row groups, pages and encodings may be laid out in any way. Two
// files that a Writer left in two different tables are refused.
func Open(dir string) (*Table, error) {
	t := &Table{}
	var stamp string
	var err error
	if t.Sites, stamp, err = readSites(filepath.Join(dir, sitesFile)); err != nil {
		return nil, fmt.Errorf("weather table: %w", err)
	}
	if err := t.openHours(filepath.Join(dir, hoursFile), stamp); err != nil {
		t.Close()
		return nil, fmt.Errorf("weather table: %w", err)
	}
	t.ids = make(map[string]int, len(t.Sites))
	names := array.NewStringBuilder(memory.DefaultAllocator)
	for i := range t.Sites {
		t.ids[t.Sites[i].ID] = i
		names.Append(t.Sites[i].ID)
	}
	t.names = names.NewStringArray()
	hours := make([]int32, Hours)
	for h := range hours {
		hours[h] = int32(h)
	}
	t.hour = int32Array(hours)
	t.schema = recordSchema()
	return t, nil
}

func (t *Table) openHours(path, stamp string) (err error) {
	defer recoverDamage(path, &err)
	if t.file, err = openParquet(path); err != nil {
		return err
	}
	add := func(name string, kind parquet.Kind) {
		if err == nil {
			var c int
			c, err = t.file.column(name, kind)
			t.columns = append(t.columns, c)
		}
	}
	add(siteIDColumn.Name, parquet.ByteArray)
	add(hourColumn.Name, parquet.Int32)
	for _, c := range valueColumns {
		add(c.Name, parquet.Float)
	}
	if err != nil {
		return err
	}
	rows := int64(0)
	for _, g := range t.file.pq.RowGroups() {
		t.first = append(t.first, rows)
		rows += g.NumRows()
	}
	t.first = append(t.first, rows)
	if want := int64(len(t.Sites)) * Hours; rows != want {
		return fmt.Errorf("%s: %d rows, want %d: %d for each of the %d sites of %s",
			path, rows, want, Hours, len(t.Sites), sitesFile)
	}
	// A tool that edits one of the files drops the stamp or keeps it as it was.
	if hours, ok := t.file.pq.Lookup(stampKey); ok && stamp != "" && hours != stamp {
		return fmt.Errorf("%s: written with another %s than the one beside it; ingest again", path, sitesFile)
	}
	return nil
}

// Close closes the table's files. Records read before stay valid.
func (t *Table) Close() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, c := range t.idle {
		c.close()
	}
	t.idle = nil
	if t.file == nil {
		return nil
	}
	return t.file.Close()
}

// read fills dst, one slice of Hours for each of valueColumns, with site i.
func (t *Table) read(i int, dst [][]float32) (err error) {
	path := t.file.path
	defer recoverDamage(path, &err)
	row, end := int64(i)*Hours, int64(i+1)*Hours
	for row < end {
		g := sort.Search(len(t.first), func(g int) bool { return t.first[g] > row }) - 1
		n := int(min(end, t.first[g+1]) - row)
		part := span{
			site: t.Sites[i].ID,
			hour: int(row - int64(i)*Hours),
			row:  row - t.first[g],
			n:    n,
		}
		c := t.take(g)
		if column, err := c.read(part, dst); err != nil {
			c.close()
			return fmt.Errorf("%s: row group %d: site %q: column %s: %w", path, g, part.site, column, err)
		}
		t.put(c)
		row += int64(n)
	}
	return nil
}

// take returns a cursor on row group g, an idle one if there is one: keeping a
// cursor keeps the dictionaries it has decoded.
func (t *Table) take(g int) *cursor {
	t.mu.Lock()
	defer t.mu.Unlock()
	for k, c := range t.idle {
		if c.group == g {
			t.idle[k] = t.idle[len(t.idle)-1]
			t.idle = t.idle[:len(t.idle)-1]
			return c
		}
	}
	if n := len(t.idle); n > 0 {
		t.idle[n-1].close()
		t.idle = t.idle[:n-1]
	}
	return newCursor(t.file.pq.RowGroups()[g], g, t.columns)
}

func (t *Table) put(c *cursor) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.idle = append(t.idle, c)
}
