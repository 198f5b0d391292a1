package main

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// monthlyPlaces is a file of monthly means for n places on a meridian.
func monthlyPlaces(n int) string {
	var b strings.Builder
	b.WriteString("lat,lon,month,ghi_w_m2,air_temperature_c\n")
	for i := range n {
		for m := 1; m <= 12; m++ {
			season := math.Cos(float64(m-7) * math.Pi / 6)
			fmt.Fprintf(&b, "%.2f,10,%d,%.1f,%.1f\n", 28+0.15*float64(i), m, 190+90*season, 12+8*season)
		}
	}
	return b.String()
}

// interrupted runs a command and ends it when a finished part lies in the
// folder. It says whether that was before the command was done.
func interrupted(t *testing.T, parts string, args ...string) bool {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	go func() {
		for ctx.Err() == nil {
			if list, _ := filepath.Glob(filepath.Join(parts, "0*.part")); len(list) > 0 {
				cancel()
			}
			time.Sleep(time.Millisecond)
		}
	}()
	var out, errs bytes.Buffer
	switch status := run(ctx, args, &out, &errs); status {
	case exitDone:
		return false
	case exitInterrupted:
		return true
	default:
		t.Fatalf("status %d: %s", status, errs.String())
		return false
	}
}

// sameFiles compares two folders but for timing.json.
func sameFiles(t *testing.T, want, got map[string]string) {
	t.Helper()
	for _, list := range []map[string]string{want, got} {
		maps.DeleteFunc(list, func(name, _ string) bool { return filepath.Base(name) == "timing.json" })
	}
	if a, b := slices.Sorted(maps.Keys(want)), slices.Sorted(maps.Keys(got)); !slices.Equal(a, b) {
		t.Errorf("files %v, want %v", b, a)
	}
	for name, text := range want {
		if got[name] != text {
			t.Errorf("%s differs", name)
		}
	}
}

// A run that is ended goes on from the parts it finished, does those anew that
// are damaged, and ends in the same bytes as one that was not.
func TestResume(t *testing.T) {
	dir := t.TempDir()
	places := write(t, filepath.Join(dir, "places.csv"), monthlyPlaces(64))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	table := filepath.Join(dir, "table")
	if r := stillrow(t, "ingest", "--quiet", "--out", table, places); r.status != exitDone {
		t.Fatal(r.stderr)
	}
	for _, tt := range []struct {
		name string
		args []string
	}{
		{"screen", []string{"screen", "--study", study, places}},
		{"screen with heat", []string{"screen", "--study", study, "--keep-heat", places}},
		{"simulate", []string{"simulate", "--study", study, "--weather", table}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			whole := filepath.Join(t.TempDir(), "out")
			if r := stillrow(t, append(tt.args, "--out", whole)...); r.status != exitDone {
				t.Fatal(r.stderr)
			}
			out := filepath.Join(t.TempDir(), "out")
			args := append(tt.args, "--out", out)
			parts := filepath.Join(out, partsFolder)
			if !interrupted(t, parts, args...) {
				t.Skip("the run ended before it could be interrupted")
			}
			kept, err := filepath.Glob(filepath.Join(parts, "0*.part"))
			if err != nil || len(kept) == 0 {
				t.Fatal("no part is kept", err)
			}
			if err := os.Truncate(kept[0], 100); err != nil { // as by a power cut
				t.Fatal(err)
			}
			r := stillrow(t, args...)
			if r.status != exitDone || !strings.Contains(r.stderr, "1 part of an earlier run not taken over") ||
				len(kept) > 1 && !strings.Contains(r.stderr, fmt.Sprintf("which finished %d of 32 parts", len(kept)-1)) {
				t.Fatalf("status %d after %d parts:\n%s", r.status, len(kept), r.stderr)
			}
			sameFiles(t, files(t, whole), files(t, out))
		})
	}
}

// What was kept of another study is not used, and the run says so.
func TestResumeOtherStudy(t *testing.T) {
	dir := t.TempDir()
	places := write(t, filepath.Join(dir, "places.csv"), monthlyPlaces(64))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	other := write(t, filepath.Join(dir, "other.toml"), strings.Replace(testStudy, "eta0b = 0.85", "eta0b = 0.8", 1))
	out, whole := filepath.Join(dir, "out"), filepath.Join(dir, "whole")
	if r := stillrow(t, "screen", "--study", other, "--out", whole, places); r.status != exitDone {
		t.Fatal(r.stderr)
	}
	if !interrupted(t, filepath.Join(out, partsFolder), "screen", "--study", study, "--out", out, places) {
		t.Skip("the run ended before it could be interrupted")
	}
	r := stillrow(t, "screen", "--study", other, "--out", out, places)
	if r.status != exitDone || strings.Contains(r.stderr, "of 32 parts") || !strings.Contains(r.stderr, "not taken over") {
		t.Fatalf("status %d: %s", r.status, r.stderr)
	}
	got, want := files(t, out), files(t, whole)
	for _, list := range []map[string]string{got, want} {
		delete(list, "SHA256SUMS") // it has that of run.json, which names the study's file
		delete(list, "run.json")
	}
	sameFiles(t, want, got)
}
