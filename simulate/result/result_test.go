package result

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"
)

// made is a made-up table: heat that names its own place, so that a value in
// the wrong row or column shows.
func made(sites, designs int, outlets ...float64) (Table, []Block) {
	t := Table{Outlets: outlets}
	for d := range designs {
		t.Designs = append(t.Designs, Design{ReceiverWidth: 1, MirrorLength: float64(d), MirrorTilt: 60, RowPitch: float64(d%2) * 3})
	}
	var blocks []Block
	for s := range sites {
		b := Block{Site: Site{ID: fmt.Sprintf("S%04d", s), Name: "Göteborg, \"old\" town", Lat: -45.5, Lon: 179.25, Elevation: 12,
			UTCOffset: 12.75, Country: "XX", Source: "invented", Kind: "grid", CellDeg: 0.5, MissingHours: s, FilledHours: 2 * s, SplitModel: "none"}}
		for m := range 12 {
			b.Site.Year[m], b.Site.ClockMin[m] = 2001+m, 15*m-60
			b.Site.HDD[m], b.Site.CDD[m] = float64(m)+0.25, float64(12-m)
		}
		b.Site.Flags = [][]string{nil, {"clock_unproven"}, {"wind_constant", "snow_rejected"}}[s%3]
		for i := range len(outlets) * designs * 12 {
			b.Heat = append(b.Heat, float32(s*100000+i)/8)
		}
		blocks = append(blocks, b)
	}
	return t, blocks
}

// strained adds stresses to what made made; the first heater throws no glare.
func strained(table Table, blocks []Block) (Table, []Block) {
	table.Stress = true
	for s := range blocks {
		b := &blocks[s]
		for i := range len(table.Outlets) * len(table.Designs) * Stresses {
			b.Stress = append(b.Stress, float32(s*1000+i)/4)
		}
		b.Stress[GlareAzimuth] = float32(math.NaN())
		b.Stress[DryStagnation] = -3.5
	}
	return table, blocks
}

// sameFloats takes a NaN for the same as a NaN. It compares whole slices, which
// cmp is slow at.
var sameFloats = cmp.Comparer(func(a, b []float32) bool {
	return slices.EqualFunc(a, b, func(a, b float32) bool { return a == b || a != a && b != b })
})

func write(t *testing.T, dir string, table Table, blocks []Block) {
	t.Helper()
	w, err := Create(dir, table)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i := range blocks {
		if err := w.Append(&blocks[i]); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func read(dir string) (Table, []Block, error) {
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
		list = append(list, Block{Site: b.Site, Heat: slices.Clone(b.Heat), Stress: slices.Clone(b.Stress)})
	}
	return r.Table(), list, nil
}

func TestWhatIsWrittenIsRead(t *testing.T) {
	for _, tt := range []struct {
		sites, designs, outlets int
		stress                  bool
	}{
		{0, 1, 1, false}, {1, 1, 1, false}, {7, 5, 3, false}, {7, 5, 3, true},
		{40, 1500, 2, false}, // several row groups
	} {
		t.Run(fmt.Sprint(tt), func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "heat")
			table, blocks := made(tt.sites, tt.designs, []float64{35, 45.5, 60}[:tt.outlets]...)
			if tt.stress {
				table, blocks = strained(table, blocks)
			}
			write(t, dir, table, blocks)
			gotTable, got, err := read(dir)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(table, gotTable); d != "" {
				t.Errorf("table, -written +read:\n%s", d)
			}
			if d := cmp.Diff(blocks, got, sameFloats); d != "" {
				t.Errorf("blocks, -written +read:\n%.2000s", d)
			}
		})
	}
}

