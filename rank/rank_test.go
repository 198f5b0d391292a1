package rank

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// halvane is a run of five sites, four designs, two outlets and two uses: a
// station, a cell, a cell across the antimeridian, one in the south, and one
// without heat.
func halvane(t *testing.T) (Options, []*result.Block) {
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 60), mirror(1, 75), mirror(2, 75)}, wholeYear,
		Use{Name: "winter showers", Months: months12(12, 1, 2)})
	o.Table.Outlets = []float64{45, 60.5}
	o.Columns = []result.Column{{File: "heat/heat.parquet", Name: "month_01", Unit: "kWh/m²", Meaning: "heat of January"}}
	var blocks []*result.Block
	for i, s := range []result.Site{
		{ID: "HV01", Name: "Halvane Ness", Country: "Halvane", Lat: 61.5, Lon: -4.25},
		{ID: "HV02", Name: "", Lat: 62, Lon: 8, CellDeg: 0.5},
		{ID: "HV03", Name: "Line <Rock> & \"Sound\"", Lat: 61, Lon: 179.9, CellDeg: 0.5},
		{ID: "HV04", Name: "Sør", Lat: -45, Lon: 170.5},
		{ID: "HV05", Name: "Dark Glen", Lat: 61.25, Lon: -4},
	} {
		b := &result.Block{Site: s}
		for outlet := range 2 {
			for d := range 4 {
				for m := range 12 {
					h := 0.0
					if i < 4 {
						h = 10*float64(2-outlet) + float64(d*(i+1)) + float64(m)/4
					}
					b.Heat = append(b.Heat, float32(h))
				}
			}
		}
		blocks = append(blocks, b)
	}
	return o, blocks
}

func names(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, e := range entries {
		list = append(list, e.Name())
	}
	return list
}

func TestFiles(t *testing.T) {
	o, blocks := halvane(t)
	s := summarise(t, o, blocks...)
	want := []string{"bands.csv", "columns.csv", "map-winter-showers-45.geojson", "map-winter-showers-60.5.geojson",
		"map-year-45.geojson", "map-year-60.5.geojson", "ranking.parquet", "tilts.csv"}
	if d := cmp.Diff(want, names(t, o.Out)); d != "" {
		t.Errorf("files, -want +got:\n%s", d)
	}
	if d := cmp.Diff(want, slices.Sorted(slices.Values(s.Files))); d != "" {
		t.Errorf("files of the summary, -want +got:\n%s", d)
	}
	for _, name := range want {
		info, err := os.Stat(filepath.Join(o.Out, name))
		if err != nil || info.Mode().Perm() != 0o644 {
			t.Errorf("%s: %v, %v", name, info.Mode(), err)
		}
	}
}

// Read by parquet-go's struct reader under names of the contract.
func TestRankingTable(t *testing.T) {
	o, blocks := halvane(t)
	summarise(t, o, blocks...)
	path := filepath.Join(o.Out, RankingFile)
	type line struct {
		Site   string   `parquet:"site_id"`
		Use    string   `parquet:"use"`
		Outlet float64  `parquet:"outlet_c"`
		Design *int32   `parquet:"design_id"`
		Tilt   *float64 `parquet:"mirror_tilt_deg"`
		Heat   float64  `parquet:"heat_kwh_m2"`
		July   *float32 `parquet:"month_07_kwh_m2"`
		LCOH   *float64 `parquet:"lcoh_per_kwh"`
		Ratio  *float64 `parquet:"gas_ratio"`
		Beats  bool     `parquet:"beats_gas"`
		Shape  []byte   `parquet:"geometry"`
	}
	got, err := parquet.ReadFile[line](path)
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 5*2*2 {
		t.Fatalf("%d rows, want 20", len(got))
	}
	// The rows of a site stand together, its layers in their order.
	of := func(site string) []line {
		i := slices.IndexFunc(got, func(r line) bool { return r.Site == site })
		for k, r := range got[i : i+4] {
			if r.Site != site || r.Outlet != o.Table.Outlets[k/2] || r.Use != o.Uses[k%2].Name {
				t.Errorf("row %d of %s: %+v", k, site, r)
			}
		}
		return got[i : i+4]
	}
	// Site 0 in winter at 45 °C: design d yields 3·(20+d) + (0+1+11)/4 = 63+3d;
	// 10/(10·63) is less than 14/(10·66), 14/(10·69) and 18/(10·72).
	r := of("HV01")[1]
	if r.Site != "HV01" || r.Use != "winter showers" || r.Outlet != 45 || *r.Design != 0 || r.Heat != 63 || *r.July != 21.5 ||
		math.Abs(*r.LCOH-1./63) > 1e-15 || math.Abs(*r.Ratio-10./63) > 1e-14 || !r.Beats || len(r.Shape) != 21 {
		t.Errorf("HV01 in winter: %+v", r)
	}
	// In the south the same use is June to August: months 5, 6, 7, and site 3's
	// designs add 4 each: 3·(20+4d) + 18/4 = 64.5+12d, for 10, 14, 14, 18: design 0.
	if r := of("HV04")[1]; r.Site != "HV04" || r.Heat != 64.5 || *r.Design != 0 {
		t.Errorf("HV04 in winter: %+v", r)
	}
	if r := of("HV05")[0]; r.Site != "HV05" || r.Design != nil || r.LCOH != nil || r.Tilt != nil || r.July != nil || r.Beats || r.Heat != 0 {
		t.Errorf("a site without heat: %+v, want nulls", r)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	p, err := parquet.OpenFile(f, info.Size())
	if err != nil {
		t.Fatal(err)
	}
	if geo, _ := p.Lookup("geo"); !strings.Contains(geo, `"geometry_types":["MultiPolygon","Point","Polygon"]`) {
		t.Errorf("geo = %s", geo)
	}
	if currency, _ := p.Lookup("stillrow.currency"); currency != "EUR" {
		t.Errorf("currency = %q", currency)
	}
}

type collection struct {
	Currency string
	BBox     []float64
	Features []struct {
		ID       string
		Geometry struct {
			Type        string
			Coordinates json.RawMessage
		}
		Properties map[string]any
	}
}

func readMap(t *testing.T, path string) (c collection) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, &c); err != nil {
		t.Fatal(err)
	}
	return c
}

