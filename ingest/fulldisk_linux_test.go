package ingest_test

import (
	"context"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/weather"
)

// A disk that fills up while the scratch file of a grid is written stops the run;
// the table that was there stays to the byte, and nothing else is left. The limit
// on the size of files holds for a process, so this runs in one of its own.
func TestGridFullDisk(t *testing.T) {
	const key = "STILLROW_TEST_FILE_LIMIT"
	if os.Getenv(key) == "" {
		child := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$")
		child.Env = append(os.Environ(), key+"=1")
		if out, err := child.CombinedOutput(); err != nil {
			t.Errorf("%v\n%s", err, out)
		}
		return
	}
	out := filepath.Join(t.TempDir(), "weather")
	o := ingest.Options{Out: out, Update: true, Workers: 2}
	o.Sources = []ingest.Source{inMemory("old.nc", 2, 5, nil)}
	if _, err := ingest.Run(context.Background(), o); err != nil {
		t.Fatal(err)
	}
	before := contents(t, out)
	// Blocks of all rows and memory for three cells: a scratch file of 12 cells is
	// needed.
	g := inMemory("grid.nc", 12, 0, nil)
	for i := range g.file.Fields {
		g.file.Fields[i].ChunkRows, g.file.Fields[i].ChunkTime = 12, 100
	}
	o.Sources, o.Memory = []ingest.Source{g}, 8*weather.Hours*4*4/3*3
	signal.Ignore(syscall.SIGXFSZ)
	var was syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was); err != nil {
		t.Skip(err)
	}
	now := was
	now.Cur = 12 * 2 * 4 * weather.Hours / 2
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &now); err != nil {
		t.Skip(err)
	}
	_, err := ingest.Run(context.Background(), o)
	if e := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &was); e != nil {
		t.Fatal(e)
	}
	if err == nil || !strings.Contains(err.Error(), "scratch file") || !strings.Contains(err.Error(), "file too large") || strings.Contains(err.Error(), "\n") {
		t.Errorf("error %v, want that of the system", err)
	}
	after := contents(t, out)
	if len(after) != len(before) {
		t.Errorf("%d files left, want %d", len(after), len(before))
	}
	for name := range before {
		if after[name] != before[name] {
			t.Errorf("%s has changed", name)
		}
	}
	// With room for it the run succeeds and leaves no scratch file.
	g = inMemory("grid.nc", 12, 0, nil)
	for i := range g.file.Fields {
		g.file.Fields[i].ChunkRows, g.file.Fields[i].ChunkTime = 12, 100
	}
	o.Sources = []ingest.Source{g}
	if sum, err := ingest.Run(context.Background(), o); err != nil || sum.Sites != 12 {
		t.Errorf("%d sites, %v", sum.Sites, err)
	}
	if left, _ := filepath.Glob(filepath.Join(out, ".cells*")); left != nil {
		t.Errorf("left: %v", left)
	}
}