// The columns are read here through parquet-go's struct reader, which knows
// nothing of this package.
func TestColumnsAsTheContractNamesThem(t *testing.T) {
	dir := t.TempDir()
	table, blocks := strained(made(2, 3, 35, 60))
	write(t, dir, table, blocks)
	heat, err := parquet.ReadFile[struct {
		Site    string   `parquet:"site_id"`
		Design  int32    `parquet:"design_id"`
		Outlet  float64  `parquet:"outlet_c"`
		Month01 float32  `parquet:"month_01"`
		Month12 float32  `parquet:"month_12"`
		Dry     float32  `parquet:"dry_stagnation_c"`
		Glare   *float32 `parquet:"glare_azimuth_deg"`
	}](filepath.Join(dir, HeatFile))
	if err != nil {
		t.Fatal(err)
	}
	if len(heat) != 2*2*3 {
		t.Fatalf("%d rows, want 12", len(heat))
	}
	if r, m := heat[1*6+1*3+2], blocks[1].Months(&table, 1, 2); r.Site != "S0001" || r.Design != 2 || r.Outlet != 60 || r.Month01 != m[0] || r.Month12 != m[11] {
		t.Errorf("row of site 1, outlet 1, design 2: %+v, want months %v", r, m)
	}
	if heat[0].Dry != -3.5 || heat[0].Glare != nil || heat[1].Glare == nil || *heat[1].Glare != blocks[0].Strain(&table, 0, 1, GlareAzimuth) {
		t.Errorf("stresses of rows 0 and 1: %+v %+v, want no glare, then some", heat[0], heat[1])
	}
	sites, err := parquet.ReadFile[struct {
		ID    string  `parquet:"site_id"`
		Lat   float64 `parquet:"lat"`
		Cell  float64 `parquet:"cell_deg"`
		Year  int32   `parquet:"year_03"`
		Clock int32   `parquet:"clock_min_12"`
		HDD   float64 `parquet:"hdd_02"`
		CDD   float64 `parquet:"cdd_02"`
		Flags string  `parquet:"flags"`
	}](filepath.Join(dir, SitesFile))
	if err != nil {
		t.Fatal(err)
	}
	if s := sites[1]; s.ID != "S0001" || s.Lat != -45.5 || s.Cell != 0.5 || s.Year != 2003 || s.Clock != 105 || s.HDD != 1.25 || s.CDD != 11 || s.Flags != "clock_unproven" {
		t.Errorf("site 1: %+v", s)
	}
	designs, err := parquet.ReadFile[struct {
		ID    int32    `parquet:"design_id"`
		Tilt  float64  `parquet:"mirror_tilt_deg"`
		Pitch *float64 `parquet:"row_pitch_m"`
	}](filepath.Join(dir, DesignsFile))
	if err != nil {
		t.Fatal(err)
	}
	if designs[0].Pitch != nil || designs[1].Pitch == nil || *designs[1].Pitch != 3 || designs[1].ID != 1 || designs[1].Tilt != 60 {
		t.Errorf("designs 0 and 1: %+v %+v, want a null and a pitch of 3", designs[0], designs[1])
	}
	for _, c := range table.Columns() {
		f, p, err := openParquet(filepath.Join(dir, c.File))
		if err != nil {
			t.Fatal(err)
		}
		f.Close()
		if !slices.ContainsFunc(p.Schema().Fields(), func(f parquet.Field) bool { return f.Name() == c.Name }) || c.Meaning == "" {
			t.Errorf("%s: column %q is described (%q) but not there", c.File, c.Name, c.Meaning)
		}
	}
}

func TestSameBytes(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	table, blocks := made(50, 700, 35, 60)
	write(t, a, table, blocks)
	write(t, b, table, blocks)
	for _, name := range []string{HeatFile, DesignsFile, SitesFile} {
		x, errX := os.ReadFile(filepath.Join(a, name))
		y, errY := os.ReadFile(filepath.Join(b, name))
		if err := errors.Join(errX, errY); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(x, y) {
			t.Errorf("%s: two runs differ", name)
		}
	}
}

func TestAppendRefuses(t *testing.T) {
	for _, tt := range []struct {
		name, want string
		spoil      func(*Block)
	}{
		{"a site twice", "S0000: site_id occurs twice", func(b *Block) { b.Site.ID = "S0000" }},
		{"no name", "without site_id", func(b *Block) { b.Site.ID = "" }},
		{"a block too short", "site S0001: 60 months of heat, want 72", func(b *Block) { b.Heat = b.Heat[:60] }},
		{"not a number", "site S0001, design 1, outlet 60 °C: month_02 = NaN", func(b *Block) { b.Heat[12*4+1] = float32(math.NaN()) }},
		{"negative", "site S0001, design 0, outlet 35 °C: month_12 = -1", func(b *Block) { b.Heat[11] = -1 }},
		{"a stress too few", "site S0001: 101 stresses, want 102", func(b *Block) { b.Stress = b.Stress[1:] }},
		{"a stress that is not a number", "uv_black_kwh_m2 = NaN", func(b *Block) { b.Stress[UVBlack] = float32(math.NaN()) }},
		{"below absolute zero", "dry_stagnation_c = -300", func(b *Block) { b.Stress[DryStagnation] = -300 }},
		{"two flags in one", `flag "a;b" is empty or has a ";" in it`, func(b *Block) { b.Site.Flags = []string{"a;b"} }},
		{"infinite", "month_01 = +Inf", func(b *Block) { b.Heat[0] = float32(math.Inf(1)) }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			table, blocks := strained(made(3, 3, 35, 60))
			w, err := Create(dir, table)
			if err != nil {
				t.Fatal(err)
			}
			defer w.Abort()
			if err := w.Append(&blocks[0]); err != nil {
				t.Fatal(err)
			}
			tt.spoil(&blocks[1])
			if err := w.Append(&blocks[1]); err == nil || !strings.Contains(err.Error(), tt.want) || !strings.Contains(err.Error(), ".parquet: ") {
				t.Fatalf("error %v, want one naming a file and %q", err, tt.want)
			}
			// What was good is not lost: the next site goes in, and the refused one left no trace.
			if err := w.Append(&blocks[2]); err != nil {
				t.Fatal(err)
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
			_, got, err := read(dir)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff([]Block{blocks[0], blocks[2]}, got, sameFloats); d != "" {
				t.Errorf("-written +read:\n%.1000s", d)
			}
		})
	}
}

