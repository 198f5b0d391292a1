//go:build unix

package ingest_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"stillrow/ingest"
)

// Links, pipes, and one file by several names.
func TestFilesOfOtherKinds(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	put(t, dir, "real/a.epw", "milk\n")
	for link, to := range map[string]string{"linked": "real", "real/loop.epw": "loop.epw", "real/round": "..", "real/gone.epw": "nowhere"} {
		if err := os.Symlink(to, link); err != nil {
			t.Fatal(err)
		}
	}
	if err := syscall.Mkfifo("real/pipe.epw", 0o666); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct{ words, want []string }{
		{[]string{"real"}, []string{
			"real/a.epw:1: unknown format", "real/gone.epw: cannot be opened: no such file", "real/loop.epw: cannot be opened: too many levels", "real/pipe.epw: not a regular file"}},
		{[]string{"linked"}, []string{
			"linked/a.epw:1: unknown format", "linked/gone.epw: cannot be opened", "linked/loop.epw: cannot be opened", "linked/pipe.epw: not a regular file"}},
		{[]string{"real/a.epw", filepath.Join(dir, "real", "a.epw"), "real/../real/a.epw"}, []string{"real/a.epw:1: unknown format"}},
	} {
		sources, err := ingest.Files(tt.words)
		if err != nil || len(sources) != len(tt.want) {
			t.Errorf("%q: %d sources, %v, want %d", tt.words, len(sources), err, len(tt.want))
			continue
		}
		for i, s := range sources {
			if _, err := s.Read(context.Background(), 0); err == nil || !strings.HasPrefix(err.Error(), tt.want[i]) {
				t.Errorf("%q: %v, want %s …", tt.words, err, tt.want[i])
			}
		}
	}
}
