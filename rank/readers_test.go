package rank

import (
	"encoding/json"
	"fmt"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
	"github.com/paulmach/orb/geojson"

	"stillrow/data/area"
	"stillrow/simulate/result"
)

// bordered is a run that has every kind of geometry: a station, whole cells,
// cells that the area's border cuts to a triangle, to two parts and around a
// hole, and one across the antimeridian.
func bordered(t *testing.T) (dir string, maps []string) {
	t.Helper()
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 75)}, wholeYear, Use{Name: "winter", Months: months12(12, 1, 2)})
	var err error
	o.Within, err = area.Parse("area", []byte(`{"type":"MultiPolygon","coordinates":[
		[[[0,40],[2,40],[2,42],[1,43],[0,42],[0,40]],[[0.4,40.4],[0.6,40.4],[0.5,40.6],[0.4,40.4]]],
		[[[3,40],[3.3,40],[3.3,41],[3,41],[3,40]]],[[[3.6,40],[4,40],[4,41],[3.6,41],[3.6,40]]],
		[[[179,40],[181,40],[181,40.7],[179,40.7],[179,40]]]]}`))
	if err != nil {
		t.Fatal(err)
	}
	var blocks []*result.Block
	for i, s := range []result.Site{
		{Lat: 41, Lon: 1}, {Lat: 41.5, Lon: 1.5, CellDeg: 1}, {Lat: 40.5, Lon: 0.5, CellDeg: 1}, {Lat: 42.5, Lon: 0.5, CellDeg: 1},
		{Lat: 40.5, Lon: 3.5, CellDeg: 1}, {Lat: 40.5, Lon: 180, CellDeg: 1}, {Lat: 50, Lon: 0, CellDeg: 1},
	} {
		b := flat(fmt.Sprint("P", i), s.Lat, float64(100+i), 120)
		b.Site.Lon, b.Site.CellDeg, b.Site.Name = s.Lon, s.CellDeg, `Ø "1" <&>`
		blocks = append(blocks, b)
	}
	s := summarise(t, o, blocks...)
	if s.Sites != 6 || s.Outside != 1 {
		t.Errorf("%d sites, %d outside", s.Sites, s.Outside)
	}
	var text strings.Builder
	if err := s.WriteText(&text); err != nil || !strings.Contains(text.String(), "Left out for lying outside the area: 1 site.") {
		t.Errorf("%v: %s", err, text.String())
	}
	maps, err = filepath.Glob(filepath.Join(o.Out, "map-*.geojson"))
	if err != nil || len(maps) != 2 {
		t.Fatalf("maps %v, %v", maps, err)
	}
	return o.Out, maps
}

// A line is what readers are compared by.
type line struct {
	Site   string
	Use    string
	Outlet float64
	LCOH   float64
}

// ours reads the ranking back with the library that wrote it.
func ours(t *testing.T, dir string) (lines []line, shapes []orb.Geometry) {
	t.Helper()
	rows, err := parquet.ReadFile[row](filepath.Join(dir, RankingFile))
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		g, err := wkb.Unmarshal(r.Geometry)
		if err != nil {
			t.Fatal(err)
		}
		lines, shapes = append(lines, line{Site: r.SiteID, Use: r.Use, Outlet: r.Outlet, LCOH: *r.LCOH}), append(shapes, g)
	}
	return lines, shapes
}

