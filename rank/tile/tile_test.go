package tile

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/mvt"
	"github.com/paulmach/orb/geojson"
	"github.com/paulmach/orb/maptile"
	"github.com/paulmach/orb/planar"

	"stillrow/data/area"
	"stillrow/rank/pmtiles"
	"stillrow/rank/pmtiles/archivetest"
	"stillrow/rank/survey"
)

// written is the archive of a survey.
func written(t testing.TB, s *survey.Survey, workers int) archivetest.Archive {
	t.Helper()
	dir := t.TempDir()
	var out bytes.Buffer
	if err := Write(&out, s, Options{Title: "Halvane", Source: "invented & free", Names: names(s), Dir: dir, Workers: workers}); err != nil {
		t.Fatal(err)
	}
	if left, _ := os.ReadDir(dir); len(left) > 0 {
		t.Fatalf("left behind: %v", left)
	}
	return out.Bytes()
}

// A decoded tile, read by orb's decoder.
type decoded struct {
	maptile.Tile
	layers mvt.Layers
}

// tiles are those of one zoom.
func tiles(t testing.TB, a archivetest.Archive, z maptile.Zoom) (list []decoded) {
	t.Helper()
	n := uint32(1) << z
	at := make(map[uint64]maptile.Tile)
	for y := range n {
		for x := range n {
			at[pmtiles.ID(uint8(z), x, y)] = maptile.New(x, y, z)
		}
	}
	err := a.Each(func(id uint64, b []byte) error {
		tile, ok := at[id]
		if !ok {
			return nil
		}
		layers, err := mvt.UnmarshalGzipped(b)
		list = append(list, decoded{tile, layers})
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

// zooms is the deepest one of an archive.
func zooms(a archivetest.Archive) maptile.Zoom { return maptile.Zoom(a[101]) }

// surveyOf holds places of one layer; every place has the heat of its number.
func surveyOf(t testing.TB, within *area.Area, places ...survey.Place) *survey.Survey {
	t.Helper()
	s, err := survey.New(t.TempDir(), []survey.Layer{{Use: "year", Outlet: 45}}, nil, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	s.Within = within
	none := s.Reason("no heat")
	for i, p := range places {
		f := survey.None(0.08)
		f.Heat, f.Without = float64(i), none
		if err := s.Add(p, []survey.Finding{f}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Finish(); err != nil {
		t.Fatal(err)
	}
	return s
}

// Every cell is in exactly the tiles that its outline, or a margin of 64 of
// 4096 units around them, reaches into, its outline where it belongs. The
// projection is orb's.
func TestCellsInTheirTiles(t *testing.T) {
	for _, tt := range []struct {
		name              string
		south, west, step float64
	}{
		{"middle", 30, 5, 0.25},
		{"near the pole", 83, 40, 0.25},
		{"southern", -62, -100, 0.25},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := region(t, 14, 30, 1, tt.south, tt.west, tt.step)
			a := written(t, s, 2)
			z := zooms(a)
			if w := tt.step / 360 * math.Exp2(float64(z)) * 256; w < 8 || w >= 16 {
				t.Fatalf("zoom %d: cells of %g pixels", z, w)
			}
			got := make(map[string]bool)
			for _, tile := range tiles(t, a, z) {
				for _, f := range tile.layers[0].Features {
					i := int(f.ID.(float64)) - 1
					got[fmt.Sprint(tile.X, tile.Y, i)] = true
					if want, b := inTile(s.Shape(i).Bound(), tile.Tile), f.Geometry.Bound(); !near(want, b) {
						t.Errorf("tile %v, cell %d: %v, want %v", tile.Tile, i, b, want)
					}
					if p := s.Place(i); f.Properties["site_id"] != p.ID || f.Properties["places"] != 1.0 {
						t.Errorf("cell %s: properties %v", p.ID, f.Properties)
					}
				}
			}
			want := make(map[string]bool)
			side := uint32(1) << z
			for i := range s.Len() {
				// Of all tiles, those within two of the cell's can have it.
				c := maptile.At(orb.Point{s.Place(i).Lon, s.Place(i).Lat}, z)
				for x := c.X - 2; x <= c.X+2; x++ {
					for y := max(c.Y, 2) - 2; y <= min(c.Y+2, side-1); y++ {
						if b := inTile(s.Shape(i).Bound(), maptile.New(x, y, z)); b.Right() > b.Left() && b.Top() > b.Bottom() {
							want[fmt.Sprint(x, y, i)] = true
						}
					}
				}
			}
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("tile and cell: -want +got:\n%s", d)
			}
		})
	}
}

// inTile is what a tile shows of a rectangle, in its units, by orb's own
// projection.
func inTile(b orb.Bound, tile maptile.Tile) orb.Bound {
	scale := func(v, from float64) float64 { return max(-64, min(4096+64, math.Round((v-from)*4096))) }
	x0, x1 := maptile.Fraction(b.LeftTop(), tile.Z)[0], maptile.Fraction(b.RightBottom(), tile.Z)[0]
	// orb counts tiles, not places, beyond the end of the map.
	y0 := maptile.Fraction(orb.Point{b.Left(), min(b.Top(), 85.05112877)}, tile.Z)[1]
	y1 := maptile.Fraction(orb.Point{b.Left(), min(b.Bottom(), 85.05112877)}, tile.Z)[1]
	return orb.Bound{
		Min: orb.Point{scale(x0, float64(tile.X)), scale(y0, float64(tile.Y))},
		Max: orb.Point{scale(x1, float64(tile.X)), scale(y1, float64(tile.Y))},
	}
}

// near allows for a unit at the pole, where degrees are long.
func near(a, b orb.Bound) bool {
	return math.Abs(a.Min[0]-b.Min[0]) <= 0 && math.Abs(a.Max[0]-b.Max[0]) <= 0 &&
		math.Abs(a.Min[1]-b.Min[1]) <= 1 && math.Abs(a.Max[1]-b.Max[1]) <= 1
}

// At every zoom each cell counts in one feature alone, and each number is the
// mean of the cells within its outline, worked out here from the findings.
func TestMeans(t *testing.T) {
	s := region(t, 37, 53, 2, 41, 3, 0.5)
	a := written(t, s, 2)
	for z := range zooms(a) {
		seen := make(map[float64]bool)
		of := make([]int, s.Len())
		for _, tile := range tiles(t, a, z) {
			for l := range tile.layers {
				var complete []*geojson.Feature
				for _, f := range tile.layers[l].Features {
					key := f.ID.(float64) + float64(l)*1e6
					if !tileBound.Pad(-1).Union(f.Geometry.Bound()).Equal(tileBound.Pad(-1)) || seen[key] {
						continue // the tile has but a part of it, or another had all
					}
					seen[key] = true
					complete = append(complete, f)
				}
				tile.layers[l].Features = complete
				tile.layers[l].ProjectToWGS84(tile.Tile)
				for _, f := range complete {
					checkMean(t, s, l, f, of)
				}
			}
		}
		for i, n := range of {
			if n > len(s.Layers) {
				t.Errorf("zoom %d: cell %d counts %d times in %d layers", z, i, n, len(s.Layers))
			}
		}
		if whole := len(s.Layers) * s.Len(); z == 0 && sum(of) != whole {
			t.Errorf("zoom 0: %d cells count, want %d", sum(of), whole)
		}
	}
}

func checkMean(t *testing.T, s *survey.Survey, l int, f *geojson.Feature, of []int) {
	t.Helper()
	var heat, lcoh, beats, all, served float64
	n, tilt := 0, math.NaN()
	err := s.Each(l, func(i int, x *survey.Finding) error {
		p := s.Place(i)
		if !f.Geometry.Bound().Contains(orb.Point{p.Lon, p.Lat}) {
			return nil
		}
		n++
		of[i]++
		rad := math.Pi / 180
		w := math.Sin((p.Lat+p.CellDeg/2)*rad) - math.Sin((p.Lat-p.CellDeg/2)*rad)
		all += w
		heat += w * x.Heat
		if x.Design >= 0 {
			served += w
			lcoh += w * x.LCOH
			if d := s.Designs[x.Design]; d.MirrorLength > 0 {
				tilt = d.MirrorTilt
			}
		}
		if x.BeatsGas {
			beats += w
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if n > 1 { // a mean tilt is that of no design
		tilt = math.NaN()
	}
	for _, tt := range []struct {
		name           string
		want, halfStep float64
	}{
		{"places", float64(n), 0},
		{"heat_kwh_m2", heat / all, 0.5},
		{"served_share", served / all, 0.0005},
		{"beats_gas_share", beats / all, 0.0005},
		{"lcoh_per_kwh", lcoh / served, 0.5e-3 * lcoh / served},
		{"best_tilt_deg", tilt, 0.05},
	} {
		got, ok := f.Properties[tt.name].(float64)
		if math.IsNaN(tt.want) != !ok || math.Abs(got-tt.want) > tt.halfStep*1.001+1e-9 {
			t.Errorf("layer %d, feature of %d cells: %s is %v, want %v", l, n, tt.name, f.Properties[tt.name], tt.want)
		}
	}
}

func sum(list []int) (n int) {
	for _, v := range list {
		n += v
	}
	return n
}

// Across the antimeridian a cell shows on both sides, and what the pole has
// beyond the map shows nowhere.
func TestEdgesOfTheMap(t *testing.T) {
	s := surveyOf(t, nil,
		survey.Place{ID: "across", Lat: -17, Lon: 180, CellDeg: 1},
		survey.Place{ID: "half", Lat: 85, Lon: 10, CellDeg: 1},
		survey.Place{ID: "beyond", Lat: 88, Lon: 10, CellDeg: 1},
		survey.Place{ID: "pole", Lat: -90, Lon: 10, CellDeg: 1},
		survey.Place{ID: "station there", Lat: 89, Lon: 10},
		survey.Place{ID: "east", Lat: 1, Lon: 180},
		survey.Place{ID: "west", Lat: 1, Lon: -180},
	)
	a := written(t, s, 1)
	z := zooms(a)
	found := make(map[string][]string)
	for _, tile := range tiles(t, a, z) {
		for _, f := range tile.layers[0].Features {
			b := f.Geometry.Bound()
			id := f.Properties["site_id"].(string)
			found[id] = append(found[id], fmt.Sprintf("%d/%d %s %g..%g", tile.X, tile.Y, f.Geometry.GeoJSONType(), b.Left(), b.Right()))
		}
	}
	for _, list := range found {
		slices.Sort(list)
	}
	last := 1<<z - 1
	half := math.Round(0.5 / 360 * math.Exp2(float64(z)) * 4096)
	row := func(lat float64) uint32 { return maptile.At(orb.Point{0, lat}, z).Y }
	west := math.Round((190-0.5)/360*math.Exp2(float64(z))*4096) - math.Floor((190-0.5)/360*math.Exp2(float64(z)))*4096
	want := map[string][]string{
		"across": {
			fmt.Sprintf("0/%d Polygon -64..%g", row(-17), half),
			fmt.Sprintf("%d/%d Polygon %g..4160", last, row(-17), 4096-half),
		},
		"half": {fmt.Sprintf("%d/0 Polygon %g..%g", maptile.At(orb.Point{10, 0}, z).X, west, west+2*half)},
		"east": {fmt.Sprintf("0/%d Point 0..0", row(1))},
		"west": {fmt.Sprintf("0/%d Point 0..0", row(1))},
	}
	if d := cmp.Diff(want, found); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	if b := bounds(s); b.Max[1] > 85.0512 || b.Min[1] < -85.0512 {
		t.Errorf("bounds %v", b)
	}
}

// Cells at a border show the part within it, with the holes and orientation
// that vector tiles want.
func TestClippedCells(t *testing.T) {
	a, err := area.Parse("a", []byte(`{"type":"Polygon","coordinates":[[[8.1,49.2],[11.7,49.9],[10.2,52.8],[8.1,49.2]],[[9.9,50.4],[10.1,50.4],[10.1,50.6],[9.9,50.6],[9.9,50.4]]]}`))
	if err != nil {
		t.Fatal(err)
	}
	var places []survey.Place
	for lat := 49.5; lat < 53; lat++ {
		for lon := 8.5; lon < 12; lon++ {
			if a.Overlaps(lat, lon, 1, 1) {
				places = append(places, survey.Place{ID: fmt.Sprint(lat, lon), Lat: lat, Lon: lon, CellDeg: 1})
			}
		}
	}
	s := surveyOf(t, a, places...)
	archive := written(t, s, 1)
	shown := make([]float64, s.Len())
	for _, tile := range tiles(t, archive, zooms(archive)) {
		for _, f := range tile.layers[0].Features {
			p, ok := f.Geometry.(orb.Polygon)
			if !ok {
				t.Fatalf("%T", f.Geometry)
			}
			for i, r := range p {
				if want := []orb.Orientation{orb.CCW, orb.CW}[min(i, 1)]; r.Orientation() != want {
					t.Errorf("ring %d of %v runs the wrong way", i, f.Properties)
				}
			}
			i := int(f.ID.(float64)) - 1
			b := p.Bound()
			if b.Left() >= 0 && b.Top() <= 4096 && b.Bottom() >= 0 && b.Right() <= 4096 {
				shown[i] = planar.Area(p) / planar.Area(tileRing(s.Shape(i), tile.Tile))
			}
		}
	}
	n := 0
	for i, v := range shown {
		if v == 0 {
			continue // in no tile as a whole
		}
		n++
		if math.Abs(v-1) > 0.03 {
			t.Errorf("cell %s: shown %g of its area", s.Place(i).ID, v)
		}
	}
	if n < 4 {
		t.Errorf("%d cells compared", n)
	}
}

// tileRing is a shape in units of a tile by orb's projection.
func tileRing(g orb.Geometry, tile maptile.Tile) orb.Geometry {
	l := mvt.Layer{Extent: extent, Features: []*geojson.Feature{geojson.NewFeature(orb.Clone(g))}}
	l.ProjectToTile(tile)
	return l.Features[0].Geometry
}

// Stations are points, and where many share a square one point amid them.
func TestStations(t *testing.T) {
	var places []survey.Place
	for i := range 400 {
		places = append(places, survey.Place{ID: fmt.Sprint(i), Lat: 40 + 0.01*float64(i%20), Lon: -3 + 0.01*float64(i/20)})
	}
	s := surveyOf(t, nil, places...)
	a := written(t, s, 1)
	all := tiles(t, a, 0)
	if len(all) != 1 || len(all[0].layers[0].Features) != 1 {
		t.Fatalf("zoom 0: %v", all)
	}
	all[0].layers[0].ProjectToWGS84(all[0].Tile)
	f := all[0].layers[0].Features[0]
	if p, ok := f.Geometry.(orb.Point); !ok || planar.Distance(p, orb.Point{-2.905, 40.095}) > 360.0/4096 {
		t.Errorf("zoom 0: %v", f.Geometry)
	}
	if f.Properties["places"] != 400.0 || f.Properties["heat_kwh_m2"] != 200.0 { // 199.5 rounded
		t.Errorf("zoom 0: %v", f.Properties)
	}
	seen := make(map[any]int)
	for _, tile := range tiles(t, a, zooms(a)) {
		for _, f := range tile.layers[0].Features {
			if _, ok := f.Geometry.(orb.Point); !ok {
				t.Errorf("%T", f.Geometry)
			}
			seen[f.Properties["site_id"]]++
		}
	}
	for _, p := range places {
		if seen[p.ID] != 1 {
			t.Errorf("station %s is in %d tiles", p.ID, seen[p.ID])
		}
	}
}

// Where thousands of places crowd, tiles go deeper.
func TestCrowd(t *testing.T) {
	var places []survey.Place
	for i := range 20_000 {
		places = append(places, survey.Place{ID: fmt.Sprint(i), Lat: 40 + 0.001*float64(i%200), Lon: -3 + 0.001*float64(i/200)})
	}
	s := surveyOf(t, nil, places...)
	if z, _ := resolution(s); fullest(s, maptile.Zoom(z)) > crowd || z < 5 {
		t.Errorf("zoom %d: %d places in a tile", z, fullest(s, maptile.Zoom(z)))
	}
}

func TestSameBytes(t *testing.T) {
	s := region(t, 30, 40, 5, 35, -10, 0.5)
	one := written(t, s, 1)
	for _, workers := range []int{2, 3, 16} {
		if !bytes.Equal(one, written(t, s, workers)) {
			t.Errorf("%d workers: other bytes", workers)
		}
	}
}
