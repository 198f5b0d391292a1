package weather_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// FuzzSites and FuzzHours read a table one of whose files holds any bytes: no
// panic, and errors of one line.
func FuzzSites(f *testing.F) { fuzz(f, func(string) string { return "sites.parquet" }) }

func FuzzHours(f *testing.F) {
	fuzz(f, func(dir string) string { return partsOf(f, dir)[0] })
}

func fuzz(f *testing.F, file func(dir string) string) {
	dir := f.TempDir()
	w, err := weather.Create(dir)
	if err != nil {
		f.Fatal(err)
	}
	defer w.Abort()
	for i, id := range []string{"a", "b"} {
		if err := w.Append(bare(id, float32(3+i))); err != nil {
			f.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		f.Fatal(err)
	}
	path := filepath.Join(dir, file(dir))
	whole, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Fuzz(func(t *testing.T, b []byte) {
		if err := os.WriteFile(path, b, 0o666); err != nil {
			t.Fatal(err)
		}
		_, _, lookup := weather.Lookup(dir, "b")
		for _, err := range []error{readAll(dir), lookup} {
			if err != nil && strings.Contains(err.Error(), "\n") {
				t.Errorf("an error of several lines: %v", err)
			}
		}
	})
}
