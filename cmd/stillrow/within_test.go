package main

import (
	"encoding/json"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/simulate/result"
)

// cells around Madrid: one inside an area, one that reaches into it, one outside.
func threeCells() []result.Site {
	return []result.Site{
		{ID: "in", Lat: 40, Lon: -4, CellDeg: 1},
		{ID: "border", Lat: 40, Lon: -3, CellDeg: 1},
		{ID: "out", Lat: 40, Lon: -2, CellDeg: 1},
	}
}

const nearMadrid = `{"type":"Polygon","coordinates":[[[-5,39],[-3.25,39],[-3.25,41],[-5,41],[-5,39]]]}`

// The study's area, beside the study file: rank keeps the places of a heat table
// that lie in it, cuts the cells of its border, counts the others, and states
// the area's file. The flag takes its place.
func TestWithinOfStudy(t *testing.T) {
	heat := heatTable(t, threeCells()...)
	dir := t.TempDir()
	write(t, filepath.Join(dir, "madrid.geojson"), nearMadrid)
	file := write(t, filepath.Join(dir, "s.toml"), leastStudy+"[map]\nwithin = \"madrid.geojson\"\n[[use]]\nname = \"all\"\nmonths = [1]\n")
	everywhere := write(t, filepath.Join(dir, "everywhere.geojson"),
		`{"type":"Polygon","coordinates":[[[-180,-90],[180,-90],[180,90],[-180,90],[-180,-90]]]}`)
	for _, tt := range []struct {
		name    string
		flags   []string
		file    string
		sites   []string
		outside int
		bbox    []float64
	}{
		{"study", nil, filepath.Join(dir, "madrid.geojson"), []string{"in", "border"}, 1, []float64{-4.5, 39.5, -3.25, 40.5}},
		{"flag", []string{"--within", everywhere}, everywhere, []string{"in", "border", "out"}, 0, []float64{-4.5, 39.5, -1.5, 40.5}},
	} {
		out := filepath.Join(t.TempDir(), "out")
		r := stillrow(t, append([]string{"rank", "--quiet", "--heat", heat, "--study", file, "--out", out}, tt.flags...)...)
		if r.status != exitDone {
			t.Fatalf("%s: status %d: %s", tt.name, r.status, r.stderr)
		}
		text := files(t, out)
		var layer struct {
			BBox     []float64
			Features []struct{ ID string }
		}
		var record runRecord
		if err := json.Unmarshal([]byte(text["map-all-45.geojson"]), &layer); err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal([]byte(text["run.json"]), &record); err != nil {
			t.Fatal(err)
		}
		var sites []string
		for _, f := range layer.Features {
			sites = append(sites, f.ID)
		}
		if !slices.Equal(sites, tt.sites) || !slices.Equal(layer.BBox, tt.bbox) || record.Ranking.Sites != len(tt.sites) || record.Ranking.Outside != tt.outside {
			t.Errorf("%s: sites %v in %v; %d sites, %d outside", tt.name, sites, layer.BBox, record.Ranking.Sites, record.Ranking.Outside)
		}
		if w := record.Within; w == nil || w.Name != filepath.ToSlash(tt.file) || w.Size == 0 || len(w.SHA256) != 64 {
			t.Errorf("%s: run.json has the area %+v", tt.name, w)
		}
	}
}

// An area that is not there or holds no place is told before anything is
// written; where the study is to blame, at its key.
func TestWithinRefused(t *testing.T) {
	heat := heatTable(t, threeCells()...)
	dir := t.TempDir()
	sea := write(t, filepath.Join(dir, "sea.geojson"), `{"type":"Polygon","coordinates":[[[-25,39],[-24,39],[-24,40],[-25,39]]]}`)
	file := write(t, filepath.Join(dir, "s.toml"), leastStudy+"[map]\nwithin = \"none.geojson\"\n")
	for _, tt := range []struct {
		args   []string
		status int
		want   string
	}{
		{[]string{"rank", "--heat", heat, "--study", file}, exitUsage, file + ":4:1: map.within: open "},
		{[]string{"screen", "--study", file}, exitUsage, file + ":4:1: map.within: open "},
		{[]string{"rank", "--heat", heat, "--within", file}, exitUsage, "--within: " + file + ":1: no GeoJSON"},
		{[]string{"rank", "--heat", heat, "--study", file, "--within", sea}, exitFailed, sea + ": rank: no place in the area: all 3 lie out of it"},
	} {
		out := filepath.Join(t.TempDir(), "out")
		r := stillrow(t, append(tt.args, "--quiet", "--out", out)...)
		if r.status != tt.status || !strings.Contains(r.stderr, tt.want) {
			t.Errorf("%v: status %d: %s\nwant %d: %s", tt.args, r.status, r.stderr, tt.status, tt.want)
		}
		if left, _ := filepath.Glob(filepath.Join(out, "*")); left != nil {
			t.Errorf("%v: left %v", tt.args, left)
		}
	}
}
