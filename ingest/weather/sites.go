package weather

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// stampKey names the metadata of both files that says which site table they
// belong to.
const stampKey = "stillrow.sites"

// sitesStamp is the SHA-256 of all values of the site table, each after its
// length.
func sitesStamp(sites []Site, columns []siteColumn) string {
	h := sha256.New()
	var b []byte
	for i := range sites {
		for _, c := range columns {
			v := siteValue(c.of(&sites[i])).Bytes()
			b = binary.LittleEndian.AppendUint64(b[:0], uint64(len(v)))
			h.Write(append(b, v...))
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// writeSites writes the site table: small, so rows and plain encoding do.
func writeSites(out io.Writer, sites []Site, columns []siteColumn, stamp string) error {
	g := orderedGroup{}
	for _, c := range columns {
		switch c.of(new(Site)).(type) {
		case *string, *[]string:
			g.add(c.Name, parquet.String())
		case *int:
			g.add(c.Name, parquet.Leaf(parquet.Int32Type))
		case *float64:
			g.add(c.Name, parquet.Leaf(parquet.DoubleType))
		}
	}
	w := parquet.NewGenericWriter[any](out, append(fileOptions(), parquet.NewSchema("weather_sites", g))...)
	w.SetKeyValueMetadata(stampKey, stamp)
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

// readSites reads the site table at path and checks it as Append does. The
// stamp is empty where another writer left none.
func readSites(path string) (sites []Site, stamp string, err error) {
	defer recoverDamage(path, &err)
	f, err := openParquet(path)
	if err != nil {
		return nil, "", err
	}
	defer f.Close()
	columns := siteColumns()
	for i, c := range columns {
		column, err := f.column(c.Name, siteKinds(c)...)
		if err != nil {
			return nil, "", err
		}
		n := 0
		err = f.values(column, func(v parquet.Value) error {
			if i == 0 { // the first column says how many sites there are
				sites = append(sites, Site{})
			}
			if n++; n > len(sites) {
				return errors.New("more values than site_id has")
			}
			return setSiteField(c.of(&sites[n-1]), v)
		})
		if err == nil && n < len(sites) {
			err = fmt.Errorf("%d values, site_id has %d", n, len(sites))
		}
		if err != nil {
			return nil, "", fmt.Errorf("%s: column %s: %w", path, c.Name, err)
		}
	}
	ids := make(map[string]int, len(sites))
	for i := range sites {
		if err := checkSite(&sites[i], columns); err != nil {
			return nil, "", fmt.Errorf("%s: row %d: site %q: %w", path, i, sites[i].ID, err)
		}
		if first, ok := ids[sites[i].ID]; ok {
			return nil, "", fmt.Errorf("%s: row %d: site_id %q is in row %d already", path, i, sites[i].ID, first)
		}
		ids[sites[i].ID] = i
	}
	stamp, _ = f.pq.Lookup(stampKey)
	return sites, stamp, nil
}

// siteKinds gives the Parquet types a column may have; other writers widen or
// narrow numbers.
func siteKinds(c siteColumn) []parquet.Kind {
	switch c.of(new(Site)).(type) {
	case *int:
		return []parquet.Kind{parquet.Int32, parquet.Int64}
	case *float64:
		return []parquet.Kind{parquet.Double, parquet.Float}
	default:
		return []parquet.Kind{parquet.ByteArray}
	}
}

func setSiteField(field any, v parquet.Value) error {
	if v.IsNull() {
		return errors.New("a value is null")
	}
	switch f := field.(type) {
	case *string:
		*f = string(v.ByteArray())
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
		if s := string(v.ByteArray()); s != "" {
			*f = strings.Split(s, flagSeparator)
		}
	}
	return nil
}