func TestMap(t *testing.T) {
	o, blocks := halvane(t)
	summarise(t, o, blocks...)
	c := readMap(t, filepath.Join(o.Out, "map-year-60.5.geojson"))
	if c.Currency != "EUR" || len(c.Features) != 5 || !slices.Equal(c.BBox, []float64{-180, -45, 180, 62.25}) {
		t.Errorf("currency %q, %d features, bbox %v", c.Currency, len(c.Features), c.BBox)
	}
	var kinds []string
	for _, f := range c.Features {
		kinds = append(kinds, f.Geometry.Type)
	}
	if d := cmp.Diff([]string{"Point", "Polygon", "MultiPolygon", "Point", "Point"}, kinds); d != "" {
		t.Errorf("geometry, -want +got:\n%s", d)
	}
	// Site 0 at 60.5 °C over the year: 12·(10+d) + 66/4 = 136.5 + 12d for 10 + 4L:
	// design 0 at 10/1365 is best, design 2 is 14/1605.
	p := c.Features[0].Properties
	want := map[string]any{"site_id": "HV01", "name": "Halvane Ness", "country": "Halvane", "use": "year", "outlet_c": 60.5,
		"buildable": true, "best_design_id": 0., "best_tilt_deg": nil, "best_mirror_length_m": 0., "heat_kwh_m2": 136.5,
		"lcoh_per_kwh": 1 / 136.5, "gas_heat_per_kwh": 0.1, "gas_ratio": 10 / 136.5, "beats_gas": true,
		"book": "hand", "without_design": nil, "payback_years": 10 / 13.65, "co2_avoided_kg_m2_year": 136.5 * 0.20196 / 0.9,
		"lcoh_p10_per_kwh": nil, "lcoh_p50_per_kwh": nil, "lcoh_p90_per_kwh": nil, "beats_gas_probability": nil, "lcoh_spread_from_design_id": nil,
		"breakeven_gas_price_per_kwh": 0.9 / 136.5, "saving_per_m2_year": 13.65 - 1, "runner_up_extra_percent": 100 * (14*1365/(10*1605.) - 1)}
	if d := cmp.Diff(want, p, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-12 })); d != "" {
		t.Errorf("properties, -want +got:\n%s", d)
	}
	dark := c.Features[4].Properties
	for _, name := range []string{"best_design_id", "best_tilt_deg", "lcoh_per_kwh", "gas_ratio", "runner_up_extra_percent"} {
		if v, ok := dark[name]; !ok || v != nil {
			t.Errorf("without heat, %s = %v (there: %v), want null", name, v, ok)
		}
	}
	if dark["beats_gas"] != false {
		t.Errorf("without heat, beats_gas = %v", dark["beats_gas"])
	}
}

func readCSV(t *testing.T, path string) [][]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return lines
}

