package weather

import (
	"fmt"
	"os"
	"slices"
	"sync"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// A Table is a weather table opened for reading: the sites in memory, their
// hours on disk. Its methods are safe for concurrent use.
//
// The files are read with parquet-go, page by page into the memory of the
// columns, which is several times as fast as the Parquet reader of Arrow. They
// come as a Year, or as an Arrow record batch, of which a Year is a view and which
// other tools read as an Arrow IPC stream.
type Table struct {
	Sites []Site // in the order of the file; not to be changed

	dir    string
	info   os.FileInfo // of the site table
	where  []location  // of each site
	parts  []*part
	ids    map[string]int
	schema *arrow.Schema // of every record
	names  *array.String // the identifiers, dictionary of every record's site_id
	hour   arrow.Array   // the hour column of every record

	mu     sync.Mutex
	recent []*part // read lately, the last one last
}

// Open reads the site table in dir; the parts with the hours are opened when
// they are read, so that a write in between can make them disappear: an error
// then says that the table was replaced. Files of other writers will do if they
// have the columns, without nulls and Hours rows a site, where the site table
// says; row groups, pages and encodings may be laid out in any way.
func Open(dir string) (*Table, error) {
	sites, info, err := readSites(dir)
	if err != nil {
		return nil, fmt.Errorf("weather table: %w", err)
	}
	t := &Table{dir: dir, info: info, ids: make(map[string]int, len(sites)), schema: recordSchema()}
	t.Sites, t.where = make([]Site, len(sites)), make([]location, len(sites))
	parts := make(map[string]*part)
	names := array.NewStringBuilder(memory.DefaultAllocator)
	for i := range sites {
		s := &sites[i]
		p := parts[s.part]
		if p == nil {
			p = &part{name: s.part, ahead: aheadMany}
			parts[s.part] = p
			t.parts = append(t.parts, p)
		}
		p.sites = max(p.sites, s.place+1)
		t.Sites[i], t.where[i] = s.Site, location{p, s.place}
		t.ids[s.ID] = i
		names.Append(s.ID)
	}
	t.names = names.NewStringArray()
	hours := make([]int32, Hours)
	for h := range hours {
		hours[h] = int32(h)
	}
	t.hour = int32Array(hours)
	return t, nil
}

// Dir is the folder the table was opened in.
func (t *Table) Dir() string { return t.dir }

// Close closes the table's files. Records read before stay valid.
func (t *Table) Close() error {
	for _, p := range t.parts {
		p.close()
	}
	return nil
}

// ReadYear reads the hours of site i, and nothing else of the file, into y, whose
// units are those of Year. Slices of y that hold Hours values are written over,
// others made, so that a worker reads site after site into one Year without
// allocating; y and its memory stay the caller's. Workers that read at the same
// time need a Year each. After an error y may hold parts of both years.
//
// The rows are checked to be those of the site, in order, without a null, and
// the values as Year.Validate does; an error names file, row group, site, column
// and hour.
func (t *Table) ReadYear(i int, y *Year) error {
	if i < 0 || i >= len(t.Sites) {
		return fmt.Errorf("weather table: no site %d among %d", i, len(t.Sites))
	}
	for k := range valueColumns {
		if v := valueColumns[k].of(y); len(*v) != Hours {
			*v = make([]float32, Hours)
		}
	}
	if err := t.read(i, y); err != nil {
		return fmt.Errorf("weather table: %w", err)
	}
	return nil
}

// read fills y, whose slices hold Hours values, with site i.
func (t *Table) read(i int, y *Year) error {
	at := t.where[i]
	if err := at.part.open(t.dir); err != nil {
		return replaced(err, t.dir, t.info)
	}
	defer at.part.release()
	t.use(at.part)
	return at.part.read(t.Sites[i].ID, at.place, y)
}

// use notes that a part is read, and lets the one that has waited longest rest.
func (t *Table) use(p *part) {
	t.mu.Lock()
	defer t.mu.Unlock()
	n := len(t.recent)
	if n > 0 && t.recent[n-1] == p {
		return
	}
	if k := slices.Index(t.recent, p); k >= 0 {
		t.recent = slices.Delete(t.recent, k, k+1)
	} else if n == openParts {
		t.recent[0].rest()
		t.recent = slices.Delete(t.recent, 0, 1)
	}
	t.recent = append(t.recent, p)
}
