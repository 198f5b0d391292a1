package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The same inputs and study give the same bytes, whatever the workers, in one
// go or by stages, in every file but timing.json.
func TestSameBytes(t *testing.T) {
	dir := t.TempDir()
	stations := filepath.Join(dir, "stations")
	if err := os.Mkdir(stations, 0o755); err != nil {
		t.Fatal(err)
	}
	for i, shift := range []string{"35.0,0.0,0.0", "38.0,0.0,0.0", "41.0,0.0,0.0"} {
		write(t, filepath.Join(stations, fmt.Sprintf("s%d.epw", i)), strings.Replace(epwYear(nil), "35.0,0.0,0.0", shift, 1))
	}
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	out := func(name string) string { return filepath.Join(dir, name) }
	screen := func(name string, more ...string) map[string]string {
		args := append([]string{"screen", "--quiet", "--study", study, "--out", out(name)}, more...)
		if r := stillrow(t, append(args, stations)...); r.status != exitDone {
			t.Fatalf("%v: %s", args, r.stderr)
		}
		f := files(t, out(name))
		delete(f, "timing.json")
		return f
	}
	one, two := screen("one", "--workers", "1"), screen("two", "--workers", "2")
	for name, text := range one {
		if two[name] != text {
			t.Errorf("%s differs between 1 and 2 workers", name)
		}
	}
	if len(one) != len(two) || len(one) < 9 {
		t.Errorf("%d and %d files", len(one), len(two))
	}
	for name := range one {
		if strings.HasSuffix(name, ".part") {
			t.Errorf("left over: %s", name)
		}
	}
	if again := screen("one"); !maps.Equal(again, one) {
		t.Error("a second run over the first changes what it wrote")
	}
	for _, args := range [][]string{
		{"ingest", "--quiet", "--out", out("w"), stations},
		{"simulate", "--quiet", "--weather", out("w"), "--study", study, "--out", out("h")},
		{"rank", "--quiet", "--heat", out("h"), "--study", study, "--out", out("r")},
	} {
		if r := stillrow(t, args...); r.status != exitDone {
			t.Fatalf("%v: %s", args, r.stderr)
		}
	}
	staged := files(t, out("r"))
	for stage, took := range map[string]string{"h": "w/sites.parquet", "r": "h/heat.parquet"} {
		file := filepath.Join(dir, took)
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		want := fmt.Sprintf("%q,\n      \"size_bytes\": %d,\n      \"sha256\": \"%x\"", filepath.ToSlash(file), len(text), sha256.Sum256(text))
		if record := files(t, out(stage))["run.json"]; !strings.Contains(record, want) {
			t.Errorf("run.json in %s does not state what it took in:\n%s", stage, want)
		}
	}
	for name, text := range one {
		if strings.HasPrefix(name, "map-") || name == "ranking.parquet" || name == "bands.csv" || name == "tilts.csv" {
			if staged[name] != text {
				t.Errorf("%s differs between screen and the three stages", name)
			}
		}
	}
	kept := screen("one", "--keep-heat") // over the earlier run
	simulated := files(t, out("h"))
	for _, name := range []string{"heat.parquet", "designs.parquet", "sites.parquet", "sensitivity.parquet"} {
		if kept["heat/"+name] == "" || kept["heat/"+name] != simulated[name] {
			t.Errorf("%s of --keep-heat has %d bytes, of simulate %d, or they differ", name, len(kept["heat/"+name]), len(simulated[name]))
		}
	}
	// Another study's maps do not stay beside the new ones.
	write(t, study, strings.Replace(testStudy, `name = "summer"`, `name = "harvest"`, 1))
	again := screen("one")
	if again["map-summer-40.geojson"] != "" || again["map-harvest-40.geojson"] == "" {
		t.Error("the map of a use that is gone is still there")
	}
}

// An interrupted run leaves no half file and what was there before.
func TestInterrupted(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	out := filepath.Join(dir, "out")
	if r := stillrow(t, "screen", "--quiet", "--study", study, "--out", out, good); r.status != exitDone {
		t.Fatal(r.stderr)
	}
	before := files(t, out)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var stdout, stderr bytes.Buffer
	status := run(ctx, []string{"screen", "--quiet", "--study", study, "--out", out, good}, &stdout, &stderr)
	if status != exitInterrupted {
		t.Errorf("status %d, want %d: %s", status, exitInterrupted, stderr.String())
	}
	after := files(t, out)
	for name, text := range before {
		if after[name] != text {
			t.Errorf("%s did not survive an interrupted run", name)
		}
	}
	if len(after) != len(before) {
		t.Errorf("%d files before, %d after", len(before), len(after))
	}
}

