package weather

import (
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"github.com/parquet-go/parquet-go"
)

// ErrNoSite means that a table has no such site.
var ErrNoSite = errors.New("no such site")

// Lookup returns the site of an identifier with its year, reading little more of
// the table in dir than the identifiers, one row group of the site table and one
// site's pages of hours. The error is ErrNoSite when the table has none.
func Lookup(dir, id string) (Site, *Year, error) {
	return lookup(dir, func(r *sitesReader) (int, error) {
		row, found := 0, -1
		err := r.each("site_id", func(v parquet.Value) {
			if found < 0 && string(v.ByteArray()) == id {
				found = row
			}
			row++
		})
		return found, err
	})
}

// Near returns the site nearest to a place in degrees, as Table.Nearest finds
// it, with its year and its distance in km. Like Lookup it reads little: of all
// sites the places alone. The error is ErrNoSite when the table is empty or the
// place no number.
func Near(dir string, lat, lon float64) (site Site, year *Year, km float64, err error) {
	km = math.Inf(1)
	site, year, err = lookup(dir, func(r *sitesReader) (int, error) {
		var lats []float64
		if err := r.each("lat", func(v parquet.Value) { lats = append(lats, number(v)) }); err != nil {
			return 0, err
		}
		row, found := 0, -1
		err := r.each("lon", func(v parquet.Value) {
			if row < len(lats) {
				if d := Distance(lat, lon, lats[row], number(v)); d < km {
					found, km = row, d
				}
			}
			row++
		})
		return found, err
	})
	return site, year, km, err
}

// Files returns the names of the files of the table in dir: the site table, then
// the parts in their order.
func Files(dir string) (names []string, err error) {
	path := filepath.Join(dir, sitesFile)
	defer recoverDamage(path, &err)
	r, err := openSites(dir)
	if err != nil {
		return nil, fmt.Errorf("weather table: %w", err)
	}
	defer r.Close()
	err = r.each("hours_file", func(v parquet.Value) { names = append(names, r.text(v.ByteArray())) })
	if err != nil {
		return nil, fmt.Errorf("weather table: %w", err)
	}
	slices.Sort(names)
	return append([]string{sitesFile}, slices.Compact(names)...), nil
}

// each calls use with every value of a column.
func (r *sitesReader) each(name string, use func(parquet.Value)) error {
	i := slices.IndexFunc(r.columns, func(c siteColumn) bool { return c.Name == name })
	err := r.values(r.at[i], 0, len(r.pq.RowGroups()), func(v parquet.Value) error {
		if v.IsNull() {
			return errors.New("a value is null")
		}
		use(v)
		return nil
	})
	if err != nil {
		return fmt.Errorf("%s: column %s: %w", r.path, name, err)
	}
	return nil
}

// lookup reads the site of the row that find gives, −1 for none.
func lookup(dir string, find func(*sitesReader) (row int, err error)) (site Site, year *Year, err error) {
	defer func() {
		if err != nil {
			site, year, err = Site{}, nil, fmt.Errorf("weather table: %w", err)
		}
	}()
	defer recoverDamage(filepath.Join(dir, sitesFile), &err)
	r, err := openSites(dir)
	if err != nil {
		return site, nil, err
	}
	defer r.Close()
	info, err := r.Stat()
	if err != nil {
		return site, nil, err
	}
	row, err := find(r)
	if err != nil {
		return site, nil, err
	}
	if row < 0 {
		return site, nil, ErrNoSite
	}
	e, err := r.row(row)
	if err != nil {
		return site, nil, err
	}
	p := part{name: e.part, sites: e.place + 1, ahead: aheadOne}
	if err := p.open(dir); err != nil {
		return site, nil, replaced(err, dir, info)
	}
	defer p.close()
	defer p.release()
	year = NewYear()
	return e.Site, year, p.read(e.ID, e.place, year)
}

// row reads one row and what of its row group lies with it.
func (r *sitesReader) row(row int) (*entry, error) {
	before := 0
	for g, group := range r.pq.RowGroups() {
		n := int(group.NumRows())
		if row >= before+n {
			before += n
			continue
		}
		sites, err := r.read(g, g+1)
		if err != nil {
			return nil, err
		}
		if row-before < len(sites) {
			e := &sites[row-before]
			return e, r.check(row, e)
		}
		break
	}
	return nil, fmt.Errorf("%s: row %d is missing", r.path, row)
}

func number(v parquet.Value) float64 {
	if v.Kind() == parquet.Float {
		return float64(v.Float())
	}
	return v.Double()
}
