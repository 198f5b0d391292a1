package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// Shards done in any order and over again make, merged, what one run makes, to
// the byte.
func TestShards(t *testing.T) {
	dir := t.TempDir()
	places := write(t, filepath.Join(dir, "places.csv"), monthlyPlaces(40))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	table := filepath.Join(dir, "table")
	if r := stillrow(t, "ingest", "--quiet", "--out", table, places); r.status != exitDone {
		t.Fatal(r.stderr)
	}
	for _, tt := range []struct {
		command string
		words   []string // of screen or simulate
		plan    []string
	}{
		{"screen", nil, nil},
		{"screen", []string{"--keep-heat", "--tiles"}, []string{"--keep-heat", "--tiles"}},
		{"simulate", nil, []string{"--for", "simulate"}},
	} {
		t.Run(tt.command+strings.Join(tt.words, ""), func(t *testing.T) {
			whole, out := filepath.Join(t.TempDir(), "out"), filepath.Join(t.TempDir(), "out")
			ok := func(words ...string) done {
				t.Helper()
				r := stillrow(t, words...)
				if r.status != exitDone {
					t.Fatal(words, r.stderr)
				}
				return r
			}
			one := ok(append([]string{tt.command, "--quiet", "--weather", table, "--study", study, "--out", whole}, tt.words...)...)
			ok(append([]string{"plan", "--shards", "3", "--weather", table, "--study", study, "--out", out}, tt.plan...)...)
			for _, i := range []int{2, 0, 2} {
				ok(tt.command, "--quiet", "--shard", fmt.Sprintf("%d/3", i), "--out", out)
			}
			t.Setenv("SLURM_ARRAY_TASK_ID", "1")
			ok(tt.command, "--quiet", "--shard", "/3", "--study", study, "--out", out)
			if left, err := os.ReadDir(filepath.Join(out, shardsFolder)); err != nil || len(left) > 0 {
				t.Errorf("%d shards left the folder of their work, %v", len(left), err)
			}
			merged := ok("merge", "--quiet", out)
			if _, err := os.Stat(filepath.Join(out, shardsFolder)); !os.IsNotExist(err) {
				t.Errorf("the merge left %s: %v", shardsFolder, err)
			}
			if strings.ReplaceAll(merged.stdout, out, whole) != one.stdout {
				t.Errorf("summary %s, want %s", merged.stdout, one.stdout)
			}
			if err := os.RemoveAll(filepath.Join(out, "parts")); err != nil {
				t.Fatal(err)
			}
			if err := os.Remove(filepath.Join(out, planFile)); err != nil {
				t.Fatal(err)
			}
			sameFiles(t, files(t, whole), files(t, out))
			ok("verify", out)
		})
	}
}

