package area

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/planar"
)

func box(west, south, east, north float64) orb.Bound {
	return orb.Bound{Min: orb.Point{west, south}, Max: orb.Point{east, north}}
}

func areaOf(t testing.TB, polygons ...orb.Polygon) *Area {
	t.Helper()
	text, err := geojson.NewGeometry(orb.MultiPolygon(polygons)).MarshalJSON()
	if err != nil {
		t.Fatal(err)
	}
	a, err := Parse("a", text)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func square4(west, south, east, north float64) orb.Ring {
	return orb.Ring{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}
}

func TestClip(t *testing.T) {
	frame := orb.Polygon{square4(0, 0, 10, 10), square4(4, 4, 6, 6)}
	for _, tt := range []struct {
		name string
		area []orb.Polygon
		box  orb.Bound
		want orb.MultiPolygon
	}{
		{"inside", []orb.Polygon{frame}, box(1, 1, 2, 2), orb.MultiPolygon{{square4(1, 1, 2, 2)}}},
		{"inside, borders in common", []orb.Polygon{frame}, box(0, 0, 4, 4), orb.MultiPolygon{{square4(0, 0, 4, 4)}}},
		{"not on the grid of the clipping", []orb.Polygon{frame}, box(1./3, 1, 2./3, 2), orb.MultiPolygon{{square4(1./3, 1, 2./3, 2)}}},
		{"outside", []orb.Polygon{frame}, box(11, 1, 12, 2), nil},
		{"beside, a border in common", []orb.Polygon{frame}, box(10, 1, 12, 2), nil},
		{"touching at a corner", []orb.Polygon{frame}, box(10, 10, 12, 12), nil},
		{"in the hole", []orb.Polygon{frame}, box(4.5, 4.5, 5, 5), nil},
		{"the hole", []orb.Polygon{frame}, box(4, 4, 6, 6), nil},
		{"a hair of it", []orb.Polygon{frame}, box(9.999999, 1, 12, 2), nil},
		{"half", []orb.Polygon{frame}, box(8, 1, 12, 2), orb.MultiPolygon{{square4(8, 1, 10, 2)}}},
		{"around the hole", []orb.Polygon{frame}, box(3, 3, 7, 7), orb.MultiPolygon{{square4(3, 3, 7, 7), {{4, 4}, {4, 6}, {6, 6}, {6, 4}, {4, 4}}}}},
		{"all of it", []orb.Polygon{{square4(2, 2, 3, 3)}}, box(0, 0, 9, 9), orb.MultiPolygon{{square4(2, 2, 3, 3)}}},
		{"parted by the hole", []orb.Polygon{frame}, box(4, 0, 6, 10), orb.MultiPolygon{{square4(4, 0, 6, 4)}, {square4(4, 6, 6, 10)}}},
		{"neighbours that share a border are one", []orb.Polygon{{square4(0, 0, 5, 10)}, {square4(5, 0, 10, 10)}}, box(4, 4, 6, 6), orb.MultiPolygon{{square4(4, 4, 6, 6)}}},
		{"overlapping ones, too", []orb.Polygon{{square4(0, 0, 6, 10)}, {square4(4, 0, 10, 9)}}, box(3, 8, 7, 12), orb.MultiPolygon{{{{3, 8}, {7, 8}, {7, 9}, {6, 9}, {6, 10}, {3, 10}, {3, 8}}}}},
		{"two that touch at a corner", []orb.Polygon{{square4(0, 0, 5, 5)}, {square4(5, 5, 10, 10)}}, box(4, 4, 6, 6), orb.MultiPolygon{{square4(4, 4, 5, 5)}, {square4(5, 5, 6, 6)}}},
		{"a hole that touches its outline", []orb.Polygon{{square4(0, 0, 8, 8), {{4, 0}, {6, 3}, {2, 3}, {4, 0}}}}, box(-1, -1, 9, 9),
			orb.MultiPolygon{{square4(0, 0, 8, 8), {{4, 0}, {2, 3}, {6, 3}, {4, 0}}}}},
		{"clockwise", []orb.Polygon{{{{0, 0}, {0, 10}, {10, 10}, {10, 0}, {0, 0}}}}, box(8, 1, 12, 2), orb.MultiPolygon{{square4(8, 1, 10, 2)}}},
		{"past 180 degrees", []orb.Polygon{{square4(170, 0, 190, 10)}}, box(-180, 4, -165, 6), orb.MultiPolygon{{square4(-180, 4, -170, 6)}}},
		{"a slope", []orb.Polygon{{{{0, 0}, {4, 0}, {0, 4}, {0, 0}}}}, box(1, 1, 3, 3), orb.MultiPolygon{{{{1, 1}, {3, 1}, {1, 3}, {1, 1}}}}},
	} {
		got := areaOf(t, tt.area...).Clip(tt.box)
		if d := cmp.Diff(tt.want, got); d != "" {
			t.Errorf("%s: -want +got:\n%s", tt.name, d)
		}
	}
}

// A station is inside by its point, a cell by any part of it.
func TestOverlaps(t *testing.T) {
	a := areaOf(t, orb.Polygon{square4(178, -18, 181, -17)})
	for _, tt := range []struct {
		lat, lon, cellLat, cellLon float64
		want                       bool
	}{
		{-17.5, 178.5, 0, 0, true},
		{-18.1, 178.5, 0, 0, false},
		{-18.1, 178.5, 0.5, 0, true},
		{-18.1, 178.5, 0.2, 0, false}, // shares the border
		{-17.5, -178.9, 0.1, 0.4, true},
		{-17.5, -178.9, 0.1, 0, false},
		{-17.5, -179.9, 0.5, 0, true},
	} {
		if got := a.Overlaps(tt.lat, tt.lon, tt.cellLat, tt.cellLon); got != tt.want {
			t.Errorf("%+v: %v", tt, got)
		}
	}
}

func TestBorder(t *testing.T) {
	inside, across := square4(0, 0, 5, 5), square4(179, -18, 181, -17)
	want := []orb.Ring{inside, square4(-180, -18, -179, -17), square4(179, -18, 180, -17)}
	got := areaOf(t, orb.Polygon{inside}, orb.Polygon{across}).Border()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

// Random areas, with corners on the edges of the cells as often as not: the
// parts of all cells are valid, have together what the area has, and a place
// lies in the part of its cell if and only if the area contains it.
func TestClipOfAnyArea(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 300 {
		var list []orb.Polygon
		for range 1 + r.IntN(3) {
			list = append(list, star(r, 3+r.IntN(20), n%2 == 0))
		}
		a := areaOf(t, list...)
		total, cells := 0.0, map[orb.Bound]orb.MultiPolygon{}
		for x := -6.0; x < 6; x++ {
			for y := -6.0; y < 6; y++ {
				b := box(x, y, x+1, y+1)
				part := a.Clip(b)
				cells[b] = part
				if err := valid(part, b); err != nil {
					t.Fatalf("area %v\ncell %v\npart %v\n%v", list, b, part, err)
				}
				total += planar.Area(part)
				for range 3 {
					at := orb.Point{x + r.Float64(), y + r.Float64()}
					if is := a.Contains(at[1], at[0]); is != planar.MultiPolygonContains(part, at) && distance(list, at) > 1e-5 {
						t.Fatalf("area %v\ncell %v\npart %v: %v is inside: %v", list, b, part, at, is)
					}
				}
			}
		}
		whole := planar.Area(a.Clip(box(-6, -6, 6, 6)))
		if math.Abs(total-whole) > 5*144*leastPart { // a few parts may be too small to count
			t.Errorf("area %v: parts have %g, all %g", list, total, whole)
		}
	}
}

// star is a polygon around a point near 0, some of its corners on whole
// degrees, which may make it cross itself.
func star(r *rand.Rand, corners int, whole bool) orb.Polygon {
	var ring orb.Ring
	cx, cy := 4*r.Float64()-2, 4*r.Float64()-2
	for i := range corners {
		angle := 2 * math.Pi * float64(i) / float64(corners)
		size := 0.2 + 3.5*r.Float64()
		p := orb.Point{cx + size*math.Cos(angle), cy + size*math.Sin(angle)}
		if whole && r.IntN(2) == 0 {
			p = orb.Point{math.Round(p[0]), math.Round(p[1])}
		}
		ring = append(ring, p)
	}
	return orb.Polygon{append(ring, ring[0])}
}

// distance is that of a place from the nearest side.
func distance(list []orb.Polygon, at orb.Point) float64 {
	d := math.Inf(1)
	for _, p := range list {
		for k := 1; k < len(p[0]); k++ {
			d = min(d, planar.DistanceFromSegment(p[0][k-1], p[0][k], at))
		}
	}
	return d
}

// valid says what is wrong by the rules of simple features (OGC 06-103r4,
// clause 6.1.11 and 6.1.14) and RFC 7946 section 3.1.6: rings are closed, do not
// touch themselves, cross nothing and have no side in common, outlines run
// counter-clockwise, holes clockwise, and all of it is on 6 decimals in the box.
func valid(m orb.MultiPolygon, b orb.Bound) error {
	var sides [][2]orb.Point
	for _, p := range m {
		for i, ring := range p {
			seen := map[orb.Point]bool{}
			if len(ring) < 4 || ring[0] != ring[len(ring)-1] {
				return fmt.Errorf("ring %v is not closed", ring)
			}
			if want := map[bool]orb.Orientation{true: orb.CCW, false: orb.CW}[i == 0]; ring.Orientation() != want {
				return fmt.Errorf("ring %v runs %v", ring, ring.Orientation())
			}
			if i > 0 && !planar.RingContains(p[0], orb.Point{(ring[0][0] + ring[1][0]) / 2, (ring[0][1] + ring[1][1]) / 2}) {
				return fmt.Errorf("hole %v is not in %v", ring, p[0])
			}
			for k := 1; k < len(ring); k++ {
				if seen[ring[k]] || !b.Pad(1e-12).Contains(ring[k]) {
					return fmt.Errorf("%v of %v is there twice or outside", ring[k], ring)
				}
				seen[ring[k]] = true
				sides = append(sides, [2]orb.Point{ring[k-1], ring[k]})
			}
		}
	}
	turn := func(a, b, c orb.Point) float64 { return (b[0]-a[0])*(c[1]-a[1]) - (b[1]-a[1])*(c[0]-a[0]) }
	for i, s := range sides {
		for _, o := range sides[:i] {
			if s == o || s[0] == o[1] && s[1] == o[0] {
				return fmt.Errorf("side %v is there twice", s)
			}
			if turn(s[0], s[1], o[0])*turn(s[0], s[1], o[1]) < -1e-12 && turn(o[0], o[1], s[0])*turn(o[0], o[1], s[1]) < -1e-12 {
				return fmt.Errorf("sides %v and %v cross", s, o)
			}
		}
	}
	return nil
}

func BenchmarkClip(b *testing.B) {
	var ring orb.Ring
	const corners = 20_000
	for i := range corners {
		angle := 2 * math.Pi * float64(i) / corners
		size := 8 + math.Sin(300*angle)
		ring = append(ring, orb.Point{size * math.Cos(angle), size * math.Sin(angle)})
	}
	a := areaOf(b, orb.Polygon{append(ring, ring[0])})
	for _, deg := range []float64{0.05, 0.25, 1} {
		b.Run(fmt.Sprint(deg), func(b *testing.B) {
			i := 0
			n := int(20 / deg)
			for b.Loop() {
				x, y := float64(i%n)*deg-10, float64(i/n%n)*deg-10
				a.Clip(box(x, y, x+deg, y+deg))
				i++
			}
		})
	}
}
