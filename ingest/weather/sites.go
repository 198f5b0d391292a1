package weather

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// sitesGroup is the number of sites in a row group of the site table: a look-up
// reads one of them and the identifiers or places of all.
const sitesGroup = 1024

// writeSites writes the site table.
func writeSites(out io.Writer, sites []entry, columns []siteColumn, fingerprint string) error {
	w := parquet.NewGenericWriter[any](out, append(fileOptions(), sitesSchema(columns), parquet.MaxRowsPerRowGroup(sitesGroup))...)
	if fingerprint != "" {
		w.SetKeyValueMetadata("stillrow.fingerprint", fingerprint)
	}
	row := make(parquet.Row, len(columns))
	for i := range sites {
		for c := range columns {
			row[c] = siteValue(columns[c].of(&sites[i])).Level(0, 0, c)
		}
		if _, err := w.WriteRows([]parquet.Row{row}); err != nil {
			return fmt.Errorf("site %q: %w", sites[i].ID, err)
		}
	}
	return w.Close()
}

func siteValue(field any) parquet.Value {
	switch v := field.(type) {
	case *string:
		return parquet.ByteArrayValue([]byte(*v))
	case *int:
		return parquet.Int32Value(int32(*v))
	case *float64:
		return parquet.DoubleValue(*v)
	default:
		return parquet.ByteArrayValue([]byte(strings.Join(*field.(*[]string), flagSeparator)))
	}
}

// A sitesReader is an open site table.
type sitesReader struct {
	*parquetFile
	columns []siteColumn
	at      []int // of each column in the file
	texts   map[string]string
	flags   map[string][]string
}

// openSites opens the site table in dir.
func openSites(dir string) (*sitesReader, error) {
	f, err := openParquet(filepath.Join(dir, sitesFile), aheadOne)
	if err != nil {
		return nil, err
	}
	r := &sitesReader{f, siteColumns(), nil, make(map[string]string), make(map[string][]string)}
	for _, c := range r.columns {
		at, err := f.column(c.Name, siteKinds(c)...)
		if err != nil {
			f.Close()
			if _, ok := f.pq.Schema().Lookup(c.Name); !ok && (c.Name == "hours_file" || c.Name == "hours_site") {
				err = fmt.Errorf("%w: a table of an older layout, ingest again into a new folder", err)
			}
			return nil, err
		}
		r.at = append(r.at, at)
	}
	return r, nil
}

// read returns the sites of the row groups from first to before end.
func (r *sitesReader) read(first, end int) (sites []entry, err error) {
	for i, c := range r.columns {
		n := 0
		err := r.values(r.at[i], first, end, func(v parquet.Value) error {
			if i == 0 { // the first column says how many sites there are
				sites = append(sites, entry{})
			}
			if n++; n > len(sites) {
				return errors.New("more values than site_id has")
			}
			return r.set(c.of(&sites[n-1]), v)
		})
		if err == nil && n < len(sites) {
			err = fmt.Errorf("%d values, site_id has %d", n, len(sites))
		}
		if err != nil {
			return nil, fmt.Errorf("%s: column %s: %w", r.path, c.Name, err)
		}
	}
	return sites, nil
}

// check checks row i as Append does a site, and where it says its hours are.
func (r *sitesReader) check(i int, e *entry) error {
	err := checkSite(e, r.columns)
	switch ok, _ := path.Match(partPattern, e.part); {
	case err != nil:
	case !ok || filepath.Base(e.part) != e.part:
		err = fmt.Errorf("hours_file: %q is no name of a file %s", e.part, partPattern)
	case e.place < 0:
		err = fmt.Errorf("hours_site: %d is negative", e.place)
	}
	if err != nil {
		return fmt.Errorf("%s: row %d: site %q: %w", r.path, i, e.ID, err)
	}
	return nil
}

// readSites reads the whole site table in dir, which info describes.
func readSites(dir string) (sites []entry, info os.FileInfo, err error) {
	path := filepath.Join(dir, sitesFile)
	defer recoverDamage(path, &err)
	r, err := openSites(dir)
	if err != nil {
		return nil, nil, err
	}
	defer r.Close()
	if info, err = r.Stat(); err != nil {
		return nil, nil, err
	}
	if sites, err = r.read(0, len(r.pq.RowGroups())); err != nil {
		return nil, nil, err
	}
	type hours struct {
		part  string
		place int
	}
	ids, places := make(map[string]int, len(sites)), make(map[hours]int, len(sites))
	for i := range sites {
		s := &sites[i]
		if err := r.check(i, s); err != nil {
			return nil, nil, err
		}
		if first, ok := ids[s.ID]; ok {
			return nil, nil, fmt.Errorf("%s: row %d: site_id %q is in row %d already", path, i, s.ID, first)
		}
		at := hours{s.part, s.place}
		if first, ok := places[at]; ok {
			return nil, nil, fmt.Errorf("%s: row %d: site %q: hours_site: %d of %s belongs to row %d already", path, i, s.ID, s.place, s.part, first)
		}
		ids[s.ID], places[at] = i, i
	}
	return sites, info, nil
}

// siteKinds gives the Parquet types a column may have; other writers widen or
// narrow numbers.
func siteKinds(c siteColumn) []parquet.Kind {
	switch c.of(new(entry)).(type) {
	case *int:
		return []parquet.Kind{parquet.Int32, parquet.Int64}
	case *float64:
		return []parquet.Kind{parquet.Double, parquet.Float}
	default:
		return []parquet.Kind{parquet.ByteArray}
	}
}

// set puts a value into a field.
func (r *sitesReader) set(field any, v parquet.Value) error {
	if v.IsNull() {
		return errors.New("a value is null")
	}
	switch f := field.(type) {
	case *string:
		*f = r.text(v.ByteArray())
	case *int:
		*f = int(v.Int64())
		if v.Kind() == parquet.Int32 {
			*f = int(v.Int32())
		}
	case *float64:
		*f = v.Double()
		if v.Kind() == parquet.Float {
			*f = float64(v.Float())
		}
	case *[]string:
		*f = r.split(v.ByteArray())
	}
	return nil
}

// internLimit bounds the texts kept to be shared: identifiers and names differ
// from row to row, country, source, kind and flags of a grid do not.
const internLimit = 1024

// text returns b as a string, shared with others that are equal.
func (r *sitesReader) text(b []byte) string {
	if s, ok := r.texts[string(b)]; ok {
		return s
	}
	s := string(b)
	if len(r.texts) == internLimit {
		clear(r.texts)
	}
	r.texts[s] = s
	return s
}

// split returns the flags joined in b, shared with others that are equal.
func (r *sitesReader) split(b []byte) []string {
	if len(b) == 0 {
		return nil
	}
	if s, ok := r.flags[string(b)]; ok {
		return s
	}
	s := strings.Split(string(b), flagSeparator)
	if len(r.flags) == internLimit {
		clear(r.flags)
	}
	r.flags[string(b)] = s
	return s
}
