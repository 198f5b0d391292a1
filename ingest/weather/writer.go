package weather

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/parquet-go/parquet-go/compress/zstd"

	"stillrow/data/outfile"
)

const (
	// groupSites is the most sites in a row group: enough for its dictionaries
	// to pay, few enough to hold while writing.
	groupSites = 32
	// dictionaryLimit ends a dictionary in bytes: reading one site means reading
	// the dictionary of its row group, so beyond this size (16384 distinct
	// values) further pages of the row group are written plain.
	dictionaryLimit = 64 << 10
)

// A Writer makes a weather table, site by site, under temporary names that
// Close replaces by the real ones. It is not safe for concurrent use.
//
// Both files are written with parquet-go, which lets a page end where a site
// does, so that reading a site reads no other. A row group of the hours holds up
// to 32 sites, float32 values as dictionaries while these are small, all
// compressed with zstd; site_id has bounds, so that any reader after one site
// skips the other row groups. Flags are one string, joined by semicolons.
// Identical sites in identical order give identical bytes.
type Writer struct {
	dir                string
	hoursOut, sitesOut *outfile.File
	hours              *parquet.GenericWriter[any]
	group              *parquet.ConcurrentRowGroupWriter // up to groupSites sites, in memory
	grouped            int                               // sites in group
	values             []parquet.Value                   // one page, reused
	hourValues         []parquet.Value                   // the hour page of every site
	columns            []siteColumn
	sites              []Site
	ids                map[string]bool
	failed             error // of a write; nothing can follow it
}

// Create starts a table in dir, making the folder if need be.
func Create(dir string) (*Writer, error) {
	w := &Writer{dir: dir, values: make([]parquet.Value, Hours), columns: siteColumns(), ids: make(map[string]bool)}
	for h := range int32(Hours) {
		w.hourValues = append(w.hourValues, parquet.Int32Value(h))
	}
	var err error
	if w.hoursOut, err = outfile.Create(filepath.Join(dir, hoursFile)); err != nil {
		return nil, fmt.Errorf("weather table: %w", err)
	}
	if w.sitesOut, err = outfile.Create(filepath.Join(dir, sitesFile)); err != nil {
		w.hoursOut.Abort()
		return nil, fmt.Errorf("weather table: %w", err)
	}
	w.hours = parquet.NewGenericWriter[any](w.hoursOut, hoursOptions()...)
	w.group = w.hours.BeginRowGroup()
	return w, nil
}

// ErrRefused marks the errors of Append that concern one site alone: the table
// can take others after them.
var ErrRefused = errors.New("refused by the weather table")

// Append adds a site and its year to the table; both are the caller's again
// when it returns. A site or year that does not fit (an identifier met before,
// text that is not UTF-8, a year that is not valid) leaves the table as it was:
// the error is ErrRefused and names site, column and hour. After any other
// error the table is lost.
func (w *Writer) Append(site Site, year *Year) error {
	if w.failed != nil {
		return w.failed
	}
	err := checkSite(&site, w.columns)
	if err == nil {
		err = year.Validate()
	}
	if err == nil && w.ids[site.ID] {
		err = errors.New("site_id is there already")
	}
	if err != nil {
		return fmt.Errorf("%w: site %q: %w", ErrRefused, site.ID, err)
	}
	if err := w.appendHours(site.ID, year); err != nil {
		w.failed = fmt.Errorf("%s: site %q: %w", filepath.Join(w.dir, hoursFile), site.ID, err)
		return w.failed
	}
	site.Flags = slices.Clone(site.Flags)
	w.sites = append(w.sites, site)
	w.ids[site.ID] = true
	return nil
}

// appendHours writes one page a column and ends the row group when it is full.
func (w *Writer) appendHours(id string, year *Year) error {
	columns := w.group.ColumnWriters()
	page := func(c int, values []parquet.Value) error {
		if _, err := columns[c].WriteRowValues(values); err != nil {
			return err
		}
		return columns[c].Flush() // the flush ends the page
	}
	key := parquet.ByteArrayValue([]byte(id))
	for h := range w.values {
		w.values[h] = key
	}
	if err := page(0, w.values); err != nil {
		return err
	}
	if err := page(1, w.hourValues); err != nil {
		return err
	}
	for c := range valueColumns {
		for h, x := range *valueColumns[c].of(year) {
			w.values[h] = parquet.FloatValue(x)
		}
		if err := page(2+c, w.values); err != nil {
			return err
		}
	}
	if w.grouped++; w.grouped < groupSites {
		return nil
	}
	w.grouped = 0
	_, err := w.group.Commit()
	return err
}

