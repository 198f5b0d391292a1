package result

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/google/go-cmp/cmp"
)

// picked adds sensitivities to what made made: none at every third site, at the
// others more and more of them, each value naming its place.
func picked(table Table, blocks []Block) (Table, []Block) {
	table.Sensitivity = true
	for s := range blocks {
		if s%3 == 0 {
			continue
		}
		for i := range min(s, len(table.Designs)*len(table.Outlets)) {
			k := Sensitivity{Pick: Pick{Design: len(table.Designs) - 1 - i%len(table.Designs), Outlet: i / len(table.Designs)}}
			for p := range Params {
				for m := range 12 {
					k.Low[p][m] = float32(s*10000 + i*1000 + int(p)*100 + m)
					k.High[p][m] = k.Low[p][m] + .5
				}
			}
			blocks[s].Sensitivities = append(blocks[s].Sensitivities, k)
		}
	}
	return table, blocks
}

// readPicked is read with the sensitivities kept.
func readPicked(dir string) (Table, []Block, error) {
	r, err := Open(dir)
	if err != nil {
		return Table{}, nil, err
	}
	defer r.Close()
	var list []Block
	for b, err := range r.Blocks(context.Background()) {
		if err != nil {
			return r.Table(), list, err
		}
		list = append(list, Block{Site: b.Site, Heat: slices.Clone(b.Heat), Stress: slices.Clone(b.Stress), Sensitivities: slices.Clone(b.Sensitivities)})
	}
	return r.Table(), list, nil
}

func TestSensitivitiesAreRead(t *testing.T) {
	for _, tt := range []struct {
		sites, designs, outlets int
		stress                  bool
	}{
		{0, 1, 1, false}, {1, 1, 1, true}, // a file without a row
		{7, 5, 3, true},
		{300, 30, 2, false}, // several row groups
	} {
		t.Run(fmt.Sprint(tt), func(t *testing.T) {
			dir := t.TempDir()
			table, blocks := made(tt.sites, tt.designs, []float64{35, 45.5, 60}[:tt.outlets]...)
			if tt.stress {
				table, blocks = strained(table, blocks)
			}
			table, blocks = picked(table, blocks)
			write(t, dir, table, blocks)
			gotTable, got, err := readPicked(dir)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(table, gotTable); d != "" {
				t.Errorf("table, -written +read:\n%s", d)
			}
			if len(got) != len(blocks) {
				t.Fatalf("%d blocks, want %d", len(got), len(blocks))
			}
			for i := range got {
				if !slices.Equal(got[i].Sensitivities, blocks[i].Sensitivities) {
					t.Fatalf("site %d: read %v, written %v", i, got[i].Sensitivities, blocks[i].Sensitivities)
				}
				got[i].Sensitivities, blocks[i].Sensitivities = nil, nil
			}
			if d := cmp.Diff(blocks, got, sameFloats); d != "" {
				t.Errorf("blocks, -written +read:\n%.2000s", d)
			}
		})
	}
}

