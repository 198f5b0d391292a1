package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"stillrow/simulate/result"
)

// Every table says what made it, as run.json does, and something else where
// that was something else.
func TestFingerprints(t *testing.T) {
	dir := t.TempDir()
	places := write(t, filepath.Join(dir, "places.csv"), monthlyPlaces(2))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	other := write(t, filepath.Join(dir, "other.toml"), strings.Replace(testStudy, "eta0b = 0.85", "eta0b = 0.8", 1))
	of := func(path ...string) string {
		t.Helper()
		f, err := os.Open(filepath.Join(path...))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		info, err := f.Stat()
		if err != nil {
			t.Fatal(err)
		}
		p, err := parquet.OpenFile(f, info.Size())
		if err != nil {
			t.Fatal(err)
		}
		print, _ := p.Lookup(result.KeyFingerprint)
		if len(print) != 64 {
			t.Errorf("%s: fingerprint %q", f.Name(), print)
		}
		return print
	}
	screen := func(study, out string) (weather, results string) {
		t.Helper()
		out = filepath.Join(dir, out)
		if r := stillrow(t, "screen", "--quiet", "--keep-heat", "--study", study, "--out", out, places); r.status != exitDone {
			t.Fatal(r.stderr)
		}
		text, err := os.ReadFile(filepath.Join(out, "run.json"))
		if err != nil {
			t.Fatal(err)
		}
		var r runRecord
		if err := json.Unmarshal(text, &r); err != nil {
			t.Fatal(err)
		}
		heat, ranking := of(out, "heat", result.HeatFile), of(out, "ranking.parquet")
		if heat != r.Fingerprint || ranking != r.Fingerprint {
			t.Errorf("heat table %s, ranking %s, run.json %s", heat, ranking, r.Fingerprint)
		}
		return of(out, "weather", "sites.parquet"), r.Fingerprint
	}
	w1, r1 := screen(study, "a")
	w2, r2 := screen(study, "b")
	w3, r3 := screen(other, "c")
	if w1 != w2 || w1 != w3 || r1 != r2 || r1 == r3 {
		t.Errorf("weather %s, %s, %s; results %s, %s, %s", w1, w2, w3, r1, r2, r3)
	}
}
