package rank

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"

	"stillrow/simulate/result"
)

func TestShape(t *testing.T) {
	for _, tt := range []struct {
		name           string
		lat, lon, cell float64
		want           orb.Geometry
	}{
		{"station", 50.05, 8.6, 0, orb.Point{8.6, 50.05}},
		{"cell", 50, 8, 1, orb.Polygon{{{7.5, 49.5}, {8.5, 49.5}, {8.5, 50.5}, {7.5, 50.5}, {7.5, 49.5}}}},
		{"cell across the antimeridian from the east", -17, 179.9, 0.5, orb.MultiPolygon{
			{{{179.65, -17.25}, {180, -17.25}, {180, -16.75}, {179.65, -16.75}, {179.65, -17.25}}},
			{{{-180, -17.25}, {-179.85, -17.25}, {-179.85, -16.75}, {-180, -16.75}, {-180, -17.25}}},
		}},
		{"centred on it", 0, -180, 1, orb.MultiPolygon{
			{{{179.5, -0.5}, {180, -0.5}, {180, 0.5}, {179.5, 0.5}, {179.5, -0.5}}},
			{{{-180, -0.5}, {-179.5, -0.5}, {-179.5, 0.5}, {-180, 0.5}, {-180, -0.5}}},
		}},
		{"up to it", 0, 179.75, 0.5, orb.Polygon{{{179.5, -0.25}, {180, -0.25}, {180, 0.25}, {179.5, 0.25}, {179.5, -0.25}}}},
		{"cut at the pole", 90, 0, 1, orb.Polygon{{{-0.5, 89.5}, {0.5, 89.5}, {0.5, 90}, {-0.5, 90}, {-0.5, 89.5}}}},
	} {
		got, err := shape(&result.Site{ID: "x", Lat: tt.lat, Lon: tt.lon, CellDeg: tt.cell})
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(tt.want, got); d != "" {
			t.Errorf("%s: -want +got:\n%s", tt.name, d)
		}
	}
}

// Cells of 0.05° from 8.825 on: computed from either side, an edge is one number.
func TestNeighboursShareAnEdge(t *testing.T) {
	east := math.NaN()
	for i := range 2000 {
		s := result.Site{Lat: 50.025, Lon: 8.825 + float64(i)*0.05, CellDeg: 0.05}
		g, err := shape(&s)
		if err != nil {
			t.Fatal(err)
		}
		b := g.Bound()
		if i > 0 && b.Left() != east {
			t.Fatalf("cell %d begins at %v, the one before ends at %v", i, b.Left(), east)
		}
		east = b.Right()
	}
}

func TestPlacesRefused(t *testing.T) {
	for _, tt := range []struct {
		site result.Site
		want string
	}{
		{result.Site{ID: "x", Lat: 91}, "site x: lat = 91, lon = 0, want"},
		{result.Site{ID: "x", Lon: 359.5}, "site x: lat = 0, lon = 359.5, want"},
		{result.Site{ID: "x", Lat: math.NaN()}, "site x: lat = NaN"},
		{result.Site{ID: "x", CellDeg: -1}, "site x: cell_deg = -1, want 0 to 90"},
	} {
		if _, err := shape(&tt.site); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want %q", err, tt.want)
		}
	}
}
