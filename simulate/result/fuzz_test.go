package result

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// FuzzOpen reads a heat table whose main file holds any bytes, beside the
// designs and sites it was written with: an error of one line that names a file
// of the table, or blocks of the shape that the table states.
func FuzzOpen(f *testing.F) {
	dir := f.TempDir()
	table, blocks := made(2, 3, 35, 60)
	w, err := Create(dir, table)
	if err != nil {
		f.Fatal(err)
	}
	for i := range blocks {
		if err := w.Append(&blocks[i]); err != nil {
			f.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		f.Fatal(err)
	}
	path := filepath.Join(dir, HeatFile)
	whole, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add([]byte("PAR1PAR1"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if err := os.WriteFile(path, data, 0o666); err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		n := 0
		r, err := Open(dir)
		if err == nil {
			defer r.Close()
			var b *Block
			for b, err = range r.Blocks(context.Background()) {
				if err != nil {
					break
				}
				if want := 12 * len(r.Table().Designs) * len(r.Table().Outlets); len(b.Heat) != want {
					t.Errorf("%d values, want %d", len(b.Heat), want)
				}
				n++
			}
			if err == nil && n != len(r.Sites()) {
				t.Errorf("%d blocks of %d sites", n, len(r.Sites()))
			}
		}
		runtime.ReadMemStats(&after)
		if err != nil && (!strings.Contains(err.Error(), dir) || strings.Contains(err.Error(), "\n")) {
			t.Errorf("not one line that names a file: %q", err)
		}
		const most = 256 << 20
		if got := after.TotalAlloc - before.TotalAlloc; got > most {
			t.Errorf("%d bytes taken for a file of %d", got, len(data))
		}
	})
}
