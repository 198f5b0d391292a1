package result

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// groupRows is the number of rows after which a row group is closed, at the
// end of a site: enough for compression, little enough to hold in memory.
const groupRows = 1 << 16

// A Writer writes the heat table of one run to a folder. Nothing appears in it
// before Close; Abort, which may always be deferred, throws the rest away.
type Writer struct {
	Fingerprint string // of what made the table, for its metadata; empty for none
	Weather     string // digest of the weather table, likewise

	table   Table
	heat    *parquetFile
	sites   *parquetFile
	designs *parquetFile
	sens    *sensitivityWriter // nil unless Table.Sensitivity

	columns []heatColumn
	cells   []cell[Site]
	seen    map[string]bool
	values  []parquet.Value
	row     parquet.Row
	rows    int // in the open row group
}

// Create starts a heat table in folder dir, making the folder if need be. The
// Table must name at least one design and one outlet temperature.
func Create(dir string, t Table) (*Writer, error) {
	if len(t.Designs) == 0 || len(t.Outlets) == 0 {
		return nil, fmt.Errorf("heat table %s: %d designs and %d outlet temperatures, want at least one of each", dir, len(t.Designs), len(t.Outlets))
	}
	w := &Writer{table: t, columns: heatColumns(t.Stress), cells: siteColumns(), seen: make(map[string]bool)}
	var err error
	if w.designs, err = createParquet(filepath.Join(dir, DesignsFile), cellSchema("designs", designColumns)); err != nil {
		return nil, err
	}
	if w.sites, err = createParquet(filepath.Join(dir, SitesFile), cellSchema("sites", w.cells)); err != nil {
		w.Abort()
		return nil, err
	}
	if w.heat, err = createParquet(filepath.Join(dir, HeatFile), heatSchema(w.columns)); err != nil {
		w.Abort()
		return nil, err
	}
	if t.Sensitivity {
		if w.sens, err = createSensitivity(filepath.Join(dir, SensitivityFile), &w.table); err != nil {
			w.Abort()
			return nil, err
		}
	}
	for i, d := range t.Designs {
		n := numbered{i, d}
		if w.row, err = writeRow(w.designs, designColumns, &n, w.row); err != nil {
			w.Abort()
			return nil, err
		}
	}
	return w, nil
}

