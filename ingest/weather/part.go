package weather

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"sync"

	"github.com/parquet-go/parquet-go"
)

// Bytes read at a time of a column: about a page of hours where one site is wanted;
// some five of them where site follows site, which takes a tenth less time.
const (
	aheadOne  = 8 << 10
	aheadMany = 32 << 10
)

// openParts is how many part files a table keeps open when nobody reads them.
const openParts = 3

// A part is one file of hours; it is opened when it is read.
type part struct {
	name  string
	sites int // places the site table speaks of: 1 + the last
	ahead int // bytes read at a time of a column

	mu      sync.Mutex
	file    *parquetFile // nil while closed
	columns []int        // of the file: site_id, hour, then valueColumns
	first   []int64      // first row of each row group, and the number of rows
	users   int          // readers at work; the file stays open for them
	idle    []*cursor
	closed  bool // for good
}

// A location says where the hours of a site are.
type location struct {
	part  *part
	place int
}

// open makes the file ready for a reader, who must give it back with release.
func (p *part) open(dir string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed {
		return fmt.Errorf("%s: %w", filepath.Join(dir, p.name), os.ErrClosed)
	}
	if p.file == nil {
		if err := p.load(filepath.Join(dir, p.name)); err != nil {
			return err
		}
	}
	p.users++
	return nil
}

// load opens the file and finds its columns and row groups.
func (p *part) load(path string) (err error) {
	defer recoverDamage(path, &err)
	f, err := openParquet(path, p.ahead)
	if err != nil {
		return err
	}
	defer func() {
		if p.file == nil {
			f.Close()
		}
	}()
	var columns []int
	add := func(name string, kind parquet.Kind) {
		if err == nil {
			var c int
			c, err = f.column(name, kind)
			columns = append(columns, c)
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
	var first []int64
	rows := int64(0)
	for _, g := range f.pq.RowGroups() {
		first = append(first, rows)
		rows += g.NumRows()
	}
	first = append(first, rows)
	if want := int64(p.sites) * Hours; rows < want || rows%Hours != 0 || !slices.IsSorted(first) {
		return fmt.Errorf("%s: %d rows, want %d for each site, of which %s places %d in it",
			path, rows, Hours, sitesFile, p.sites)
	}
	p.file, p.columns, p.first = f, columns, first
	return nil
}

// release gives the file back.
func (p *part) release() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.users--; p.closed && p.users == 0 {
		p.shut()
	}
}

// rest closes the file if nobody reads it.
func (p *part) rest() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.users == 0 {
		p.shut()
	}
}

// close closes the file for good, as soon as nobody reads it.
func (p *part) close() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.closed = true; p.users == 0 {
		p.shut()
	}
}

func (p *part) shut() {
	for _, c := range p.idle {
		c.close()
	}
	p.idle = nil
	if p.file != nil {
		p.file.Close() // only read from
		p.file = nil
	}
}

// read fills y, whose slices hold Hours values, with the hours of the site at a
// place. The file must be open.
func (p *part) read(site string, place int, y *Year) (err error) {
	path := p.file.path
	defer recoverDamage(path, &err)
	row, end := int64(place)*Hours, int64(place+1)*Hours
	for row < end {
		g := sort.Search(len(p.first), func(g int) bool { return p.first[g] > row }) - 1
		n := int(min(end, p.first[g+1]) - row)
		s := span{
			site: site,
			hour: int(row - int64(place)*Hours),
			row:  row - p.first[g],
			n:    n,
		}
		c, err := p.take(g)
		if err != nil {
			return fmt.Errorf("%s: row group %d: %w", path, g, err)
		}
		if column, err := c.read(s, y); err != nil {
			c.close()
			return fmt.Errorf("%s: row group %d: site %q: column %s: %w", path, g, site, column, err)
		}
		p.put(c)
		row += int64(n)
	}
	return nil
}

// take returns a cursor on row group g, an idle one if there is one: keeping a
// cursor keeps the dictionaries it has decoded.
func (p *part) take(g int) (*cursor, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for k, c := range p.idle {
		if c.group == g {
			p.idle[k] = p.idle[len(p.idle)-1]
			p.idle = p.idle[:len(p.idle)-1]
			return c, nil
		}
	}
	if n := len(p.idle); n > 0 {
		p.idle[n-1].close()
		p.idle = p.idle[:n-1]
	}
	return newCursor(p.file, p.file.pq.RowGroups()[g], g, p.columns)
}

func (p *part) put(c *cursor) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.idle = append(p.idle, c)
}

// replaced makes of the error that a part is not there the likely reason: a
// write has replaced the site table that info describes, and with it the part.
func replaced(err error, dir string, info os.FileInfo) error {
	if errors.Is(err, os.ErrNotExist) && !sameFile(filepath.Join(dir, sitesFile), info) {
		return fmt.Errorf("%s: the table was replaced while reading: %w", dir, err)
	}
	return err
}
