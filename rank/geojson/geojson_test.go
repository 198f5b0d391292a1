package geojson

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"
)

// cell is a polygon with its corners in the order given.
func cell(west, south, east, north float64) orb.Polygon {
	return orb.Bound{Min: orb.Point{west, south}, Max: orb.Point{east, north}}.ToPolygon()
}

func write(t *testing.T, members map[string]any, features ...Feature) []byte {
	t.Helper()
	var out bytes.Buffer
	w, err := NewWriter(&out, members)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range features {
		if err := w.Write(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

type properties struct {
	Name string   `json:"name"`
	LCOH *float64 `json:"lcoh_per_kwh"`
}

func TestText(t *testing.T) {
	lcoh := 0.0125
	got := string(write(t, map[string]any{"currency": "EUR"},
		Feature{ID: "a", Geometry: orb.Point{-0.00000001, 51.123456789}, Properties: properties{Name: `Up & "down" <ø>`, LCOH: &lcoh}},
		Feature{Geometry: cell(8.8, 50, 8.850000000000001, 50.05), Properties: properties{Name: "b"}},
	))
	want := `{"type":"FeatureCollection","currency":"EUR","features":[
{"type":"Feature","id":"a","geometry":{"type":"Point","coordinates":[0,51.123457]},"properties":{"name":"Up & \"down\" <ø>","lcoh_per_kwh":0.0125}},
{"type":"Feature","geometry":{"type":"Polygon","coordinates":[[[8.8,50],[8.85,50],[8.85,50.05],[8.8,50.05],[8.8,50]]]},"properties":{"name":"b","lcoh_per_kwh":null}}
],"bbox":[0,50,8.85,51.123457]}
`
	if got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

func TestEmptyCollection(t *testing.T) {
	got := write(t, nil)
	if bad := rfc7946(got); len(bad) > 0 || strings.Contains(string(got), "bbox") {
		t.Errorf("%s: %v; want a collection without features and without bbox", got, bad)
	}
}

// Positions that rounding makes the same are written once.
func TestPositionsThatRoundToOne(t *testing.T) {
	got := write(t, nil, Feature{Geometry: orb.Polygon{{{0, 0}, {1, 0}, {1, 0.4e-6}, {1, 1}, {0, 1}, {0, 0.2e-6}, {0, 0}}}})
	if want := `[[[0,0],[1,0],[1,1],[0,1],[0,0]]]`; !strings.Contains(string(got), want) {
		t.Errorf("%s, want %s", got, want)
	}
}

// A clockwise ring with a counter-clockwise hole comes out the other way round.
func TestRightHandRule(t *testing.T) {
	outer, hole := cell(0, 0, 4, 4), cell(1, 1, 2, 2)
	outer[0].Reverse()
	got := write(t, nil, Feature{Geometry: orb.Polygon{outer[0], hole[0]}})
	if bad := rfc7946(got); len(bad) > 0 {
		t.Errorf("%s: %v", got, bad)
	}
	if outer[0].Orientation() != orb.CW {
		t.Error("Write changed the caller's geometry")
	}
}

func TestBoundingBox(t *testing.T) {
	point := func(lon, lat float64) Feature { return Feature{Geometry: orb.Point{lon, lat}} }
	for _, tt := range []struct {
		name     string
		features []Feature
		want     string
	}{
		{"one point", []Feature{point(5, 6)}, "[5,6,5,6]"},
		{"on the antimeridian", []Feature{point(180, 0), point(179, -1)}, "[179,-1,180,0]"},
		// The example of RFC 7946 section 5.2: Fiji, from 177° E to 178° W.
		{"Fiji", []Feature{point(177, -16), point(-178, -20)}, "[177,-20,-178,-16]"},
		{"a cell cut in two", []Feature{{Geometry: orb.MultiPolygon{cell(179.75, 0, 180, 0.5), cell(-180, 0, -179.75, 0.5)}}}, "[179.75,0,-179.75,0.5]"},
		{"half the world apart", []Feature{point(-100, 0), point(100, 10)}, "[100,0,-100,10]"},
		{"all round the world", []Feature{point(-170, 0), point(-60, 0), point(60, 10), point(170, 0)}, "[-170,0,170,10]"},
		// Section 5.3.
		{"the north pole", []Feature{point(5, 6), {Geometry: cell(10, 89, 11, 90)}}, "[-180,6,180,90]"},
		{"the south pole", []Feature{point(170, -90), point(-170, -80)}, "[-180,-90,180,-80]"},
		{"a wide cell", []Feature{{Geometry: cell(-120.5, -3, 100.25, 4)}}, "[-120.5,-3,100.25,4]"},
	} {
		got := write(t, nil, tt.features...)
		if !strings.Contains(string(got), `"bbox":`+tt.want) {
			t.Errorf("%s: %s, want bbox %s", tt.name, got[bytes.LastIndexByte(got, ']')-30:], tt.want)
		}
		if bad := rfc7946(got); len(bad) > 0 {
			t.Errorf("%s: %v", tt.name, bad)
		}
	}
}

func TestRefusals(t *testing.T) {
	flat := orb.Polygon{{{0, 0}, {1, 0}, {2, 0}, {0, 0}}}
	for _, tt := range []struct {
		name    string
		feature Feature
		want    string
	}{
		{"past the antimeridian", Feature{ID: "x", Geometry: cell(179, 0, 181, 1)}, `feature "x": longitude 181`},
		{"past the pole", Feature{Geometry: orb.Point{0, 90.1}}, "latitude 90.1"},
		{"not a number", Feature{Geometry: orb.Point{math.NaN(), 0}}, "longitude NaN"},
		{"open ring", Feature{Geometry: orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 1}}}}, "the first again at the end"},
		{"three positions", Feature{Geometry: orb.Polygon{{{0, 0}, {1, 0}, {0, 0}}}}, "ring of 3 positions"},
		{"an empty ring", Feature{Geometry: orb.Polygon{{}}}, "ring of 0 positions"},
		{"no rings", Feature{Geometry: orb.Polygon{}}, "without rings"},
		{"no polygons", Feature{Geometry: orb.MultiPolygon{}}, "without polygons"},
		{"no area", Feature{Geometry: flat}, "without area"},
		{"a line", Feature{Geometry: orb.LineString{{0, 0}, {1, 1}}}, "orb.LineString"},
		{"no area once rounded", Feature{Geometry: cell(0, 0, 1e-7, 1)}, "without area"},
		{"nothing", Feature{}, "<nil>"},
		{"a number JSON lacks", Feature{Geometry: orb.Point{}, Properties: math.Inf(1)}, "properties"},
	} {
		var out bytes.Buffer
		w, err := NewWriter(&out, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := w.Write(Feature{Geometry: orb.Point{1, 1}}); err != nil {
			t.Fatal(err)
		}
		if err := w.Write(tt.feature); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if bad := rfc7946(out.Bytes()); len(bad) > 0 || strings.Count(out.String(), `"Feature"`) != 1 {
			t.Errorf("%s: the refused feature left a mark: %s %v", tt.name, out.Bytes(), bad)
		}
	}
}

func TestAnyCollectionKeepsTheRules(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var out bytes.Buffer
		w, err := NewWriter(&out, nil)
		if err != nil {
			rt.Fatal(err)
		}
		for range rapid.IntRange(0, 8).Draw(rt, "features") {
			lon, lat := rapid.Float64Range(-180, 179).Draw(rt, "lon"), rapid.Float64Range(-90, 89).Draw(rt, "lat")
			f := Feature{ID: rapid.String().Draw(rt, "id"), Properties: map[string]any{"name": rapid.String().Draw(rt, "name")}}
			switch rapid.IntRange(0, 2).Draw(rt, "kind") {
			case 0:
				f.Geometry = orb.Point{lon, lat}
			case 1:
				f.Geometry = cell(lon, lat, lon+1, lat+1)
			case 2:
				f.Geometry = orb.MultiPolygon{cell(179.5, lat, 180, lat+1), cell(-180, lat, -179.5, lat+1)}
			}
			if err := w.Write(f); err != nil {
				rt.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			rt.Fatal(err)
		}
		if bad := rfc7946(out.Bytes()); len(bad) > 0 {
			rt.Errorf("%s\n%v", out.Bytes(), bad)
		}
	})
}

// rfc7946 returns the rules of RFC 7946 that a FeatureCollection breaks, each
// with its section. It reads plain JSON and shares no code with the writer.
func rfc7946(text []byte) (broken []string) {
	rule := func(section, format string, args ...any) {
		broken = append(broken, "§"+section+": "+fmt.Sprintf(format, args...))
	}
	var top map[string]any
	if err := json.Unmarshal(text, &top); err != nil {
		rule("1", "not JSON: %v", err)
		return broken
	}
	if top["type"] != "FeatureCollection" {
		rule("3.3", "type is %v", top["type"])
	}
	if top["crs"] != nil {
		rule("4", "a crs member, which RFC 7946 removed")
	}
	features, ok := top["features"].([]any)
	if !ok {
		rule("3.3", "features is not an array")
	}
	var lons, lats []float64
	position := func(v any) (p [2]float64) {
		list, ok := v.([]any)
		if !ok || len(list) != 2 {
			rule("3.1.1", "position %v is not two numbers", v)
			return p
		}
		for i := range p {
			if p[i], ok = list[i].(float64); !ok {
				rule("3.1.1", "coordinate %v is no number", list[i])
			}
			if scaled := p[i] * 1e6; math.Abs(scaled-math.Round(scaled)) > 1e-3 {
				rule("11.2", "coordinate %v has more than six decimals", p[i])
			}
		}
		if math.Abs(p[0]) > 180 || math.Abs(p[1]) > 90 {
			rule("4", "position %v is off the globe", p)
		}
		lons, lats = append(lons, p[0]), append(lats, p[1])
		return p
	}
	polygon := func(v any) {
		rings, _ := v.([]any)
		if len(rings) == 0 {
			rule("3.1.6", "polygon without rings")
		}
		for i, r := range rings {
			list, _ := r.([]any)
			if len(list) < 4 {
				rule("3.1.6", "ring of %d positions", len(list))
				continue
			}
			area := 0.0
			first, last := position(list[0]), position(list[0])
			for _, v := range list[1:] {
				at := position(v)
				area += (last[0]-first[0])*(at[1]-first[1]) - (at[0]-first[0])*(last[1]-first[1])
				if math.Abs(at[0]-last[0]) > 300 {
					rule("3.1.9", "an edge crosses the antimeridian")
				}
				last = at
			}
			if first != last {
				rule("3.1.6", "ring does not end where it began")
			}
			if (area > 0) != (i == 0) {
				rule("3.1.6", "ring %d breaks the right-hand rule", i)
			}
		}
	}
	for _, f := range features {
		f, _ := f.(map[string]any)
		if f["type"] != "Feature" {
			rule("3.2", "type of a feature is %v", f["type"])
		}
		switch props := f["properties"].(type) {
		case nil, map[string]any:
			if _, ok := f["properties"]; !ok {
				rule("3.2", "no properties member")
			}
		default:
			rule("3.2", "properties is %T", props)
		}
		switch f["id"].(type) {
		case nil, string, float64:
		default:
			rule("3.2", "id is %T", f["id"])
		}
		for _, name := range []string{"coordinates", "geometries", "features"} {
			if _, ok := f[name]; ok {
				rule("7.1", "a feature has %s", name)
			}
		}
		g, ok := f["geometry"].(map[string]any)
		if !ok {
			rule("3.2", "geometry is %v", f["geometry"])
			continue
		}
		switch g["type"] {
		case "Point":
			position(g["coordinates"])
		case "Polygon":
			polygon(g["coordinates"])
		case "MultiPolygon":
			parts, _ := g["coordinates"].([]any)
			for _, p := range parts {
				polygon(p)
			}
		default:
			rule("3.1", "geometry type %v", g["type"])
		}
	}
	box, _ := top["bbox"].([]any)
	switch {
	case len(lons) == 0:
		return broken
	case len(box) != 4:
		rule("5", "bbox is %v", top["bbox"])
		return broken
	}
	west, south, east, north := box[0].(float64), box[1].(float64), box[2].(float64), box[3].(float64)
	if (south == -90 || north == 90) && (west != -180 || east != 180) {
		rule("5.3", "bbox %v holds a pole and does not go round", box)
	}
	if south != slices.Min(lats) || north != slices.Max(lats) {
		rule("5", "bbox from %v to %v north, positions from %v to %v", south, north, slices.Min(lats), slices.Max(lats))
	}
	for _, lon := range lons {
		in := west <= lon && lon <= east
		if west > east {
			in = lon >= west || lon <= east
		}
		if !in {
			rule("5.2", "longitude %v outside bbox from %v to %v", lon, west, east)
		}
	}
	return broken
}

// The checker itself, against one collection for each rule it knows.
func TestRulesBite(t *testing.T) {
	collection := func(geometry, bbox string) string {
		return `{"type":"FeatureCollection","features":[{"type":"Feature","properties":null,"geometry":` + geometry + `}],"bbox":` + bbox + `}`
	}
	for _, tt := range []struct{ section, text string }{
		{"1", `{`},
		{"3.3", `{"type":"GeometryCollection","features":[]}`},
		{"3.3", `{"type":"FeatureCollection"}`},
		{"4", `{"type":"FeatureCollection","features":[],"crs":{}}`},
		{"3.2", `{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[1,2]}}],"bbox":[1,2,1,2]}`},
		{"3.1.1", collection(`{"type":"Point","coordinates":["1",2]}`, "[0,2,0,2]")},
		{"11.2", collection(`{"type":"Point","coordinates":[1.23456789,2]}`, "[1,2,2,2]")},
		{"4", collection(`{"type":"Point","coordinates":[181,2]}`, "[181,2,181,2]")},
		{"3.1.6", collection(`{"type":"Polygon","coordinates":[[[0,0],[0,1],[1,1],[1,0],[0,0]]]}`, "[0,0,1,1]")},
		{"3.1.6", collection(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,1]]]}`, "[0,0,1,1]")},
		{"3.1.9", collection(`{"type":"Polygon","coordinates":[[[-179,0],[179,0],[179,1],[-179,1],[-179,0]]]}`, "[-179,0,179,1]")},
		{"3.1", collection(`{"type":"Circle","coordinates":[1,2]}`, "[1,2,1,2]")},
		{"5", collection(`{"type":"Point","coordinates":[1,2]}`, "[1,1,1,2]")},
		{"5", collection(`{"type":"Point","coordinates":[1,2]}`, "[1,2]")},
		{"5.3", collection(`{"type":"Point","coordinates":[1,90]}`, "[1,90,1,90]")},
		{"5.2", collection(`{"type":"Point","coordinates":[1,2]}`, "[2,2,3,2]")},
	} {
		bad := rfc7946([]byte(tt.text))
		if !slices.ContainsFunc(bad, func(b string) bool { return strings.HasPrefix(b, "§"+tt.section+":") }) {
			t.Errorf("%s: found %v, want section %s", tt.text, bad, tt.section)
		}
	}
	if bad := rfc7946([]byte(collection(`{"type":"Point","coordinates":[1,2]}`, "[1,2,1,2]"))); len(bad) > 0 {
		t.Errorf("a good collection: %v", bad)
	}
}

func BenchmarkWrite(b *testing.B) {
	lcoh := 0.0217345834
	f := Feature{ID: "S000001", Geometry: cell(8.8, 50, 8.85, 50.05), Properties: properties{Name: "somewhere", LCOH: &lcoh}}
	w, err := NewWriter(new(bytes.Buffer), nil)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		w.out.(*bytes.Buffer).Reset()
		if err := w.Write(f); err != nil {
			b.Fatal(err)
		}
	}
}
