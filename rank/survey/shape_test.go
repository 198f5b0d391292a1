package survey

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"

	"stillrow/data/area"
)

// surveyOf holds places without findings.
func surveyOf(t *testing.T, within *area.Area, places ...Place) *Survey {
	t.Helper()
	s, err := New(t.TempDir(), nil, nil, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	s.Within = within
	for _, p := range places {
		if err := s.Add(p, nil); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func rect(west, south, east, north float64) orb.Polygon {
	return orb.Polygon{{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}}
}

func TestShape(t *testing.T) {
	for _, tt := range []struct {
		name  string
		place Place
		want  orb.Geometry
	}{
		{"station", Place{Lat: 50.05, Lon: 8.6}, orb.Point{8.6, 50.05}},
		{"cell", Place{Lat: 50, Lon: 8, CellDeg: 1}, rect(7.5, 49.5, 8.5, 50.5)},
		{"wide cell", Place{Lat: 50, Lon: 8, CellDeg: 1, CellLonDeg: 2}, rect(7, 49.5, 9, 50.5)},
		{"across the antimeridian from the east", Place{Lat: -17, Lon: 179.9, CellDeg: 0.5},
			orb.MultiPolygon{rect(179.65, -17.25, 180, -16.75), rect(-180, -17.25, -179.85, -16.75)}},
		{"centred on it", Place{Lon: -180, CellDeg: 1}, orb.MultiPolygon{rect(179.5, -0.5, 180, 0.5), rect(-180, -0.5, -179.5, 0.5)}},
		{"up to it", Place{Lon: 179.75, CellDeg: 0.5}, rect(179.5, -0.25, 180, 0.25)},
		{"cut at the pole", Place{Lat: 90, CellDeg: 1}, rect(-0.5, 89.5, 0.5, 90)},
	} {
		if d := cmp.Diff(tt.want, surveyOf(t, nil, tt.place).Shape(0)); d != "" {
			t.Errorf("%s: -want +got:\n%s", tt.name, d)
		}
	}
}

func TestShapeWithin(t *testing.T) {
	a, err := area.Parse("a", []byte(`{"type":"Polygon","coordinates":[[[178,-18],[181,-18],[181,-17.1],[178,-17],[178,-18]]]}`))
	if err != nil {
		t.Fatal(err)
	}
	places := []Place{
		{Lat: -17.5, Lon: 178.5},               // a station
		{Lat: -17.5, Lon: 178.5, CellDeg: 0.5}, // all inside
		{Lat: -18, Lon: 179.75, CellDeg: 0.5},  // half of it
		{Lat: -18, Lon: 180, CellDeg: 1},       // half of it, in two parts
		{Lat: -18, Lon: -179, CellDeg: 1},      // one of its parts alone
		{Lat: -20, Lon: 178.5, CellDeg: 0.5},   // outside: whoever adds it wants it
	}
	s := surveyOf(t, a, places...)
	for i, want := range []orb.Geometry{
		orb.Point{178.5, -17.5},
		rect(178.25, -17.75, 178.75, -17.25),
		rect(179.5, -18, 180, -17.75),
		orb.MultiPolygon{rect(179.5, -18, 180, -17.5), rect(-180, -18, -179.5, -17.5)},
		rect(-179.5, -18, -179, -17.5),
		rect(178.25, -20.25, 178.75, -19.75),
	} {
		if d := cmp.Diff(want, s.Shape(i)); d != "" {
			t.Errorf("place %d: -want +got:\n%s", i, d)
		}
	}
	if len(s.clipped) != 3 {
		t.Errorf("%d shapes kept, want those of the border alone", len(s.clipped))
	}
}

// Cells of 0.05° from 8.825 on: computed from either side, an edge is one number.
func TestNeighboursShareAnEdge(t *testing.T) {
	east := math.NaN()
	for i := range 2000 {
		p := Place{Lat: 50.025, Lon: 8.825 + float64(i)*0.05, CellDeg: 0.05}
		b := p.cell()[0]
		if i > 0 && b.Left() != east {
			t.Fatalf("cell %d begins at %v, the one before ends at %v", i, b.Left(), east)
		}
		east = b.Right()
	}
}

func TestPlacesRefused(t *testing.T) {
	for _, tt := range []struct {
		place Place
		want  string
	}{
		{Place{ID: "x", Lat: 91}, "site x: lat = 91, lon = 0, want"},
		{Place{ID: "x", Lon: 359.5}, "site x: lat = 0, lon = 359.5, want"},
		{Place{ID: "x", Lat: math.NaN()}, "site x: lat = NaN"},
		{Place{ID: "x", CellDeg: -1}, "site x: cell_deg = -1, want 0 to 90"},
		{Place{ID: "x", CellLonDeg: 91}, "site x: cell_lon_deg = 91, want 0 to 90"},
	} {
		s := surveyOf(t, nil)
		if err := s.Add(tt.place, nil); err == nil || !strings.Contains(err.Error(), tt.want) || s.Len() != 0 {
			t.Errorf("error %v, want %q", err, tt.want)
		}
	}
}
