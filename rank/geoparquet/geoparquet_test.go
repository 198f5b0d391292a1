package geoparquet

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/parquet-go/parquet-go"
	"github.com/paulmach/orb"
)

type row struct {
	Name string   `parquet:"name,dict"`
	Cost *float64 `parquet:"cost"`
	Shape
}

func shape(r *row) *Shape { return &r.Shape }

func box(west, south, east, north float64) orb.Polygon {
	return orb.Bound{Min: orb.Point{west, south}, Max: orb.Point{east, north}}.ToPolygon()
}

var places = []orb.Geometry{
	orb.Point{8.85, 50.05},
	box(-70.1, -33.5, -70.05, -33.45),
	orb.MultiPolygon{box(179.75, -17, 180, -16.5), box(-180, -17, -179.75, -16.5)},
}

func encode(t *testing.T, places []orb.Geometry) []byte {
	t.Helper()
	var out bytes.Buffer
	w := NewWriter(&out, shape, map[string]string{"currency": "EUR", "another": "x"})
	for i, g := range places {
		r := row{Name: fmt.Sprint(i)}
		if i > 0 {
			cost := float64(i) / 8
			r.Cost = &cost
		}
		if err := w.Write(r, g); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// The metadata against the rules of GeoParquet 1.1.0, "File metadata" and
// "Column metadata".
func TestGeoMetadata(t *testing.T) {
	data := encode(t, places)
	f, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	text, ok := f.Lookup("geo")
	if !ok {
		t.Fatal("no geo key")
	}
	var got map[string]any
	if err := json.Unmarshal([]byte(text), &got); err != nil {
		t.Fatal(err)
	}
	want := map[string]any{
		"version": "1.1.0", "primary_column": "geometry",
		"columns": map[string]any{"geometry": map[string]any{
			"encoding": "WKB", "geometry_types": []any{"MultiPolygon", "Point", "Polygon"},
			"orientation": "counterclockwise", "edges": "planar", "bbox": []any{-180., -33.5, 180., 50.05},
			"covering": map[string]any{"bbox": map[string]any{
				"xmin": []any{"bbox", "xmin"}, "ymin": []any{"bbox", "ymin"}, "xmax": []any{"bbox", "xmax"}, "ymax": []any{"bbox", "ymax"},
			}},
		}},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("geo, -want +got:\n%s", d)
	}
	if currency, _ := f.Lookup("currency"); currency != "EUR" {
		t.Errorf("currency = %q", currency)
	}
	// "Bounding Box Columns": a group of xmin, ymin, xmax, ymax in this order,
	// all FLOAT or all DOUBLE, repeated as the geometry is (required).
	var names []string
	for _, c := range f.Root().Column("bbox").Columns() {
		names = append(names, c.Name())
		if c.Type().Kind() != parquet.Float || !c.Required() {
			t.Errorf("bbox.%s: %v, required %v", c.Name(), c.Type(), c.Required())
		}
	}
	if d := cmp.Diff([]string{"xmin", "ymin", "xmax", "ymax"}, names); d != "" {
		t.Errorf("bbox fields: %s", d)
	}
	if g := f.Root().Column("geometry"); g.Type().Kind() != parquet.ByteArray || !g.Required() || g.Type().LogicalType() != nil {
		t.Errorf("geometry: %v, required %v, want a plain byte array", g.Type(), g.Required())
	}
}

func TestNoRows(t *testing.T) {
	data := encode(t, nil)
	f, err := parquet.OpenFile(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	if text, _ := f.Lookup("geo"); !strings.Contains(text, `"geometry_types":[]`) || strings.Contains(text, `"bbox":[`) {
		t.Errorf("geo = %s, want no types and no bbox", text)
	}
}

// Geometry is decoded here by hand, after OGC 06-103r4 clause 8.2: byte order,
// type (1 point, 3 polygon, 6 multipolygon), counts, x then y.
func TestWellKnownBinary(t *testing.T) {
	data := encode(t, places)
	rows, err := parquet.Read[row](bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	le := binary.LittleEndian
	number := func(b []byte) float64 { return math.Float64frombits(le.Uint64(b)) }
	point := rows[0].Geometry
	if len(point) != 21 || point[0] != 1 || le.Uint32(point[1:]) != 1 || number(point[5:]) != 8.85 || number(point[13:]) != 50.05 {
		t.Errorf("point: % x", point)
	}
	polygon := rows[1].Geometry
	if len(polygon) != 13+5*16 || le.Uint32(polygon[1:]) != 3 || le.Uint32(polygon[5:]) != 1 || le.Uint32(polygon[9:]) != 5 {
		t.Fatalf("polygon: % x", polygon)
	}
	var ring []float64
	for at := 13; at < len(polygon); at += 8 {
		ring = append(ring, number(polygon[at:]))
	}
	// Counter-clockwise from the south-west corner.
	if d := cmp.Diff([]float64{-70.1, -33.5, -70.05, -33.5, -70.05, -33.45, -70.1, -33.45, -70.1, -33.5}, ring); d != "" {
		t.Errorf("ring, -want +got:\n%s", d)
	}
	if multi := rows[2].Geometry; le.Uint32(multi[1:]) != 6 || le.Uint32(multi[5:]) != 2 || le.Uint32(multi[10:]) != 3 {
		t.Errorf("multipolygon: % x", multi)
	}
	if rows[0].Cost != nil || rows[1].Cost == nil || *rows[1].Cost != 0.125 || rows[2].Name != "2" {
		t.Errorf("rows: %+v; want a null cost, then 0.125", rows)
	}
}

func TestBoxCoversAndIsTight(t *testing.T) {
	data := encode(t, places)
	rows, err := parquet.Read[row](bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range rows {
		b := places[i].Bound()
		for _, side := range []struct {
			name    string
			stored  float32
			is      float64
			outside float64 // direction
		}{
			{"xmin", r.BBox.XMin, b.Left(), -1}, {"ymin", r.BBox.YMin, b.Bottom(), -1},
			{"xmax", r.BBox.XMax, b.Right(), 1}, {"ymax", r.BBox.YMax, b.Top(), 1},
		} {
			beyond := (float64(side.stored) - side.is) * side.outside
			if beyond < 0 || beyond > 1e-5 {
				t.Errorf("row %d: %s = %v for %v: %g beyond, want 0 to 1e-5", i, side.name, side.stored, side.is, beyond)
			}
		}
	}
	if above(50.05) != math.Nextafter32(below(50.05), 90) {
		t.Errorf("50.05 lies between %v and %v, want neighbours", below(50.05), above(50.05))
	}
	if below(-180) != -180 || above(180) != 180 || below(0.5) != 0.5 {
		t.Error("numbers that single precision holds are to stay")
	}
}

func TestRefusals(t *testing.T) {
	for _, tt := range []struct {
		g    orb.Geometry
		want string
	}{
		{nil, "row 1: no geometry"},
		{orb.Point{181, 0}, "row 1: longitude 181"},
		{orb.Point{0, math.NaN()}, "latitude NaN"},
	} {
		w := NewWriter(new(bytes.Buffer), shape, nil)
		if err := w.Write(row{}, tt.g); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v: error %v, want one with %q", tt.g, err, tt.want)
		}
	}
}

func TestSameBytes(t *testing.T) {
	many := make([]orb.Geometry, 0, 3*5000)
	for range 5000 {
		many = append(many, places...)
	}
	a, b := encode(t, many), encode(t, many)
	if !bytes.Equal(a, b) {
		t.Error("two runs differ")
	}
	f, err := parquet.OpenFile(bytes.NewReader(a), int64(len(a)))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(f.RowGroups()); n != 2 {
		t.Errorf("%d row groups for 15000 rows, want 2", n)
	}
}
