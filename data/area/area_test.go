package area

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

const square = `[[10,40],[20,40],[20,50],[10,50],[10,40]]`

func TestContains(t *testing.T) {
	type at struct{ lat, lon float64 }
	for _, tt := range []struct {
		name, text string
		in, out    []at
	}{
		{"polygon", `{"type":"Polygon","coordinates":[` + square + `]}`, []at{{45, 15}, {45, 375}, {45, -345}}, []at{{45, 21}, {39, 15}, {45, -15}}},
		{"hole", `{"type":"Polygon","coordinates":[` + square + `,[[14,44],[14,46],[16,46],[16,44],[14,44]]]}`, []at{{45, 13}}, []at{{45, 15}}},
		{"feature in collection", `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":null},
			{"type":"Feature","properties":{"n":1},"geometry":{"type":"MultiPolygon","coordinates":[[` + square + `],[[[0,0],[1,0],[1,1],[0,0]]]]}}]}`,
			[]at{{45, 15}, {0.2, 0.5}}, []at{{0.9, 0.5}}},
		{"the earth", `{"type":"Polygon","coordinates":[[[-180,-60],[180,-60],[180,75],[-180,75],[-180,-60]]]}`, []at{{45, 15}, {0, 179}, {0, -179}}, []at{{80, 15}, {-61, 0}}},
		{"half the earth", `{"type":"Polygon","coordinates":[[[-30,0],[150,0],[150,80],[-30,80],[-30,0]]]}`, []at{{45, 15}}, []at{{45, -31}, {45, 170}}},
		{"stepping at 180", `{"type":"Polygon","coordinates":[[[170,-20],[180,-20],[-180,-20],[-170,-20],[-170,-10],[-180,-10],[180,-10],[170,-10],[170,-20]]]}`,
			[]at{{-15, 175}, {-15, -175}}, []at{{-15, 165}, {-15, 0}}},
		// The three ways to cross the antimeridian.
		{"cut in two", `{"type":"MultiPolygon","coordinates":[[[[170,-20],[180,-20],[180,-10],[170,-10],[170,-20]]],[[[-180,-20],[-170,-20],[-170,-10],[-180,-10],[-180,-20]]]]}`,
			[]at{{-15, 175}, {-15, -175}}, []at{{-15, 165}, {-15, -165}, {-15, 0}}},
		{"past 180", `{"type":"Polygon","coordinates":[[[170,-20],[190,-20],[190,-10],[170,-10],[170,-20]]]}`,
			[]at{{-15, 175}, {-15, -175}, {-15, 180}, {-15, -180}}, []at{{-15, 165}, {-15, -165}, {-15, 0}}},
		{"stepping over, hole on the other side", `{"type":"Polygon","coordinates":[[[170,-20],[-170,-20],[-170,-10],[170,-10],[170,-20]],[[-176,-16],[-174,-16],[-174,-14],[-176,-14],[-176,-16]]]}`,
			[]at{{-15, 175}, {-15, -179}}, []at{{-15, -175}, {-15, 165}, {-15, -165}, {-15, 0}}},
	} {
		a, err := Parse("a.geojson", []byte(tt.text))
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		for _, p := range tt.in {
			if !a.Contains(p.lat, p.lon) {
				t.Errorf("%s: %v is outside", tt.name, p)
			}
		}
		for _, p := range tt.out {
			if a.Contains(p.lat, p.lon) {
				t.Errorf("%s: %v is inside", tt.name, p)
			}
		}
	}
}

// The place is told by the sides at its latitude alone: against orb's walk
// around every ring.
func TestContainsAsOrb(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for n := range 100 {
		p := star(r, 3+r.IntN(20), n%2 == 0)
		a := areaOf(t, p)
		for k := range 300 {
			at := orb.Point{9*r.Float64() - 4.5, 9*r.Float64() - 4.5}
			switch k % 3 {
			case 1: // at the height of a corner
				at[1] = p[0][r.IntN(len(p[0]))][1]
			case 2: // on one
				at = p[0][r.IntN(len(p[0]))]
			}
			if got, want := a.Contains(at[1], at[0]), planar.PolygonContains(p, at); got != want {
				t.Fatalf("%v of %v: %v, want %v", at, p, got, want)
			}
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{"{\n\"type\": oops}", "a.geojson:2: no GeoJSON: "},
		{`[1]`, "no GeoJSON: "},
		{`{"kind":"Polygon"}`, `an object without "type"`},
		{`{"type":"Point","coordinates":[1,2]}`, "a Point has no inside; polygons are wanted"},
		{`{"type":"FeatureCollection","features":[]}`, "no polygon in it"},
		{`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1]]]}`, "want at least 4"},
		{`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[2,2]]]}`, "the last like the first"},
		{`{"type":"Polygon","coordinates":[[[0,0],[1,95],[1,1],[0,0]]]}`, "point 1 is 1, 95"},
		{`{"type":"Polygon","coordinates":[[[0,60],[100,60],[180,60],[-100,60],[0,60]]]}`, "runs around a pole"},
		{`{"type":"Polygon","coordinates":[[[-10,0],[180,0],[180,60],[-10,60],[-10,0]]]}`, "points 0 and 1 lie 190 degrees of longitude apart"},
		{`{"type":"Polygon","coordinates":"x"}`, "a.geojson: "},
	} {
		if _, err := Parse("a.geojson", []byte(tt.text)); err == nil || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want %q", tt.text, err, tt.want)
		}
	}
}

// A file of a gigabyte, of which the disk holds nothing.
func TestReadTooLong(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.geojson")
	if err := os.WriteFile(path, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(path, 1<<30); err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := Read(path)
	runtime.ReadMemStats(&after)
	if want := path + ": 1073741824 bytes, want at most 67108864; simplify its outlines"; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
	if n := after.TotalAlloc - before.TotalAlloc; n > 1<<20 {
		t.Errorf("%d bytes taken", n)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(`{"type":"Polygon","coordinates":[` + square + `]}`)
	f.Add(`{"type":"Feature","geometry":{"type":"GeometryCollection","geometries":[]}}`)
	f.Fuzz(func(t *testing.T, text string) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		a, err := Parse("a", []byte(text))
		runtime.ReadMemStats(&after)
		if n := after.TotalAlloc - before.TotalAlloc; n > 16<<20+1<<10*uint64(len(text)) {
			t.Errorf("%d bytes taken for a text of %d", n, len(text))
		}
		if err == nil {
			a.Contains(45, 15)
		} else if s := err.Error(); !strings.HasPrefix(s, "a:") || strings.Contains(s, "\n") {
			t.Errorf("not one line that names the file: %q", s)
		}
	})
}
