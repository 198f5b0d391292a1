package rank

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"
)

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
	p := openParquet(t, path)
	if geo, _ := p.Lookup("geo"); !strings.Contains(geo, `"geometry_types":["MultiPolygon","Point","Polygon"]`) {
		t.Errorf("geo = %s", geo)
	}
	if currency, _ := p.Lookup("stillrow.currency"); currency != "EUR" {
		t.Errorf("currency = %q", currency)
	}
}

// openParquet opens a table until the test ends.
func openParquet(t *testing.T, path string) *parquet.File {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	p, err := parquet.OpenFile(f, info.Size())
	if err != nil {
		t.Fatal(err)
	}
	return p
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
	p := openParquet(t, filepath.Join(o.Out, RankingFile))
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