// What does not fit together is named, and nothing is merged.
func TestMergeRefuses(t *testing.T) {
	dir := t.TempDir()
	places := write(t, filepath.Join(dir, "places.csv"), monthlyPlaces(12))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	table, out := filepath.Join(dir, "table"), filepath.Join(dir, "out")
	plan := []string{"plan", "--shards", "2", "--weather", table, "--study", study, "--out", out}
	for _, words := range [][]string{
		{"ingest", "--quiet", "--out", table, places}, plan,
		{"screen", "--quiet", "--shard", "0/2", "--out", out}, {"screen", "--quiet", "--shard", "1/2", "--out", out},
	} {
		if r := stillrow(t, words...); r.status != exitDone {
			t.Fatal(words, r.stderr)
		}
	}
	good := files(t, out)
	other := strings.Replace(testStudy, "eta0b = 0.85", "eta0b = 0.8", 1)
	removeAll := func(pattern string) {
		list, err := filepath.Glob(pattern)
		if err != nil || len(list) == 0 {
			t.Error("nothing to remove", err)
		}
		for _, path := range list {
			os.Remove(path)
		}
	}
	edit := func(name string, change func(string) string) func() {
		return func() { write(t, filepath.Join(out, name), change(good[name])) }
	}
	first := filepath.Join("parts", "0000-of-0002-")
	replace := func(old, new string) func(string) string {
		return func(text string) string { return strings.Replace(text, old, new, 1) }
	}
	for _, tt := range []struct {
		name  string
		spoil func()
		words []string // instead of merge
		want  []string
	}{
		{"a shard that is missing", func() { removeAll(filepath.Join(out, first+"*")) }, nil, []string{"shard 0 of 2", "not complete: 0 of 6 parts there"}},
		{"one that is not complete", func() { os.Remove(filepath.Join(out, first+shardNoteFile)) }, nil, []string{"shard 0 of 2", "not complete: 6 of 6 parts"}},
		{"a part that is missing", func() { os.Remove(filepath.Join(out, first+"000002.part")) }, nil, []string{"nothing merged", "000002.part"}},
		{"a damaged part", edit(first+"000001.part", func(s string) string { return s[:len(s)-1] }), nil, []string{"000001.part: damaged"}},
		{"another build's shard", edit(first+shardNoteFile, replace(`"version":"`, `"version":"9`)), nil, []string{"shard 0 of 2", "another build of the program"}},
		{"another plan's shard", edit(first+shardNoteFile, replace(`"plan_sha256":"`, `"plan_sha256":"9`)), nil, []string{"another plan"}},
		{"another study's shard", edit(first+shardNoteFile, replace(`"study_sha256":"`, `"study_sha256":"9`)), nil, []string{"another study"}},
		{"another build's plan", edit(planFile, replace(`"version": "`, `"version": "9`)), nil, []string{planFile, "another build of the program"}},
		{"another table's plan", edit(planFile, replace(`"weather_sha256": "`, `"weather_sha256": "9`)), nil, []string{"another weather table"}},
		{"a plan that lacks a part", edit(planFile, replace("        1,\n", "")), nil, []string{planFile, "part 1 is in none"}},
		{"a plan that is none", edit(planFile, func(string) string { return "{}" }), nil, []string{"not a plan"}},
		{"no plan", func() { os.Remove(filepath.Join(out, planFile)) }, nil, []string{planFile, "stillrow plan"}},
		{"a shard of others", nil, []string{"screen", "--shard", "0/3", "--out", out}, []string{"--shard=0/3", "has 2 shards"}},
		{"a shard there is not", nil, []string{"screen", "--shard", "2/2", "--out", out}, []string{`number "2", want 0 to 1`}},
		{"a shard without a number", nil, []string{"screen", "--shard", "/2", "--out", out}, []string{"SLURM_ARRAY_TASK_ID", "JOB_COMPLETION_INDEX"}},
		{"a shard without sense", nil, []string{"screen", "--shard", "some", "--out", out}, []string{"want I/N"}},
		{"a shard for another command", nil, []string{"simulate", "--shard", "0/2", "--out", out}, []string{"stillrow screen --shard"}},
		{"a shard of another study", func() { write(t, study, other) }, []string{"screen", "--shard", "0/2", "--study", study, "--out", out}, []string{"differs from the study"}},
	} {
		if tt.spoil != nil {
			tt.spoil()
		}
		words := tt.words
		if words == nil {
			words = []string{"merge", "--quiet", out}
		}
		r := stillrow(t, words...)
		if r.status == exitDone {
			t.Errorf("%s: merged", tt.name)
		}
		for _, want := range tt.want {
			if !strings.Contains(r.stderr, want) {
				t.Errorf("%s: the message lacks %q: %s", tt.name, want, r.stderr)
			}
		}
		if _, err := os.Stat(filepath.Join(out, "run.json")); err == nil {
			t.Errorf("%s: something was written", tt.name)
		}
		for name, text := range good {
			write(t, filepath.Join(out, name), text)
		}
	}
	if r := stillrow(t, "merge", "--quiet", out); r.status != exitDone {
		t.Error("as it was:", r.stderr)
	}
}

// Every site is in one shard; shards are of equal size as near as parts allow,
// and of one region as far as that goes.
func TestPlanCut(t *testing.T) {
	var sites []weather.Site
	for lat := -59.5; lat < 60; lat++ {
		for lon := -179.5; lon < 180; lon += 4 {
			sites = append(sites, weather.Site{Lat: lat, Lon: lon})
		}
	}
	for _, n := range []int{1, 2, 7, 64, 1000, len(sites)} {
		p := &shardPlan{Program: "stillrow", Command: "screen", Sites: len(sites)}
		if err := p.cut(sites, n, 64); err != nil {
			t.Fatal(err)
		}
		if err := p.check(); err != nil {
			t.Errorf("%d shards: %v", n, err)
		}
		total := 0
		for i, s := range p.Shards {
			total += s.Sites
			if d := float64(s.Sites) - float64(len(sites))/float64(n); d < -float64(p.PartSites) || d > float64(p.PartSites) || s.Sites == 0 {
				t.Errorf("%d shards, number %d: %d sites in parts of %d", n, i, s.Sites, p.PartSites)
			}
		}
		if total != len(sites) {
			t.Errorf("%d shards: %d sites of %d", n, total, len(sites))
		}
		text, err := json.Marshal(p)
		if err != nil || len(text) > 100+30*len(sites) {
			t.Errorf("a plan of %d bytes, %v", len(text), err)
		}
	}
	if err := new(shardPlan).cut(sites, len(sites)+1, 64); err == nil {
		t.Error("more shards than sites")
	}
}