// Close writes what is left and gives both files their real names, the hours
// first. After an error nothing has been renamed, or the hours alone, which
// Open refuses to read with an older site table unless the two are equal: both
// files carry the same stamp.
func (w *Writer) Close() error {
	defer w.Abort()
	if w.failed != nil {
		return w.failed
	}
	w.failed = errors.New("weather table: closed")
	stamp := sitesStamp(w.sites, w.columns)
	if err := w.finishHours(stamp); err != nil {
		return fmt.Errorf("%s: %w", filepath.Join(w.dir, hoursFile), err)
	}
	if err := writeSites(w.sitesOut, w.sites, w.columns, stamp); err != nil {
		return fmt.Errorf("%s: %w", filepath.Join(w.dir, sitesFile), err)
	}
	if err := w.hoursOut.Commit(); err != nil {
		return err
	}
	return w.sitesOut.Commit()
}

func (w *Writer) finishHours(stamp string) error {
	if _, err := w.group.Commit(); err != nil {
		return err
	}
	w.hours.SetKeyValueMetadata(stampKey, stamp)
	return w.hours.Close()
}

// Abort removes what has not been committed; it may always be deferred.
func (w *Writer) Abort() {
	w.hoursOut.Abort()
	w.sitesOut.Abort()
	w.failed = errors.New("weather table: closed")
}

// hoursSchema gives each column the encoding that measured best. All columns
// are required: a finished year lacks nothing.
func hoursSchema() *parquet.Schema {
	g := orderedGroup{}
	g.add(siteIDColumn.Name, parquet.Encoded(parquet.String(), &parquet.RLEDictionary))
	g.add(hourColumn.Name, parquet.Encoded(parquet.Leaf(parquet.Int32Type), &parquet.DeltaBinaryPacked))
	for _, c := range valueColumns {
		g.add(c.Name, parquet.Encoded(parquet.Leaf(parquet.FloatType), &parquet.RLEDictionary))
	}
	return parquet.NewSchema("weather_hours", g)
}

func hoursOptions() []parquet.WriterOption {
	options := append(fileOptions(),
		hoursSchema(),
		// A page holds 35 kB of indexes; it must never fill up before its flush.
		parquet.PageBufferSize(256<<10),
		parquet.DictionaryMaxBytes(dictionaryLimit),
		parquet.SkipPageBounds(hourColumn.Name),
	)
	for _, c := range valueColumns {
		options = append(options, parquet.SkipPageBounds(c.Name))
	}
	return options
}

// fileOptions are common to both files. Data pages of version 1 and zstd are
// what the most readers understand; bounds in page headers nobody reads.
func fileOptions() []parquet.WriterOption {
	return []parquet.WriterOption{
		// Left alone, the library puts its own version here, or not, depending
		// on how the program was built.
		parquet.CreatedBy("stillrow", "1", "parquet-go"),
		parquet.Compression(&zstd.Codec{Level: zstd.SpeedFastest}), // level 1
		parquet.DataPageVersion(1),
		parquet.DataPageStatistics(false),
		// Bounds are cut off at this length; identifiers should not be.
		parquet.ColumnIndexSizeLimit(func([]string) int { return 128 }),
	}
}

// An orderedGroup is a parquet.Group that keeps its fields in the order they
// were added; the library's own sorts them by name.
type orderedGroup struct {
	parquet.Group
	names []string
}

func (g *orderedGroup) add(name string, node parquet.Node) {
	if g.Group == nil {
		g.Group = make(parquet.Group)
	}
	g.Group[name] = node
	g.names = append(g.names, name)
}

// Fields returns the fields in the order of add.
func (g orderedGroup) Fields() []parquet.Field {
	fields := g.Group.Fields()
	slices.SortFunc(fields, func(a, b parquet.Field) int {
		return slices.Index(g.names, a.Name()) - slices.Index(g.names, b.Name())
	})
	return fields
}
