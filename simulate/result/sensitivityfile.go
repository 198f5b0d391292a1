package result

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"reflect"

	"github.com/parquet-go/parquet-go"
)

// SensitivityFile is the fourth file of a heat folder, there where
// Table.Sensitivity is set. It has a row for each pick of each site, sites in
// the order of SitesFile; a site may have none.
const SensitivityFile = "sensitivity.parquet"

// keySensitivity is the key of HeatFile's metadata for the checksum of
// SensitivityFile, keySteps that of its own metadata for the Steps.
const (
	keySensitivity = "stillrow.sensitivity_sha256"
	keySteps       = "stillrow.steps"
)

// sensitivityRows is the number of rows after which a row group is closed, at
// the end of a site; each row is some 400 bytes.
const sensitivityRows = 1 << 13

// A sensitivityColumn is one float32 column of SensitivityFile; the columns
// that say which row it is are those of HeatFile.
type sensitivityColumn struct {
	name, meaning string
	at            func(*Sensitivity) *float32
}

func sensitivityColumns() (list []sensitivityColumn) {
	for p := range Params {
		for _, side := range []struct {
			name string
			by   float64
			of   func(*Sensitivity) *[Params][12]float32
		}{
			{"low", -Steps[p], func(s *Sensitivity) *[Params][12]float32 { return &s.Low }},
			{"high", Steps[p], func(s *Sensitivity) *[Params][12]float32 { return &s.High }},
		} {
			for m := range 12 {
				list = append(list, sensitivityColumn{
					name:    fmt.Sprintf("%v_%s_%02d", p, side.name, m+1),
					meaning: fmt.Sprintf("heat of calendar month %d per m² of receiver with %s changed by %+g %%", m+1, paramMeanings[p], math.Round(side.by*1e4)/1e2),
					at:      func(s *Sensitivity) *float32 { return &side.of(s)[p][m] },
				})
			}
		}
	}
	return list
}

var paramMeanings = [Params]string{"the receiver's eta0b", "the receiver's c1", "the mirror's reflectance", "the irradiance (GHI, DNI and DHI)"}

func sensitivitySchema(columns []sensitivityColumn) *parquet.Schema {
	var fields []reflect.StructField
	for i, c := range heatColumns(false)[:heatKeys] {
		fields = append(fields, field(i, c.name+c.tag, c.typ))
	}
	for i, c := range columns {
		fields = append(fields, field(heatKeys+i, c.name, reflect.TypeFor[float32]()))
	}
	return schemaOf("sensitivity", fields)
}

// stepsText is Steps as the file's metadata hold them.
func stepsText() (string, error) {
	steps := make(map[string]float64)
	for p := range Params {
		steps[p.String()] = Steps[p]
	}
	text, err := json.Marshal(steps)
	return string(text), err
}

// A sensitivityWriter writes SensitivityFile.
type sensitivityWriter struct {
	*parquetFile
	table   *Table
	columns []sensitivityColumn
	values  []parquet.Value
	open    int // rows in the row group
}

