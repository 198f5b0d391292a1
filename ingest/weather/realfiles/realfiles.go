// Package realfiles finds the published weather files that tests read when
// they lie beside the checkout. They are no part of the project.
package realfiles

import (
	"os"
	"path/filepath"
	"testing"
)

// Path gives the path of a file or folder under the weather folder beside the
// checkout, named with slashes ("epw/…"), and skips the test, saying so, when
// it is absent.
func Path(t testing.TB, name string) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			break
		}
		up := filepath.Dir(dir)
		if up == dir {
			t.Fatal("no go.mod above the test's folder")
		}
		dir = up
	}
	p := filepath.Join(dir, "..", "shared", "weather", filepath.FromSlash(name))
	if _, err := os.Stat(p); err != nil {
		t.Skipf("real weather files are not beside this checkout: %v", err)
	}
	return p
}
