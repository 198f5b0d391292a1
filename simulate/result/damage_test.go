package result

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A byte that changed on disk gives an error or, where it matters to nobody, the
// same blocks: never others, and no panic.
func TestDamage(t *testing.T) {
	dir := t.TempDir()
	table, blocks := strained(made(3, 2, 35))
	write(t, dir, table, blocks)
	path := filepath.Join(dir, HeatFile)
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	refused := 0
	for at := 0; at < len(good); at += 41 {
		bad := slices.Clone(good)
		bad[at] ^= 0x10
		if err := os.WriteFile(path, bad, 0o644); err != nil {
			t.Fatal(err)
		}
		_, got, err := read(dir)
		switch {
		case err != nil && !strings.Contains(err.Error(), HeatFile):
			t.Errorf("byte %d: error %v does not name the file", at, err)
		case err != nil:
			refused++
		case !cmp.Equal(blocks, got, sameFloats):
			t.Errorf("byte %d: other blocks and no error", at)
		}
	}
	if refused < len(good)/41/4 {
		t.Errorf("%d of %d damaged files refused: the test does no damage", refused, len(good)/41)
	}
}
