package main

import (
	"path/filepath"
	"strings"
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
