package main

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
)

// Bad weather files: each is set aside with one line that names the file, and
// the line and field where there is one; alone it fails the run, beside a good
// one the good one is ranked and the status says so.
func TestBadWeather(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	year := epwYear(nil)
	lines := strings.SplitAfter(year, "\n")
	for _, tt := range []struct {
		name, text string
		want       []string // parts of the reason
	}{
		{"empty.epw", "", []string{"empty"}},
		{"binary.epw", "\x7fELF\x00\x01\x02" + strings.Repeat("\x00\xff", 500), nil},
		{"truncated.epw", strings.Join(lines[:4000], ""), []string{"incomplete"}},
		{"columns.epw", strings.Join(lines[:100], "") + "2010,1,5,1,0\n" + strings.Join(lines[101:], ""), []string{":101:"}},
		{"no-air.epw", epwYear(func(_ int, f []string) { f[6] = "99.9" }), []string{"air_temperature_c"}},
		{"no-sun.epw", epwYear(func(_ int, f []string) { f[13], f[14], f[15] = "9999", "9999", "9999" }), nil},
		{"latitude.epw", strings.Replace(year, "35.0,0.0,0.0", "135.0,0.0,0.0", 1), []string{":1:", "135"}},
	} {
		bad := write(t, filepath.Join(dir, tt.name), tt.text)
		out := filepath.Join(dir, "out-"+tt.name)
		r := stillrow(t, "screen", "--quiet", "--study", study, "--out", out, bad)
		if r.status != exitFailed {
			t.Errorf("%s alone: status %d, want %d\n%s", tt.name, r.status, exitFailed, r.stderr)
		}
		for _, part := range append(tt.want, tt.name) {
			if !strings.Contains(r.stderr, part) {
				t.Errorf("%s: the message lacks %q: %s", tt.name, part, r.stderr)
			}
		}
		if left := files(t, out); len(left) != 0 {
			t.Errorf("%s: a failed run left files: %v", tt.name, left)
		}
		r = stillrow(t, "screen", "--quiet", "--study", study, "--out", out, good, bad)
		if r.status != exitSetAside || !strings.Contains(r.stderr, tt.name) || !strings.Contains(r.stdout, "1 site, ") {
			t.Errorf("%s beside a good file: status %d\n%s\n%s", tt.name, r.status, r.stderr, r.stdout)
		}
		if n := strings.Count(strings.TrimSpace(r.stderr), "\n"); n != 0 {
			t.Errorf("%s: %d lines on stderr, want one: %s", tt.name, n+1, r.stderr)
		}
		var record runRecord
		if err := json.Unmarshal([]byte(files(t, out)["run.json"]), &record); err != nil || record.Counts.SetAside != 1 {
			t.Errorf("%s: run.json: %v, %+v", tt.name, err, record.Counts)
		}
	}
}

// Letters and impossible values cost a cell, not the file; the record says so.
func TestBadCells(t *testing.T) {
	dir := t.TempDir()
	path := write(t, filepath.Join(dir, "cells.epw"), epwYear(func(h int, f []string) {
		switch h {
		case 4380: // noon at the end of June
			f[13] = "abc"
		case 4404:
			f[14] = "5000"
		}
	}))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	out := filepath.Join(dir, "out")
	if r := stillrow(t, "screen", "--quiet", "--study", study, "--out", out, path); r.status != exitDone {
		t.Fatalf("status %d: %s", r.status, r.stderr)
	}
	text := files(t, out)["run.json"]
	for _, part := range []string{"cells.epw:4389", "abc", "5000"} {
		if !strings.Contains(text, part) {
			t.Errorf("run.json does not tell of %q", part)
		}
	}
}