// Whenever the interruption comes, no file is left under a temporary name, and
// the status says so unless the work was already done.
func TestInterruptedInTheMiddle(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	for _, after := range []time.Duration{time.Millisecond, 10 * time.Millisecond, 30 * time.Millisecond, 100 * time.Millisecond} {
		out := filepath.Join(dir, after.String())
		ctx, cancel := context.WithTimeout(context.Background(), after)
		var stdout, stderr bytes.Buffer
		status := run(ctx, []string{"screen", "--quiet", "--keep-heat", "--study", study, "--out", out, good}, &stdout, &stderr)
		cancel()
		left := files(t, out)
		for name := range left {
			if strings.Contains(name, ".part") && !strings.Contains(name, partsFolder+"/0") { // finished parts stay
				t.Errorf("after %v: %s is left", after, name)
			}
		}
		if _, done := left["run.json"]; done != (status == exitDone) {
			t.Errorf("after %v: status %d with run.json %v: %s", after, status, done, stderr.String())
		}
	}
}

// A run that fails leaves what an earlier one made, whatever it fails at.
func TestEarlierOutputSurvives(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	bad := write(t, filepath.Join(dir, "bad.epw"), epwYear(nil)[:100_000])
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	faulty := write(t, filepath.Join(dir, "faulty.toml"), testStudy+"colour = 1\n")
	out := func(name string) string { return filepath.Join(dir, name) }
	for _, args := range [][]string{
		{"screen", "--quiet", "--keep-heat", "--study", study, "--out", out("s"), good},
		{"ingest", "--quiet", "--out", out("w"), good},
		{"simulate", "--quiet", "--weather", out("w"), "--study", study, "--out", out("h")},
		{"rank", "--quiet", "--heat", out("h"), "--study", study, "--out", out("r")},
	} {
		if r := stillrow(t, args...); r.status != exitDone {
			t.Fatalf("%v: %s", args, r.stderr)
		}
	}
	truncated := out("truncated")
	if err := os.Mkdir(truncated, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, text := range files(t, out("w")) {
		write(t, filepath.Join(truncated, name), text[:len(text)/2])
	}
	before := files(t, dir)
	for _, tt := range []struct {
		status int
		args   []string
	}{
		{exitFailed, []string{"screen", "--quiet", "--keep-heat", "--study", study, "--out", out("s"), bad}},
		{exitUsage, []string{"screen", "--quiet", "--study", faulty, "--out", out("s"), good}},
		{exitFailed, []string{"ingest", "--quiet", "--out", out("w"), bad}},
		{exitUsage, []string{"simulate", "--quiet", "--weather", out("w"), "--study", faulty, "--out", out("h")}},
		{exitFailed, []string{"simulate", "--quiet", "--weather", truncated, "--study", study, "--out", out("h")}},
		{exitFailed, []string{"simulate", "--quiet", "--weather", out("absent"), "--study", study, "--out", out("h")}},
		{exitUsage, []string{"rank", "--quiet", "--heat", out("h"), "--study", faulty, "--out", out("r")}},
		{exitFailed, []string{"rank", "--quiet", "--heat", truncated, "--study", study, "--out", out("r")}},
	} {
		if r := stillrow(t, tt.args...); r.status != tt.status || r.stdout != "" || r.stderr == "" {
			t.Errorf("%v: status %d, want %d: %s%s", tt.args, r.status, tt.status, r.stderr, r.stdout)
		}
		if after := files(t, dir); !maps.Equal(after, before) {
			t.Fatalf("%v changed what was there", tt.args)
		}
	}
}

// The demo's weather is the same out of the generator and out of the table that
// screen leaves, and one site by itself gets what the ranking gave it.
func TestDemo(t *testing.T) {
	dir := t.TempDir()
	study := write(t, filepath.Join(dir, "study.toml"), "[designs]\nmirror_tilt_deg = [70, 110]\n[heat]\noutlet_c = 45\n")
	out := filepath.Join(dir, "out")
	r := stillrow(t, "screen", "--quiet", "--study", study, "--out", out)
	if r.status != exitDone || !strings.Contains(r.stdout, "404 sites, 2 designs") {
		t.Fatalf("status %d: %s%s", r.status, r.stderr, r.stdout)
	}
	at := func(out string) done {
		r := stillrow(t, "site", "--at", "36.3,-42.3", "--study", study, "--out", out, "--json")
		r.stderr = "" // says where the weather is from
		return r
	}
	table, generator := at(out), at(filepath.Join(dir, "none"))
	if table.status != exitDone || table != generator {
		t.Errorf("from the table:\n%s\nfrom the generator:\n%s", table.stdout, generator.stdout)
	}
	best := decode[struct{ Results []heatResult }](t, table).Results[0]
	layer := files(t, out)["map-year-45.geojson"]
	want := fmt.Sprintf("%q:%s", "lcoh_per_kwh", strconv.FormatFloat(*best.LCOH, 'g', -1, 64))
	if !strings.Contains(strings.ReplaceAll(layer, ": ", ":"), want[:len(want)-4]) {
		t.Errorf("no site of the map has %s", want)
	}
}