// Append adds one site. It refuses a site that is already there, a block that
// is not of the Table's size, and values that make no sense; what it refuses
// leaves no trace. The block is not kept.
func (w *Writer) Append(b *Block) error {
	nd := len(w.table.Designs)
	n := nd * len(w.table.Outlets)
	switch {
	case b.Site.ID == "":
		return fmt.Errorf("%s: a site without site_id", w.heat.path)
	case w.seen[b.Site.ID]:
		return fmt.Errorf("%s: site %s: site_id occurs twice", w.heat.path, b.Site.ID)
	case len(b.Heat) != 12*n:
		return fmt.Errorf("%s: site %s: %d months of heat, want %d: 12 for each of %d designs at %d outlet temperatures",
			w.heat.path, b.Site.ID, len(b.Heat), 12*n, nd, len(w.table.Outlets))
	}
	if want := n * Stresses; w.table.Stress && len(b.Stress) != want {
		return fmt.Errorf("%s: site %s: %d stresses, want %d", w.heat.path, b.Site.ID, len(b.Stress), want)
	}
	for _, f := range b.Site.Flags {
		if f == "" || strings.Contains(f, flagSeparator) {
			return fmt.Errorf("%s: site %s: flag %q is empty or has a %q in it", w.sites.path, b.Site.ID, f, flagSeparator)
		}
	}
	for _, c := range w.columns[heatKeys:] {
		from := c.values(b)
		for i := range n {
			v := from[i*c.stride]
			if !(v >= c.least && v <= math.MaxFloat32) && !(c.null && v != v) {
				return fmt.Errorf("%s: site %s, design %d, outlet %g °C: %s = %g, want a number from %g",
					w.heat.path, b.Site.ID, i%nd, w.table.Outlets[i/nd], c.name, v, c.least)
			}
		}
	}
	if w.sens != nil {
		if err := w.sens.check(b); err != nil {
			return err
		}
	} else if len(b.Sensitivities) > 0 {
		return fmt.Errorf("%s: site %s: %d sensitivities in a table made without them", w.heat.path, b.Site.ID, len(b.Sensitivities))
	}
	var err error
	if w.row, err = writeRow(w.sites, w.cells, &b.Site, w.row); err != nil {
		return err
	}
	id := parquet.ByteArrayValue([]byte(valid(b.Site.ID)))
	for ci, c := range w.columns {
		w.values = w.values[:0]
		switch ci {
		case 0:
			for range n {
				w.values = append(w.values, id)
			}
		case 1:
			for i := range n {
				w.values = append(w.values, parquet.Int32Value(int32(i%nd)))
			}
		case 2:
			for i := range n {
				w.values = append(w.values, parquet.DoubleValue(w.table.Outlets[i/nd]))
			}
		default:
			from := c.values(b)
			for i := range n {
				v := parquet.FloatValue(from[i*c.stride])
				if c.null && from[i*c.stride] != from[i*c.stride] {
					v = parquet.NullValue()
				} else if c.null {
					v = v.Level(0, 1, ci)
				}
				w.values = append(w.values, v)
			}
		}
		if _, err := w.heat.w.ColumnWriters()[ci].WriteRowValues(w.values); err != nil {
			return fmt.Errorf("%s: %s: %w", w.heat.path, c.name, err)
		}
	}
	if w.sens != nil {
		if err := w.sens.append(b); err != nil {
			return err
		}
	}
	w.seen[b.Site.ID] = true
	if w.rows += n; w.rows >= groupRows {
		w.rows = 0
		if err := w.heat.w.Flush(); err != nil {
			return fmt.Errorf("%s: %w", w.heat.path, err)
		}
	}
	return nil
}

// Close completes the files and gives them their names, HeatFile last. Where
// an older table stands in the folder, its HeatFile does not fit the new
// SitesFile for the moment between two renames; Open refuses such a pair. An
// older SensitivityFile that belongs to nothing any more is removed.
func (w *Writer) Close() error {
	defer w.Abort()
	outlets, err := json.Marshal(w.table.Outlets)
	if err != nil {
		return fmt.Errorf("%s: outlet_c: %w", w.heat.path, err)
	}
	beside := w.beside()
	for _, f := range beside {
		if err := f.finish(); err != nil {
			return err
		}
	}
	w.heat.w.SetKeyValueMetadata(keyOutlets, string(outlets))
	w.heat.w.SetKeyValueMetadata(keyDesigns, w.designs.sum())
	w.heat.w.SetKeyValueMetadata(keySites, w.sites.sum())
	if w.Fingerprint != "" {
		w.heat.w.SetKeyValueMetadata(KeyFingerprint, w.Fingerprint)
	}
	if w.Weather != "" {
		w.heat.w.SetKeyValueMetadata(keyWeather, w.Weather)
	}
	if w.sens != nil {
		w.heat.w.SetKeyValueMetadata(keySensitivity, w.sens.sum())
	}
	if err := w.heat.finish(); err != nil {
		return err
	}
	for _, f := range append(beside, w.heat) {
		if err := f.out.Commit(); err != nil {
			return err
		}
	}
	if w.sens == nil {
		old := filepath.Join(filepath.Dir(w.heat.path), SensitivityFile)
		if err := os.Remove(old); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("of an older heat table: %w", err)
		}
	}
	return nil
}

// Abort removes what Close has not completed.
func (w *Writer) Abort() {
	for _, f := range append(w.beside(), w.heat) {
		if f != nil {
			f.out.Abort()
		}
	}
}

// beside lists the files that HeatFile needs beside it.
func (w *Writer) beside() []*parquetFile {
	list := []*parquetFile{w.designs, w.sites}
	if w.sens != nil {
		list = append(list, w.sens.parquetFile)
	}
	return list
}