func createSensitivity(path string, t *Table) (*sensitivityWriter, error) {
	w := &sensitivityWriter{table: t, columns: sensitivityColumns()}
	var err error
	if w.parquetFile, err = createParquet(path, sensitivitySchema(w.columns)); err != nil {
		return nil, err
	}
	text, err := stepsText()
	if err != nil {
		w.out.Abort()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	w.w.SetKeyValueMetadata(keySteps, text)
	return w, nil
}

// check refuses picks that are not in the table or that come twice, and values
// that make no sense.
func (w *sensitivityWriter) check(b *Block) error {
	seen := make(map[Pick]bool, len(b.Sensitivities))
	for i := range b.Sensitivities {
		s := &b.Sensitivities[i]
		if err := s.in(w.table); err != nil {
			return fmt.Errorf("%s: site %s: %w", w.path, b.Site.ID, err)
		}
		if seen[s.Pick] {
			return fmt.Errorf("%s: site %s, design %d, outlet %g °C: picked twice", w.path, b.Site.ID, s.Design, w.table.Outlets[s.Outlet])
		}
		seen[s.Pick] = true
		for _, c := range w.columns {
			if v := *c.at(s); !(v >= 0 && v <= math.MaxFloat32) {
				return fmt.Errorf("%s: site %s, design %d, outlet %g °C: %s = %g, want a number from 0",
					w.path, b.Site.ID, s.Design, w.table.Outlets[s.Outlet], c.name, v)
			}
		}
	}
	return nil
}

// in says whether a table has the pick.
func (p Pick) in(t *Table) error {
	if p.Design < 0 || p.Design >= len(t.Designs) || p.Outlet < 0 || p.Outlet >= len(t.Outlets) {
		return fmt.Errorf("design %d at outlet %d picked, of %d designs and %d outlets", p.Design, p.Outlet, len(t.Designs), len(t.Outlets))
	}
	return nil
}

// append writes what check has passed.
func (w *sensitivityWriter) append(b *Block) error {
	id := parquet.ByteArrayValue([]byte(valid(b.Site.ID)))
	column := func(i int, of func(*Sensitivity) parquet.Value) error {
		w.values = w.values[:0]
		for k := range b.Sensitivities {
			w.values = append(w.values, of(&b.Sensitivities[k]))
		}
		if _, err := w.w.ColumnWriters()[i].WriteRowValues(w.values); err != nil {
			return fmt.Errorf("%s: site %s: %w", w.path, b.Site.ID, err)
		}
		return nil
	}
	if len(b.Sensitivities) == 0 {
		return nil
	}
	err := errors.Join(
		column(0, func(*Sensitivity) parquet.Value { return id }),
		column(1, func(s *Sensitivity) parquet.Value { return parquet.Int32Value(int32(s.Design)) }),
		column(2, func(s *Sensitivity) parquet.Value { return parquet.DoubleValue(w.table.Outlets[s.Outlet]) }),
	)
	for i, c := range w.columns {
		err = errors.Join(err, column(heatKeys+i, func(s *Sensitivity) parquet.Value { return parquet.FloatValue(*c.at(s)) }))
	}
	if err != nil {
		return err
	}
	if w.open += len(b.Sensitivities); w.open >= sensitivityRows {
		w.open = 0
		if err := w.w.Flush(); err != nil {
			return fmt.Errorf("%s: %w", w.path, err)
		}
	}
	return nil
}

// A sensitivityReader reads SensitivityFile, site by site.
type sensitivityReader struct {
	path    string
	file    *os.File
	p       *parquet.File
	columns []sensitivityColumn
	picks   []Pick // of every row
	rows    []int  // of each site
}

// openSensitivity opens the file at path whose checksum is sum and finds out
// which rows are whose.
func openSensitivity(path, sum string, t *Table, sites []Site) (r *sensitivityReader, err error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			file.Close()
		}
	}()
	h := sha256.New()
	if _, err := io.Copy(h, file); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if fmt.Sprintf("%x", h.Sum(nil)) != sum {
		return nil, fmt.Errorf("%s: not the file that %s was written with", path, HeatFile)
	}
	r = &sensitivityReader{path: path, file: file, columns: sensitivityColumns()}
	if r.p, err = footer(file, path); err != nil {
		return nil, err
	}
	if err := r.keys(t, sites); err != nil {
		return nil, err
	}
	return r, nil
}

