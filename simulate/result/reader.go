package result

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"

	"github.com/parquet-go/parquet-go"
)

// A Reader reads the heat table of a folder.
type Reader struct {
	table Table
	sites []Site
	path  string // of HeatFile
	file  *os.File
	heat  *parquet.File
	sens  *sensitivityReader // nil for a table without
}

// Weather is the digest of the weather table that the heat is of, as its Writer
// was told; empty for none.
func (r *Reader) Weather() string {
	digest, _ := r.heat.Lookup(keyWeather)
	return digest
}

// Open opens the heat table in folder dir and reads its designs and sites. It
// refuses files that do not belong together. Columns it does not know are
// passed over.
func Open(dir string) (*Reader, error) {
	r := &Reader{path: filepath.Join(dir, HeatFile)}
	var err error
	if r.file, r.heat, err = openParquet(r.path); err != nil {
		return nil, err
	}
	if err := r.open(dir); err != nil {
		r.Close()
		return nil, err
	}
	return r, nil
}

func (r *Reader) open(dir string) (err error) {
	defer damage(r.path, &err)
	for _, s := range StressColumns {
		if _, ok := r.heat.Schema().Lookup(s.Name); ok {
			r.table.Stress = true // and the others have to be there, too
		}
	}
	for _, c := range heatColumns(r.table.Stress) {
		if _, err := leaf(r.heat, r.path, c.name, c.typ); err != nil {
			return err
		}
	}
	text, ok := r.heat.Lookup(keyOutlets)
	if !ok {
		return fmt.Errorf("%s: no %s in its metadata: not a heat table", r.path, keyOutlets)
	}
	if err := json.Unmarshal([]byte(text), &r.table.Outlets); err != nil {
		return fmt.Errorf("%s: %s: %w", r.path, keyOutlets, err)
	}
	designs, err := readCells(filepath.Join(dir, DesignsFile), designColumns, r.heat, keyDesigns)
	if err != nil {
		return err
	}
	for i, d := range designs {
		if d.ID != i {
			return fmt.Errorf("%s: row %d: design_id = %d, want %d", filepath.Join(dir, DesignsFile), i+1, d.ID, i)
		}
		r.table.Designs = append(r.table.Designs, d.Design)
	}
	if r.sites, err = readCells(filepath.Join(dir, SitesFile), siteColumns(), r.heat, keySites); err != nil {
		return err
	}
	if want := int64(len(r.sites)) * int64(len(r.table.Designs)) * int64(len(r.table.Outlets)); r.heat.NumRows() != want {
		return fmt.Errorf("%s: %d rows, want %d: %d sites × %d designs × %d outlet temperatures",
			r.path, r.heat.NumRows(), want, len(r.sites), len(r.table.Designs), len(r.table.Outlets))
	}
	sum, ok := r.heat.Lookup(keySensitivity)
	if r.table.Sensitivity = ok; !ok {
		return nil
	}
	r.sens, err = openSensitivity(filepath.Join(dir, SensitivityFile), sum, &r.table, r.sites)
	return err
}

// Table says what the blocks hold.
func (r *Reader) Table() Table { return r.table }

// Sites lists the sites in file order.
func (r *Reader) Sites() []Site { return r.sites }

// Close closes the files of the blocks.
func (r *Reader) Close() error {
	err := r.file.Close()
	if r.sens != nil {
		err = errors.Join(err, r.sens.file.Close())
	}
	return err
}

// Blocks walks the sites in file order, holding a page of each column and one
// block in memory. The *Block is overwritten by the next step: copy it,
// together with its Heat, Stress and Sensitivities, to keep it. An error comes last, with a nil block;
// the end of ctx is such an error.
func (r *Reader) Blocks(ctx context.Context) iter.Seq2[*Block, error] {
	return func(yield func(*Block, error) bool) {
		columns := heatColumns(r.table.Stress)
		cursors := make([]cursor, len(columns))
		for i, c := range columns {
			at, _ := r.heat.Schema().Lookup(c.name) // Open has seen it
			cursors[i] = cursor{groups: r.heat.RowGroups(), column: at.ColumnIndex}
			defer cursors[i].close()
		}
		nd := len(r.table.Designs)
		n := nd * len(r.table.Outlets)
		b := &Block{Heat: make([]float32, 12*n)}
		if r.table.Stress {
			b.Stress = make([]float32, n*Stresses)
		}
		sensitivities := func(int) ([]Sensitivity, error) { return nil, nil }
		if r.sens != nil {
			var end func()
			sensitivities, end = r.sens.each()
			defer end()
		}
		values, floats := make([]parquet.Value, n), make([]float32, n)
		step := func(s int) (err error) {
			defer damage(r.path, &err)
			if err := ctx.Err(); err != nil {
				return err
			}
			b.Site = r.sites[s]
			for ci, c := range columns {
				if c.values != nil {
					if err := cursors[ci].readFloats(floats, values); err != nil {
						return fmt.Errorf("%s: site %s: %s: %w", r.path, b.Site.ID, c.name, err)
					}
					to := c.values(b)
					for i, v := range floats {
						if v != v && !c.null {
							return fmt.Errorf("%s: row %d: %s is missing", r.path, s*n+i+1, c.name)
						}
						to[i*c.stride] = v
					}
					continue
				}
				if err := cursors[ci].read(values); err != nil {
					return fmt.Errorf("%s: site %s: %s: %w", r.path, b.Site.ID, c.name, err)
				}
				for i, v := range values {
					ok := false
					switch ci {
					case 0:
						ok = string(v.ByteArray()) == b.Site.ID
					case 1:
						ok = int(v.Int32()) == i%nd
					case 2:
						ok = v.Double() == r.table.Outlets[i/nd]
					}
					if !ok {
						return fmt.Errorf("%s: row %d: %s = %v, out of the order of %s and %s", r.path, s*n+i+1, c.name, v, SitesFile, DesignsFile)
					}
				}
			}
			b.Sensitivities, err = sensitivities(s)
			return err
		}
		for s := range r.sites {
			if err := step(s); err != nil {
				yield(nil, err)
				return
			}
			if !yield(b, nil) {
				return
			}
		}
	}
}