func TestNothingAppearsBeforeClose(t *testing.T) {
	dir := t.TempDir()
	table, blocks := made(3, 3, 35)
	w, err := Create(dir, table)
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Append(&blocks[0]); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{HeatFile, DesignsFile, SitesFile} {
		if _, err := os.Stat(filepath.Join(dir, name)); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s is there before Close: %v", name, err)
		}
	}
	w.Abort()
	left, err := os.ReadDir(dir)
	if err != nil || len(left) > 0 {
		t.Errorf("after Abort: %v, %v; want an empty folder", left, err)
	}
}

func TestOpenRefuses(t *testing.T) {
	table, blocks := made(3, 3, 35, 60)
	good := t.TempDir()
	write(t, good, table, blocks)
	other := t.TempDir()
	blocks[2].Site.Lat++
	write(t, other, table, blocks)
	mustRead := func(dir, name string) []byte {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	for _, tt := range []struct {
		name, file string
		data       []byte // nil removes the file
		want       string
	}{
		{"no heat", HeatFile, nil, "heat.parquet"},
		{"no sites", SitesFile, nil, "sites.parquet"},
		{"sites of another run", SitesFile, mustRead(other, SitesFile), "sites.parquet: not the file that heat.parquet was written with"},
		{"half a file", HeatFile, mustRead(good, HeatFile)[:500], "heat.parquet"},
		{"not Parquet", HeatFile, []byte("site_id,month_01\n"), "heat.parquet"},
		{"another table under its name", HeatFile, mustRead(good, DesignsFile), "heat.parquet: no column site_id"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			for _, name := range []string{HeatFile, DesignsFile, SitesFile} {
				if err := os.WriteFile(filepath.Join(dir, name), mustRead(good, name), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			err := os.Remove(filepath.Join(dir, tt.file))
			if tt.data != nil {
				err = os.WriteFile(filepath.Join(dir, tt.file), tt.data, 0o644)
			}
			if err != nil {
				t.Fatal(err)
			}
			if _, _, err := read(dir); err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("error %v, want one with %q", err, tt.want)
			}
		})
	}
}

func TestBlocksStopsWithItsContext(t *testing.T) {
	dir := t.TempDir()
	table, blocks := made(5, 2, 35)
	write(t, dir, table, blocks)
	r, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	n := 0
	for b, err := range r.Blocks(ctx) {
		if err != nil {
			if !errors.Is(err, context.Canceled) || b != nil {
				t.Errorf("block %v, error %v; want nil and context.Canceled", b, err)
			}
			break
		}
		if n++; n == 2 {
			cancel()
		}
	}
	if n != 2 {
		t.Errorf("%d blocks, want 2", n)
	}
}

func BenchmarkWrite(b *testing.B) {
	table, blocks := made(20, 300, 35, 45, 60, 75)
	b.SetBytes(int64(len(blocks)) * int64(len(blocks[0].Heat)) * 4)
	for b.Loop() {
		w, err := Create(b.TempDir(), table)
		if err != nil {
			b.Fatal(err)
		}
		for i := range blocks {
			if err := w.Append(&blocks[i]); err != nil {
				b.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRead(b *testing.B) {
	dir := b.TempDir()
	table, blocks := made(20, 300, 35, 45, 60, 75)
	w, err := Create(dir, table)
	if err != nil {
		b.Fatal(err)
	}
	for i := range blocks {
		if err := w.Append(&blocks[i]); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(blocks)) * int64(len(blocks[0].Heat)) * 4)
	for b.Loop() {
		r, err := Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		for _, err := range r.Blocks(context.Background()) {
			if err != nil {
				b.Fatal(err)
			}
		}
		r.Close()
	}
}
