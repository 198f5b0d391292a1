package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// Places by the prime meridian, whose offset to UTC comes out as −0, and places
// written as −0, end in the same bytes when a run goes on from what was kept of
// them.
func TestResumeMinusZero(t *testing.T) {
	dir := t.TempDir()
	rows := strings.Replace(strings.ReplaceAll(monthlyPlaces(64), ",10,", ",-1,"), "\n28.00,-1,1,", "\n28.00,-0.0,1,", 1)
	for _, month := range strings.Fields("2 3 4 5 6 7 8 9 10 11 12") {
		rows = strings.Replace(rows, "\n28.00,-1,"+month+",", "\n28.00,-0.0,"+month+",", 1)
	}
	places := write(t, filepath.Join(dir, "places.csv"), rows)
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	whole, out := filepath.Join(dir, "whole"), filepath.Join(dir, "out")
	args := []string{"screen", "--study", study, places, "--out"}
	if r := stillrow(t, append(args, whole)...); r.status != exitDone {
		t.Fatal(r.stderr)
	}
	if !interrupted(t, filepath.Join(out, partsFolder), append(args, out)...) {
		t.Skip("the run ended before it could be interrupted")
	}
	if r := stillrow(t, append(args, out)...); r.status != exitDone || !strings.Contains(r.stderr, "which ingested 64 places") {
		t.Fatalf("status %d: %s", r.status, r.stderr)
	}
	sameFiles(t, files(t, whole), files(t, out))
}

// Names of files and folders keep bytes that are no UTF-8.
func TestNamesOfAnyBytes(t *testing.T) {
	dir := t.TempDir()
	in, out := filepath.Join(dir, "caf\xe9.epw"), filepath.Join(dir, "out\xff")
	if err := os.WriteFile(in, []byte(epwYear(nil)), 0o644); err != nil {
		t.Skip(err) // the file system's names are text
	}
	if r := stillrow(t, "ingest", "--out", out, in); r.status != exitDone {
		t.Fatalf("status %d: %s", r.status, r.stderr)
	}
	if r := stillrow(t, "verify", out); r.status != exitDone {
		t.Errorf("verify: %s", r.stderr)
	}
	if list, _ := os.ReadDir(dir); len(list) != 2 {
		t.Errorf("in the folder: %v", list)
	}
}

// A reader of stdout that goes away is no fault of the run, and nothing is said
// of it.
func TestUnread(t *testing.T) {
	var errs bytes.Buffer
	err := fmt.Errorf("summary: %w", &os.PathError{Op: "write", Path: "/dev/stdout", Err: syscall.EPIPE})
	for _, words := range []string{"--help", "screen --help"} {
		if status := run(t.Context(), strings.Fields(words), goneReader{}, &errs); status != exitUnread || errs.Len() > 0 {
			t.Errorf("%s to a reader who has gone: status %d, %q", words, status, errs.String())
		}
	}
	if status := report(context.Background(), err, &errs); status != exitUnread || errs.Len() > 0 {
		t.Errorf("status %d: %s", status, errs.String())
	}
	if status := report(context.Background(), errors.New("other"), &errs); status != exitFailed {
		t.Errorf("status %d of another error", status)
	}
}

// A goneReader is the pipe of one.
type goneReader struct{}

func (goneReader) Write([]byte) (int, error) { return 0, syscall.EPIPE }