// Every column and property there is, and no other, is in columns.csv.
func TestColumnsFileIsComplete(t *testing.T) {
	o, blocks := halvane(t)
	summarise(t, o, blocks...)
	described := map[string][]string{}
	for _, line := range readCSV(t, filepath.Join(o.Out, ColumnsFile))[1:] {
		described[line[0]] = append(described[line[0]], line[1])
		if line[3] == "" || strings.Contains(line[2], "¤") {
			t.Errorf("line %q: want a meaning, and a unit in the currency", line)
		}
	}
	f, err := os.Open(filepath.Join(o.Out, RankingFile))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	p, err := parquet.OpenFile(f, info.Size())
	if err != nil {
		t.Fatal(err)
	}
	is := map[string][]string{
		"heat/heat.parquet": {"month_01"},
		TiltsFile:           readCSV(t, filepath.Join(o.Out, TiltsFile))[0],
		BandsFile:           readCSV(t, filepath.Join(o.Out, BandsFile))[0],
		ColumnsFile:         readCSV(t, filepath.Join(o.Out, ColumnsFile))[0],
	}
	for _, c := range p.Schema().Fields() {
		is[RankingFile] = append(is[RankingFile], c.Name())
	}
	for name := range readMap(t, filepath.Join(o.Out, "map-year-45.geojson")).Features[0].Properties {
		is["map-*.geojson"] = append(is["map-*.geojson"], name)
	}
	slices.Sort(is["map-*.geojson"])
	slices.Sort(described["map-*.geojson"])
	if d := cmp.Diff(is, described); d != "" {
		t.Errorf("-there +described:\n%s", d)
	}
}

