package rank

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// nodeModules names the folder of the packages that node's scripts import.
const nodeModules = "STILLROW_NODE_MODULES"

// node runs a script with arguments and gives what it prints. The test is
// skipped where node or one of the packages is missing.
func node(t *testing.T, script string, packages []string, args ...string) []byte {
	t.Helper()
	if _, err := exec.LookPath("node"); err != nil {
		t.Skip("no node on the PATH")
	}
	folder := os.Getenv(nodeModules)
	if folder == "" {
		t.Skip(nodeModules + " names no folder of packages")
	}
	for _, p := range packages {
		if _, err := os.Stat(filepath.Join(folder, p)); err != nil {
			t.Skipf("%s has no %s", folder, p)
		}
	}
	// A module looks for packages in the folders above it.
	dir := t.TempDir()
	if err := os.Symlink(folder, filepath.Join(dir, "node_modules")); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "script.mjs")
	if err := os.WriteFile(file, []byte(script), 0o666); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("node", append([]string{file}, args...)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("node: %v\n%s", err, out)
	}
	return out
}
