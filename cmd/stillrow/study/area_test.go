package study

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/data"
)

// The area is looked for beside the study file; what is wrong with it is told at
// the key.
func TestWithin(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "a.geojson"), []byte(`{"type":"Polygon","coordinates":[[[0,0],[1,0],[1,1],[0,0]]]}`), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "line.geojson"), []byte(`{"type":"LineString","coordinates":[[0,0],[1,0]]}`), 0o666); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "s.toml")
	for name, want := range map[string]string{
		"a.geojson":                     "",
		filepath.Join(dir, "a.geojson"): "",
		"b.geojson":                     file + ":4:1: map.within: open " + filepath.Join(dir, "b.geojson"),
		"line.geojson":                  file + ":4:1: map.within: " + filepath.Join(dir, "line.geojson") + ": a LineString has no inside",
	} {
		s, err := Load(file, []byte(least+"[map]\nwithin = \""+filepath.ToSlash(name)+"\"\n"), data.FS, DefaultBook)
		if err != nil {
			t.Fatal(err)
		}
		a, err := s.Within.Open()
		switch {
		case want == "" && (err != nil || !a.Contains(0.2, 0.5)):
			t.Errorf("%s: %v", name, err)
		case want != "" && (err == nil || !strings.HasPrefix(err.Error(), want)):
			t.Errorf("%s: %v, want %s", name, err, want)
		}
	}
}