// The Parquet reader of Apache Arrow, which shares no code with the writer,
// finds every column that is described, and the same numbers in it.
func TestArrowReadsSensitivities(t *testing.T) {
	dir := t.TempDir()
	table, blocks := picked(made(40, 4, 35, 60))
	write(t, dir, table, blocks)
	f, err := file.OpenParquetFile(filepath.Join(dir, SensitivityFile), false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got, want := *f.MetaData().KeyValueMetadata().FindValue(keySteps), `{"c1":0.25,"eta0b":0.05,"irradiance":0.08,"reflectance":0.08}`; got != want {
		t.Errorf("steps %s, want %s", got, want)
	}
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	all, err := r.ReadTable(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	defer all.Release()
	var names []string
	for _, c := range table.Columns() {
		if c.File == SensitivityFile {
			names = append(names, c.Name)
		}
	}
	for i, f := range all.Schema().Fields() {
		if i >= len(names) || f.Name != names[i] {
			t.Fatalf("column %d is %s, described are %v", i, f.Name, names)
		}
	}
	if len(names) != 3+4*2*12 || names[3] != "eta0b_low_01" || names[len(names)-1] != "irradiance_high_12" {
		t.Errorf("%d columns %v", len(names), names)
	}
	var want []string
	for _, b := range blocks {
		for _, s := range b.Sensitivities {
			want = append(want, fmt.Sprintln(b.Site.ID, s.Design, table.Outlets[s.Outlet], s.Low[C1][2], s.High[Irradiance][11], s.Low[Reflectance][0]))
		}
	}
	rows := array.NewTableReader(all, 0)
	defer rows.Release()
	n := 0
	for rows.Next() {
		rec := rows.Record()
		column := func(name string) any { return rec.Column(rec.Schema().FieldIndices(name)[0]) }
		value := func(name string, i int) float32 { return column(name).(*array.Float32).Value(i) }
		for i := range int(rec.NumRows()) {
			got := fmt.Sprintln(column("site_id").(*array.String).Value(i), column("design_id").(*array.Int32).Value(i), column("outlet_c").(*array.Float64).Value(i),
				value("c1_low_03", i), value("irradiance_high_12", i), value("reflectance_low_01", i))
			if n >= len(want) || got != want[n] {
				t.Fatalf("row %d: %s", n, got)
			}
			n++
		}
	}
	if n != len(want) {
		t.Errorf("%d rows, want %d", n, len(want))
	}
}

func TestAppendRefusesSensitivities(t *testing.T) {
	for want, spoil := range map[string]func(*Block){
		"site S0001: design 3 at outlet 0 picked, of 3 designs and 2 outlets":     func(b *Block) { b.Sensitivities[0].Design = 3 },
		"site S0001: design 2 at outlet -1 picked":                                func(b *Block) { b.Sensitivities[0].Outlet = -1 },
		"site S0001, design 2, outlet 35 °C: picked twice":                        func(b *Block) { b.Sensitivities = append(b.Sensitivities, b.Sensitivities[0]) },
		"site S0001, design 2, outlet 35 °C: c1_high_12 = NaN, want a number":     func(b *Block) { b.Sensitivities[0].High[C1][11] = float32(math.NaN()) },
		"site S0001, design 2, outlet 35 °C: eta0b_low_01 = -1, want a number":    func(b *Block) { b.Sensitivities[0].Low[Eta0b][0] = -1 },
		"site S0001, design 2, outlet 35 °C: irradiance_low_02 = +Inf, want a nu": func(b *Block) { b.Sensitivities[0].Low[Irradiance][1] = float32(math.Inf(1)) },
	} {
		dir := t.TempDir()
		table, blocks := picked(made(3, 3, 35, 60))
		w, err := Create(dir, table)
		if err != nil {
			t.Fatal(err)
		}
		defer w.Abort()
		spoil(&blocks[1])
		if err := errors.Join(w.Append(&blocks[0]), w.Append(&blocks[2])); err != nil {
			t.Fatal(err)
		}
		if err := w.Append(&blocks[1]); err == nil || !strings.Contains(err.Error(), SensitivityFile+": "+want) {
			t.Errorf("error %v, want one naming the file and %q", err, want)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		_, got, err := readPicked(dir)
		if err != nil || len(got) != 2 || !slices.Equal(got[1].Sensitivities, blocks[2].Sensitivities) {
			t.Errorf("%s: what was good is lost: %v", want, err)
		}
	}
	table, blocks := picked(made(2, 3, 35))
	table.Sensitivity = false
	w, err := Create(t.TempDir(), table)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	if err := w.Append(&blocks[1]); err == nil || !strings.Contains(err.Error(), "heat.parquet: site S0001: 1 sensitivities in a table made without them") {
		t.Errorf("error %v, want a refusal", err)
	}
}

// A byte that changed, a file of another run, one that is missing or made with
// other steps: an error that names the file.
func TestDamagedSensitivities(t *testing.T) {
	dir := t.TempDir()
	table, blocks := picked(made(5, 2, 35))
	write(t, dir, table, blocks)
	path := filepath.Join(dir, SensitivityFile)
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	refused := func(name, want string) {
		t.Helper()
		if _, _, err := readPicked(dir); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: error %v, want one with %q", name, err, want)
		}
	}
	for at := 0; at < len(good); at += 997 {
		bad := slices.Clone(good)
		bad[at] ^= 0x10
		if err := os.WriteFile(path, bad, 0o644); err != nil {
			t.Fatal(err)
		}
		refused(fmt.Sprint("byte ", at), "sensitivity.parquet: not the file that heat.parquet was written with")
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	refused("missing", "sensitivity.parquet: no such file")

	was := Steps
	Steps[C1] = .1
	write(t, dir, table, blocks)
	Steps = was
	refused("other steps", `sensitivity.parquet: simulated with inputs changed by {"c1":0.1,`)
}

// A table without sensitivities speaks of none, and takes away the file of an
// older one.
func TestTableWithoutSensitivities(t *testing.T) {
	dir, plain := t.TempDir(), t.TempDir()
	table, blocks := picked(made(5, 2, 35))
	write(t, dir, table, blocks)
	table, blocks = made(5, 2, 35)
	write(t, dir, table, blocks)
	write(t, plain, table, blocks)
	if _, err := os.Stat(filepath.Join(dir, SensitivityFile)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the older file is there still: %v", err)
	}
	for _, name := range []string{HeatFile, DesignsFile, SitesFile} {
		a, errA := os.ReadFile(filepath.Join(dir, name))
		b, errB := os.ReadFile(filepath.Join(plain, name))
		if err := errors.Join(errA, errB); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a, b) || bytes.Contains(a, []byte("sensitivity")) {
			t.Errorf("%s differs, or speaks of sensitivities", name)
		}
	}
	for _, c := range table.Columns() {
		if c.File == SensitivityFile {
			t.Errorf("describes %v", c)
		}
	}
	_, got, err := readPicked(dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(blocks, got, sameFloats); d != "" {
		t.Errorf("-written +read:\n%.1000s", d)
	}
}

// Whatever stands in the file, with the checksum it has: an error that names it,
// or sensitivities of designs and outlets that are there.
func FuzzSensitivityFile(f *testing.F) {
	dir := f.TempDir()
	table, blocks := picked(made(3, 2, 35))
	w, err := Create(dir, table)
	if err != nil {
		f.Fatal(err)
	}
	var sites []Site
	for i := range blocks {
		if err := w.Append(&blocks[i]); err != nil {
			f.Fatal(err)
		}
		sites = append(sites, blocks[i].Site)
	}
	if err := w.Close(); err != nil {
		f.Fatal(err)
	}
	seed, err := os.ReadFile(filepath.Join(dir, SensitivityFile))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(seed)
	f.Add(seed[:len(seed)/2])
	f.Add([]byte("PAR1PAR1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(t.TempDir(), SensitivityFile)
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		r, err := openSensitivity(path, fmt.Sprintf("%x", sha256.Sum256(data)), &table, sites)
		if err == nil {
			defer r.file.Close()
			next, end := r.each()
			defer end()
			for s := range sites {
				var list []Sensitivity
				if list, err = next(s); err != nil {
					break
				}
				for _, k := range list {
					if k.Pick.in(&table) != nil {
						t.Errorf("site %d: %v", s, k.Pick)
					}
				}
			}
		}
		if err != nil && !strings.Contains(err.Error(), SensitivityFile) {
			t.Errorf("error %v does not name the file", err)
		}
	})
}