func TestBandsFile(t *testing.T) {
	o, blocks := halvane(t)
	summarise(t, o, blocks...)
	lines := readCSV(t, filepath.Join(o.Out, BandsFile))
	if len(lines) != 1+2*4 {
		t.Fatalf("%d lines, want a head and 2 bands × 2 outlets × 2 uses", len(lines))
	}
	// 60 to 65° N at 45 °C: three sites with heat, one without; design 0, without
	// a mirror, so without a tilt. Of mirrors, 1 m at 60° and at 75° and 2 m at
	// 75° are candidates; by site, design d yields 12·(20 + d·n) + 16.5 for n = 1
	// to 3, so that 14/(256.5 + 24n) beside 10/256.5 is 1.2802, 1.1793 and
	// 1.0931, in the mean 18.4225 % dearer, with the 1 m mirror at 75°.
	want := []string{"60", "65", "45", "year", "4", "1", "0", "0", "1", "0", "", "0", "0", "0", "0", "0", "0.0000", "0.0000", "0.0000", "0.0000", "0",
		"75", "18.4225", "28.0214", "75.0000", "18.4225", "3", "3"}
	if d := cmp.Diff(want, lines[5]); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

func writeHeat(t *testing.T, o Options, blocks []*result.Block) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "heat")
	w, err := result.Create(dir, o.Table)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for _, b := range blocks {
		if err := w.Append(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

// Blocks handed over in memory and blocks read from the heat table give the
// same bytes.
func TestRunGivesTheSameBytes(t *testing.T) {
	o, blocks := halvane(t)
	first := summarise(t, o, blocks...)
	heat := writeHeat(t, o, blocks)
	again := o
	again.Out, again.Table = t.TempDir(), result.Table{}
	var steps []int
	again.Progress = func(done, of int) { steps = append(steps, done, of) }
	second, err := Run(context.Background(), heat, again)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(first, second); d != "" {
		t.Errorf("summaries differ:\n%s", d)
	}
	if !slices.Equal(steps, []int{1, 5, 2, 5, 3, 5, 4, 5, 5, 5}) {
		t.Errorf("progress %v", steps)
	}
	for _, name := range names(t, o.Out) {
		a, errA := os.ReadFile(filepath.Join(o.Out, name))
		b, errB := os.ReadFile(filepath.Join(again.Out, name))
		if err := errors.Join(errA, errB); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s differs", name)
		}
	}
}

func TestCancelledRunWritesNothing(t *testing.T) {
	o, blocks := halvane(t)
	heat := writeHeat(t, o, blocks)
	for stop := 1; stop <= len(blocks); stop++ { // after the last site, too
		ctx, cancel := context.WithCancel(context.Background())
		o.Progress = func(done, _ int) {
			if done == stop {
				cancel()
			}
		}
		if _, err := Run(ctx, heat, o); !errors.Is(err, context.Canceled) {
			t.Errorf("stopped after site %d: error %v, want context.Canceled", stop, err)
		}
		cancel()
		if left := names(t, o.Out); len(left) > 0 {
			t.Errorf("stopped after site %d: %v is there", stop, left)
		}
	}
}

// A refused block leaves no trace, and the ranking goes on.
func TestAddRefuses(t *testing.T) {
	o, blocks := halvane(t)
	want := summarise(t, o, blocks...)
	for _, tt := range []struct {
		name, want string
		spoil      func(*result.Block)
	}{
		{"too short", "site HV02: 95 months of heat, want 96", func(b *result.Block) { b.Heat = b.Heat[1:] }},
		{"not a number", "site HV02, design 1, outlet 60.5 °C: heat of month 3 is NaN", func(b *result.Block) { b.Heat[(4+1)*12+2] = float32(math.NaN()) }},
		{"negative", "heat of month 1 is -1", func(b *result.Block) { b.Heat[0] = -1 }},
		{"off the globe", "site HV02: lat = 95", func(b *result.Block) { b.Site.Lat = 95 }},
	} {
		o.Out = t.TempDir()
		k, err := New(o)
		if err != nil {
			t.Fatal(err)
		}
		defer k.Abort()
		batch := k.Batch()
		for i, b := range blocks {
			if i == 1 {
				bad := result.Block{Site: b.Site, Heat: slices.Clone(b.Heat)}
				tt.spoil(&bad)
				if err := batch.Add(&bad); err == nil || !strings.Contains(err.Error(), tt.want) {
					t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
				}
			}
			if err := batch.Add(b); err != nil {
				t.Fatal(err)
			}
		}
		if err := k.Take(batch); err != nil {
			t.Fatal(err)
		}
		got, err := k.Finish(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s left a trace:\n%s", tt.name, d)
		}
	}
}

// Interrupted while the files are written, a ranking leaves none of them, nor
// its scratch file.
func TestInterruptedWhileWriting(t *testing.T) {
	o, blocks := halvane(t)
	k, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Abort()
	for _, b := range blocks {
		if err := add(k, b); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := k.Finish(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want the context's", err)
	}
	if left := names(t, o.Out); len(left) > 0 {
		t.Errorf("%v is left", left)
	}
}

func TestOptionsRefused(t *testing.T) {
	for _, tt := range []struct {
		change func(*Options)
		want   string
	}{
		{func(o *Options) { o.BandDeg = 0 }, "map.band_deg = 0, want 0.1 to 90"},
		{func(o *Options) { o.Currency = "" }, "study.currency"},
		{func(o *Options) { o.Markets[0].Gas.BoilerEfficiency = 90 }, "gas.boiler_efficiency = 90"},
		{func(o *Options) { o.Markets[0].Plan.HorizonYears = 0 }, "cost.horizon_years = 0"},
		{func(o *Options) { o.Table.Designs = nil }, "0 designs"},
		{func(o *Options) { o.Table.Outlets = []float64{45, 60, 45} }, "map-year-45.geojson is already"},
		{func(o *Options) { o.Markets[0].Plan.Items = handPlan.Items[1:] }, "design 0 costs 0 per m²"},
		{func(o *Options) {
			o.Markets[0].Plan.Items = append(slices.Clone(handPlan.Items), cost.Item{Unit: cost.GroundM2, Price: 1, LifeYears: 50})
		}, `design 0: cost.item[2].unit = "ground_m2"`},
	} {
		o, _ := halvane(t)
		tt.change(&o)
		if _, err := New(o); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want one with %q", err, tt.want)
		}
		if left := names(t, o.Out); len(left) > 0 {
			t.Errorf("%s: %v is left", tt.want, left)
		}
	}
}

// A year of 300 designs at four outlets for three uses.
func BenchmarkAdd(b *testing.B) {
	var designs []result.Design
	for i := range 300 {
		designs = append(designs, mirror(float64(i%10)/10, 50+float64(i)/10))
	}
	o := Options{
		Table:   result.Table{Designs: designs, Outlets: []float64{35, 45, 60, 75}},
		Uses:    []Use{wholeYear, {Name: "winter", Months: months12(12, 1, 2)}, {Name: "heating", Season: Heating, Threshold: 100}},
		Markets: []Market{{"hand", handPlan, handGas}}, BandDeg: 5, Currency: "EUR", Out: b.TempDir(),
	}
	k, err := New(o)
	if err != nil {
		b.Fatal(err)
	}
	defer k.Abort()
	block := &result.Block{Site: result.Site{ID: "x", Name: "somewhere", Lat: 50, Lon: 8, CellDeg: 0.25, HDD: [12]float64{300, 200}}}
	for i := range 300 * 4 * 12 {
		block.Heat = append(block.Heat, float32(i%977)/10)
	}
	batch := k.Batch()
	for b.Loop() {
		if len(batch.places) == mostPlaces {
			batch = k.Batch()
		}
		if err := batch.Add(block); err != nil {
			b.Fatal(err)
		}
	}
}
