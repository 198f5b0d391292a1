package weather

import (
	"os"
	"path/filepath"
	"regexp"
)

// sameFile reports whether the file at path is the one described, or neither is
// there.
func sameFile(path string, was os.FileInfo) bool {
	is, err := os.Stat(path)
	if err != nil || was == nil {
		return err != nil && was == nil
	}
	return os.SameFile(is, was) && is.Size() == was.Size() && is.ModTime().Equal(was.ModTime())
}

// sweep removes the parts not to be kept, and what an interrupted write left
// under temporary names. What it cannot remove stays for the next write.
func sweep(dir string, keep map[string]bool) {
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		name := e.Name()
		if partNamed.MatchString(name) && !keep[name] || leftNamed.MatchString(name) {
			os.Remove(filepath.Join(dir, name))
		}
	}
}

var (
	partNamed = regexp.MustCompile(`^hours-[0-9a-f]{12}\.parquet$`)
	leftNamed = regexp.MustCompile(`^\.(hours\.parquet|sites\.parquet|cells)\..*\.part$`) // cells: scratch files of package grid
)