// Placemark's strict check of RFC 7946 takes every map.
func TestCheckGeoJSON(t *testing.T) {
	_, maps := bordered(t)
	out := node(t, `
import { check } from '@placemarkio/check-geojson'
import { readFileSync } from 'fs'
for (const file of process.argv.slice(2)) {
	const all = check(readFileSync(file, 'utf8'))
	console.log(all.features.map(f => f.geometry.type).join(' '))
}`, []string{"@placemarkio/check-geojson"}, maps...)
	want := strings.Repeat("Point Polygon Polygon Polygon MultiPolygon MultiPolygon\n", 2)
	if d := cmp.Diff(want, string(out)); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

// GDAL reads as many features, and finds no geometry that is not valid (by GEOS,
// where GDAL has SpatiaLite).
func TestGDALReadsMaps(t *testing.T) {
	ogrinfo, err := exec.LookPath("ogrinfo")
	if err != nil {
		t.Skip("no ogrinfo on the PATH")
	}
	_, maps := bordered(t)
	for _, m := range maps {
		out, err := exec.Command(ogrinfo, "-ro", "-al", "-so", m).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		for _, want := range []string{"Feature Count: 6\n", `GEOGCRS["WGS 84"`, "gas_ratio: Real", "best_design_id: Integer"} {
			if !strings.Contains(string(out), want) {
				t.Errorf("%s: no %q in\n%s", m, want, out)
			}
		}
		layer := strings.TrimSuffix(filepath.Base(m), ".geojson")
		out, err = exec.Command(ogrinfo, "-ro", "-q", m, "-dialect", "sqlite", "-sql", `SELECT count(*) AS bad FROM "`+layer+`" WHERE NOT ST_IsValid(geometry)`).CombinedOutput()
		if err != nil || strings.Contains(string(out), "no such function") {
			t.Logf("no check of validity: %v %s", err, out)
			continue
		}
		if !regexp.MustCompile(`bad \(Integer\) = 0\n`).Match(out) {
			t.Errorf("%s: %s", m, out)
		}
	}
}

// Three readers of GeoParquet that share no code with the writer see the rows
// in its order, with their places: two in JavaScript, of which one makes GeoJSON
// of the file by its metadata alone, and DuckDB, which knows the column for
// geometry in CRS84.
func TestOthersReadTheRanking(t *testing.T) {
	for _, tt := range []struct {
		name, script string
		packages     []string
	}{
		{"hyparquet", `
import { asyncBufferFromFile, parquetReadObjects } from 'hyparquet'
import { compressors } from 'hyparquet-compressors'
const file = await asyncBufferFromFile(process.argv[2])
const rows = await parquetReadObjects({ file, compressors })
console.log(JSON.stringify(rows.map(r => [r.site_id, r.use, r.outlet_c, r.lcoh_per_kwh, r.geometry])))`,
			[]string{"hyparquet", "hyparquet-compressors"}},
		{"geoparquet", `
import { toGeoJson } from 'geoparquet'
import { asyncBufferFromFile } from 'hyparquet'
import { compressors } from 'hyparquet-compressors'
const all = await toGeoJson({ file: await asyncBufferFromFile(process.argv[2]), compressors })
console.log(JSON.stringify(all.features.map(f => [f.properties.site_id, f.properties.use, f.properties.outlet_c, f.properties.lcoh_per_kwh, f.geometry])))`,
			[]string{"geoparquet", "hyparquet", "hyparquet-compressors"}},
		{"DuckDB", `
import { DuckDBInstance } from '@duckdb/node-api'
const db = await (await DuckDBInstance.create()).connect()
const kind = (await db.runAndReadAll("SELECT DISTINCT typeof(geometry) FROM '" + process.argv[2] + "'")).getRows()
if (JSON.stringify(kind) != '[["GEOMETRY(\'OGC:CRS84\')"]]') throw new Error(JSON.stringify(kind))
const rows = (await db.runAndReadAll("SELECT site_id, use, outlet_c, lcoh_per_kwh, hex(ST_AsWKB(geometry)) FROM '" + process.argv[2] + "'")).getRows()
console.log(JSON.stringify(rows))`,
			[]string{"@duckdb/node-api"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir, _ := bordered(t)
			lines, shapes := ours(t, dir)
			var got [][5]json.RawMessage
			if err := json.Unmarshal(node(t, tt.script, tt.packages, filepath.Join(dir, RankingFile)), &got); err != nil {
				t.Fatal(err)
			}
			if len(got) != len(lines) {
				t.Fatalf("%d rows, want %d", len(got), len(lines))
			}
			for i, r := range got {
				want := fmt.Sprintf("%q %q %v %v", lines[i].Site, lines[i].Use, lines[i].Outlet, lines[i].LCOH)
				if is := fmt.Sprintf("%s %s %s %s", r[0], r[1], r[2], r[3]); is != want {
					t.Errorf("row %d: %s, want %s", i, is, want)
				}
				if g := geometryOf(t, r[4]); !orb.Equal(g, shapes[i]) {
					t.Errorf("row %d: %v, want %v", i, g, shapes[i])
				}
			}
		})
	}
}

// geometryOf reads GeoJSON, or WKB in hexadecimal digits.
func geometryOf(t *testing.T, text json.RawMessage) orb.Geometry {
	t.Helper()
	var digits string
	if json.Unmarshal(text, &digits) == nil {
		var raw []byte
		if _, err := fmt.Sscanf(digits, "%x", &raw); err != nil {
			t.Fatal(err)
		}
		g, err := wkb.Unmarshal(raw)
		if err != nil {
			t.Fatal(err)
		}
		return g
	}
	g, err := geojson.UnmarshalGeometry(text)
	if err != nil {
		t.Fatal(err)
	}
	return g.Geometry()
}
