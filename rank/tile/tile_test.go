package tile

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/mvt"
	"github.com/paulmach/orb/maptile"

	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

// made is a survey of two layers over places; every seventh has no heat.
func made(t testing.TB, places []survey.Place) *survey.Survey {
	t.Helper()
	designs := []result.Design{{MirrorTilt: 75, MirrorLength: 1.2}, {}}
	s, err := survey.New(t.TempDir(), []survey.Layer{{Use: "year", Outlet: 45}, {Use: "winter", Outlet: 60}}, designs, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	for i, p := range places {
		p.ID = fmt.Sprint("S", i)
		f := survey.None(0.1)
		if i%7 != 6 {
			f.Design, f.LCOH, f.Heat, f.Sure = int32(i%2), 0.05+float64(i%11)/100, float64(100+i%13), float64(i%5)/4
			f.Ratio, f.BeatsGas = f.LCOH/0.1, f.LCOH < 0.1
		}
		if err := s.Add(p, []survey.Finding{f, f}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Finish(); err != nil {
		t.Fatal(err)
	}
	return s
}

func cells(south, west, deg float64, rows, columns int) (list []survey.Place) {
	for r := range rows {
		for c := range columns {
			lon := west + (float64(c)+0.5)*deg
			if lon > 180 {
				lon -= 360
			}
			list = append(list, survey.Place{Lat: south + (float64(r)+0.5)*deg, Lon: lon, CellDeg: deg, CellLonDeg: deg})
		}
	}
	return list
}

// tilesOf makes the tiles of a zoom and decodes them with orb's reader.
func tilesOf(t *testing.T, s *survey.Survey, z int) map[maptile.Tile]mvt.Layers {
	t.Helper()
	sh, err := newSheet(s, Options{Names: []string{"year-45", "winter-60"}})
	if err != nil {
		t.Fatal(err)
	}
	fields := sh.fields(z)
	all := make(map[maptile.Tile]mvt.Layers)
	for x := range uint32(1) << z {
		for y := range uint32(1) << z {
			tile := maptile.New(x, y, maptile.Zoom(z))
			var hits []hit
			for i := range fields {
				hits = append(hits, hit{0, tile, int32(i)})
			}
			text, err := sh.tile(hits, fields)
			if err != nil {
				t.Fatal(err)
			}
			if text == nil {
				continue
			}
			layers, err := mvt.UnmarshalGzipped(text)
			if err != nil {
				t.Fatal(err)
			}
			layers.ProjectToWGS84(tile)
			all[tile] = layers
		}
	}
	return all
}

func write(t testing.TB, s *survey.Survey) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := Write(&out, s, Options{Title: "Test", Source: "made up", Names: []string{"year-45", "winter-60"}, Dir: t.TempDir()}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// metadata reads the archive's own description (PMTiles v3, section 3: its
// offset and length are 8-byte numbers from byte 24 on).
func metadata(t *testing.T, archive []byte) (m map[string]any) {
	t.Helper()
	from, n := binary.LittleEndian.Uint64(archive[24:]), binary.LittleEndian.Uint64(archive[32:])
	z, err := gzip.NewReader(bytes.NewReader(archive[from : from+n]))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err == nil {
		err = json.Unmarshal(text, &m)
	}
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// At the last zoom every cell is there with its own figures, where it lies.
func TestEveryCell(t *testing.T) {
	s := made(t, cells(30, 10, 2, 9, 9))
	sh, _ := newSheet(s, Options{Names: []string{"year-45", "winter-60"}})
	z := sh.lastZoom()
	if px := sh.cellPixels(z); px < finest || px >= 2*finest {
		t.Errorf("zoom %d: a cell of %g pixels", z, px)
	}
	seen := make(map[string]orb.Bound)
	for tile, layers := range tilesOf(t, s, z) {
		for _, l := range layers {
			for _, f := range l.Features {
				id, b := f.Properties["site_id"].(string), f.Geometry.Bound()
				if old, ok := seen[id]; ok {
					b = b.Union(old)
				}
				seen[id] = b
				if f.Properties["cells"].(float64) != 1 {
					t.Errorf("tile %v: %v", tile, f.Properties)
				}
			}
		}
	}
	if len(seen) != s.Len() {
		t.Errorf("%d cells, want %d", len(seen), s.Len())
	}
	for i := range s.Len() {
		want, got := s.Shape(i).Bound(), seen[s.Place(i).ID]
		if math.Abs(want.Left()-got.Left()) > 0.05 || math.Abs(want.Top()-got.Top()) > 0.05 || math.Abs(want.Right()-got.Right()) > 0.05 {
			t.Errorf("cell %d lies at %v, want %v", i, got, want)
		}
	}
}

// At a low zoom cells are merged by mean; none is lost or counted twice.
func TestMergedMeans(t *testing.T) {
	s := made(t, cells(32, 16, 0.25, 32, 32))
	var found survey.Finding
	for _, l := range tilesOf(t, s, 2)[maptile.At(orb.Point{20, 36}, 2)] {
		total, heat := 0, 0.0
		for _, f := range l.Features {
			n := int(f.Properties["cells"].(float64))
			total += n
			heat += f.Properties["heat_kwh_m2"].(float64) * float64(n)
			if n < 4 {
				t.Errorf("%d cells merged", n)
			}
		}
		want := 0.0
		for i := range s.Len() {
			if err := s.At(0, i, &found); err != nil {
				t.Fatal(err)
			}
			want += found.Heat
		}
		if total != s.Len() || math.Abs(heat-want) > 1e-5*want {
			t.Errorf("%s: %d cells of %g kWh/m², want %d of %g", l.Name, total, heat, s.Len(), want)
		}
	}
}

// Stations, poles, the antimeridian and the whole globe make an archive; the
// same survey gives the same bytes.
func TestArchives(t *testing.T) {
	for name, places := range map[string][]survey.Place{
		"stations":     {{Lat: 60, Lon: 10}, {Lat: -33, Lon: 151}, {Lat: 90, Lon: 0}},
		"antimeridian": cells(-18, 178, 0.5, 4, 8),
		"globe":        cells(-90, -180, 10, 18, 36),
	} {
		s := made(t, places)
		archive := write(t, s)
		if !bytes.HasPrefix(archive, []byte("PMTiles\x03")) {
			t.Errorf("%s: begins %q", name, archive[:8])
		}
		if again := write(t, s); !bytes.Equal(archive, again) {
			t.Errorf("%s: not the same the second time", name)
		}
		m := metadata(t, archive)
		if layers := m["vector_layers"].([]any); len(layers) != 2 || layers[1].(map[string]any)["id"] != "winter-60" || m["attribution"] != "made up" {
			t.Errorf("%s: %v", name, m)
		}
	}
}

// Points are drawn as points.
func TestStations(t *testing.T) {
	s := made(t, []survey.Place{{Lat: 60, Lon: 10}, {Lat: 60.1, Lon: 10}})
	n := 0
	for _, layers := range tilesOf(t, s, 3) {
		for _, f := range layers[0].Features {
			n++
			if p, ok := f.Geometry.(orb.Point); !ok || math.Abs(p.Lat()-60) > 0.2 {
				t.Errorf("%v", f.Geometry)
			}
		}
	}
	if n != 2 {
		t.Errorf("%d stations", n)
	}
}

func TestNothing(t *testing.T) {
	if err := Write(io.Discard, made(t, nil), Options{}); err == nil {
		t.Error("an archive of no place")
	}
}

// BenchmarkWrite makes the tiles of 250 000 cells and two layers.
func BenchmarkWrite(b *testing.B) {
	s := made(b, cells(-62.5, -125, 0.25, 500, 500))
	for b.Loop() {
		b.ReportMetric(float64(len(write(b, s)))/1e6, "MB")
	}
}
