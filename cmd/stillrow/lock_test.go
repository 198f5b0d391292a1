package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/data/lock"
)

// A folder in which another run is at work is refused by every stage, with who
// it is; what is in it stays as it is.
func TestTwoRunsInOneFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	held, err := lock.Take(dir, "rank")
	if err != nil {
		t.Fatal(err)
	}
	var out, errs bytes.Buffer
	if status := run(context.Background(), []string{"screen", "--out", dir}, &out, &errs); status != exitFailed ||
		!strings.Contains(errs.String(), "at work in this folder") || !strings.Contains(errs.String(), "(rank, since") {
		t.Errorf("status %d: %s", status, errs.String())
	}
	held.Release()
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("in the folder: %v, %v", left, err)
	}
}