// keys reads which site, design and outlet each row is of.
func (r *sensitivityReader) keys(t *Table, sites []Site) (err error) {
	defer damage(r.path, &err)
	text, _ := r.p.Lookup(keySteps)
	var steps, want map[string]float64
	now, err := stepsText()
	if err != nil {
		return err
	}
	if err := errors.Join(json.Unmarshal([]byte(text), &steps), json.Unmarshal([]byte(now), &want)); err != nil {
		return fmt.Errorf("%s: %s in its metadata: %w", r.path, keySteps, err)
	}
	if !maps.Equal(steps, want) {
		return fmt.Errorf("%s: simulated with inputs changed by %s, want %s: simulate again", r.path, text, now)
	}
	for _, c := range r.columns {
		if _, err := leaf(r.p, r.path, c.name, reflect.TypeFor[float32]()); err != nil {
			return err
		}
	}
	most := len(sites) * len(t.Designs) * len(t.Outlets)
	if rows := r.p.NumRows(); rows < 0 || rows > int64(most) {
		return fmt.Errorf("%s: %d rows, want at most %d: one for each of %d sites, %d designs and %d outlets",
			r.path, rows, most, len(sites), len(t.Designs), len(t.Outlets))
	}
	n := int(r.p.NumRows())
	var keys [heatKeys][]parquet.Value
	for i, c := range heatColumns(false)[:heatKeys] {
		at, err := leaf(r.p, r.path, c.name, c.typ)
		if err != nil {
			return err
		}
		keys[i] = make([]parquet.Value, n)
		if err := readAll(r.p, at, keys[i]); err != nil {
			return fmt.Errorf("%s: %s: %w", r.path, c.name, err)
		}
	}
	r.rows, r.picks = make([]int, len(sites)), make([]Pick, n)
	outlets := make(map[float64]int, len(t.Outlets))
	for o, c := range t.Outlets {
		outlets[c] = o
	}
	site := 0
	for i := range n {
		id := string(keys[0][i].ByteArray())
		for site < len(sites) && sites[site].ID != id {
			site++
		}
		if site == len(sites) {
			return fmt.Errorf("%s: row %d: site_id = %s, out of the order of %s", r.path, i+1, id, SitesFile)
		}
		outlet, ok := outlets[keys[2][i].Double()]
		if !ok {
			return fmt.Errorf("%s: row %d: outlet_c = %v, not an outlet of %s", r.path, i+1, keys[2][i], HeatFile)
		}
		r.picks[i] = Pick{int(keys[1][i].Int32()), outlet}
		if err := r.picks[i].in(t); err != nil {
			return fmt.Errorf("%s: row %d: %w", r.path, i+1, err)
		}
		r.rows[site]++
	}
	return nil
}

// readAll reads a column of a file.
func readAll(p *parquet.File, column int, dst []parquet.Value) error {
	c := cursor{groups: p.RowGroups(), column: column}
	defer c.close()
	if err := c.read(dst); err != nil {
		return err
	}
	for i := range dst { // the last page is given back
		dst[i] = dst[i].Clone()
	}
	return nil
}

// each gives a function that returns the sensitivities of the next site, nil
// for none, and one that ends the reading. What it returns is overwritten by
// the next call.
func (r *sensitivityReader) each() (next func(site int) ([]Sensitivity, error), end func()) {
	cursors := make([]cursor, len(r.columns))
	for i, c := range r.columns {
		at, _ := r.p.Schema().Lookup(c.name) // keys has seen it
		cursors[i] = cursor{groups: r.p.RowGroups(), column: at.ColumnIndex}
	}
	var list []Sensitivity
	var floats []float32
	var scratch []parquet.Value
	row := 0
	next = func(site int) (of []Sensitivity, err error) {
		defer damage(r.path, &err)
		n := r.rows[site]
		if n == 0 {
			return nil, nil
		}
		if n > len(list) {
			list, floats, scratch = make([]Sensitivity, n), make([]float32, n), make([]parquet.Value, n)
		}
		for i := range n {
			list[i].Pick = r.picks[row+i]
		}
		for i, c := range r.columns {
			if err := cursors[i].readFloats(floats[:n], scratch); err != nil {
				return nil, fmt.Errorf("%s: row %d: %s: %w", r.path, row+1, c.name, err)
			}
			for k, v := range floats[:n] {
				if v != v {
					return nil, fmt.Errorf("%s: row %d: %s is missing", r.path, row+k+1, c.name)
				}
				*c.at(&list[k]) = v
			}
		}
		row += n
		return list[:n:n], nil
	}
	end = func() {
		for i := range cursors {
			cursors[i].close()
		}
	}
	return next, end
}