// Wrong words and studies: status 2 and one line for each fault, which names
// the file, line, column and key.
func TestBadWordsAndStudies(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	edit := func(old, new string) string {
		if !strings.Contains(testStudy, old) {
			t.Fatalf("the test study has no %q", old)
		}
		return strings.Replace(testStudy, old, new, 1)
	}
	for _, tt := range []struct {
		name, study string
		want        []string
	}{
		{"unknown key", edit("c1 = 7.0", "c1 = 7.0\nc9 = 1"), []string{":8:", "c9"}},
		{"two unknown keys", edit("[designs]", "colour = 1\n[designs]\nshape = 2"), []string{"colour", "shape"}},
		{"negative mirror", edit("[0, 1]", "[0, -1]"), []string{":14:", "mirror_length_m", "-1"}},
		{"tilt 200", edit("[70, 110]", "200"), []string{":15:", "mirror_tilt_deg", "200"}},
		{"no designs", edit("mirror_length_m = [0, 1]\nmirror_tilt_deg = [70, 110]\n", ""), []string{"no candidate designs"}},
		{"empty list", edit("[0, 1]", "[]"), []string{"no candidate designs"}},
		{"no table", strings.Replace(edit("mirror_length_m = [0, 1]\nmirror_tilt_deg = [70, 110]\n", ""), "[designs]\n", "", 1), []string{"no candidate designs"}},
		{"outlet below inlet", edit("inlet_c = 30", "inlet_c = 50"), []string{":18:", "inlet_c", "50"}},
		{"too many", edit("[70, 110]", "{ from = 1, to = 179, step = 0.0001 }"), []string{"mirror_tilt_deg", "1000000"}},
		{"infinite", edit("c1 = 7.0", "c1 = inf"), []string{":7:", "c1"}},
		{"ground without a pitch", testStudy + "[[cost.item]]\nname=\"land\"\nunit=\"ground_m2\"\nprice=1\nlife_years=20\n", []string{"cost.item[0].unit", "row_pitch_m"}},
		{"not TOML", "[study\n", []string{":1:"}},
		{"empty", "", []string{"empty"}},
	} {
		path := write(t, filepath.Join(dir, "bad.toml"), tt.study)
		r := stillrow(t, "screen", "--quiet", "--study", path, "--out", filepath.Join(dir, "out"), good)
		if r.status != exitUsage {
			t.Errorf("%s: status %d, want %d: %s", tt.name, r.status, exitUsage, r.stderr)
		}
		for _, part := range append(tt.want, "bad.toml") {
			if !strings.Contains(r.stderr, part) {
				t.Errorf("%s: the message lacks %q: %s", tt.name, part, r.stderr)
			}
		}
	}
	for _, args := range [][]string{
		{"sun", "--at", "95,10", "--time", "2026-06-21T12:00:00Z"},
		{"sun", "--at", "x", "--time", "2026-06-21T12:00:00Z"},
		{"sun", "--at", "35,10", "--time", "noon"},
		{"site", "--at", "95,10"},
		{"site", "--at", "35,-42", "--id", "x"},
		{"site", "--weather", filepath.Join(dir, "absent.epw")},
		{"optics", "--profile", "a,b"},
		{"optics", "--profile", "20", "--design", `{"mirror_tilt_deg":200}`},
		{"optics", "--profile", "20", "--design", `{"colour":1}`},
		{"optics", "--profile", "20", "--design", `{"raise_m":"x"}`},
		{"optics", "--profile", "20", "--design", `{"raise_m":1} {}`},
		{"optics", "--profile", "20", "--design", `[]`},
		{"optics", "--profile", "20", "--design", `{`},
		{"optics", "--profile", "20", "--design", `null`},
		{"optics", "--profile", "20", "--design", `{"mirror_tilt_deg":null}`},
		{"optics", "--profile", "20", "--design", `{"Mirror_tilt_deg":80}`},
		{"optics", "--profile", "20,,30"},
		{"sun", "--at", "35,nan", "--time", "2026-06-21T12:00:00Z"},
		{"optics", "--profile", "20", "--study="},
		{"screen", "--out="},
		{"screen", "--workers", "-1"},
		{"screen", "--weather", dir, "--every", "2"},
		{"screen", "--weather", dir, "--clock", "stamped"},
		{"site", "--at", "35,-42", "--outlet", "45"},
		{"cost", "--heat", "-5"},
		{"trace", "--at", "35,-42", "--hour", "9000"},
		{"screen", "--study", filepath.Join(dir, "absent.toml")},
		{"nothing"}, {"screen", "--nothing"},
	} {
		r := stillrow(t, args...)
		if r.status != exitUsage || strings.Count(strings.TrimSpace(r.stderr), "\n") != 0 || r.stderr == "" || r.stdout != "" {
			t.Errorf("%v: status %d, want %d and one line:\n%s%s", args, r.status, exitUsage, r.stderr, r.stdout)
		}
	}
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	if r := stillrow(t, "screen", "--quiet", "--study", study, "--out", filepath.Join(dir, "out3"), filepath.Join(dir, "absent.epw"), good); r.status != exitSetAside || !strings.Contains(r.stderr, "absent.epw") {
		t.Errorf("missing weather file beside a good one: status %d: %s", r.status, r.stderr)
	}
	if r := stillrow(t, "screen", "--out", filepath.Join(dir, "out2"), filepath.Join(dir, "absent.epw")); r.status != exitFailed || !strings.Contains(r.stderr, "absent.epw") {
		t.Errorf("missing weather file: status %d: %s", r.status, r.stderr)
	}
}
