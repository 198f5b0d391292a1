package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

func verify(dir string) (status int, out, errs string) {
	var o, e bytes.Buffer
	status = run(context.Background(), []string{"verify", dir}, &o, &e)
	return status, o.String(), e.String()
}

// A bit flipped in any file of an output folder, and a file that is gone, are
// found and named; sha256sum, where there is one, agrees that all was well.
func TestVerify(t *testing.T) {
	temp := t.TempDir()
	station := write(t, filepath.Join(temp, "station.epw"), epwYear(nil))
	study := write(t, filepath.Join(temp, "study.toml"), testStudy)
	dir := filepath.Join(temp, "out")
	if r := stillrow(t, "screen", "--quiet", "--keep-heat", "--study", study, "--out", dir, station); r.status != exitDone {
		t.Fatal(r.stderr)
	}
	if status, out, errs := verify(dir); status != exitDone || !strings.Contains(out, "all as written") {
		t.Fatalf("status %d: %s%s", status, out, errs)
	}
	if tool, err := exec.LookPath("sha256sum"); err != nil {
		t.Log("no sha256sum to compare with")
	} else {
		c := exec.Command(tool, "--check", "--strict", "--quiet", sumsFile)
		c.Dir = dir
		if text, err := c.CombinedOutput(); err != nil {
			t.Errorf("sha256sum: %v\n%s", err, text)
		}
	}
	sums, err := readSums(filepath.Join(dir, sumsFile))
	if err != nil {
		t.Fatal(err)
	}
	listed := make(map[string]bool)
	for _, s := range sums {
		listed[s.name] = true
		path := filepath.Join(dir, filepath.FromSlash(s.name))
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		text[len(text)/2] ^= 1
		write(t, path, string(text))
		if status, _, errs := verify(dir); status != exitFailed || !strings.Contains(errs, path+": not as written") {
			t.Errorf("a bit flipped in %s: status %d: %s", s.name, status, errs)
		}
		text[len(text)/2] ^= 1
		write(t, path, string(text))
	}
	err = filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		name, _ := filepath.Rel(dir, path)
		if name = filepath.ToSlash(name); err == nil && !d.IsDir() && !listed[name] && name != sumsFile && name != "timing.json" {
			t.Errorf("%s is not in %s", name, sumsFile)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	gone := filepath.Join(dir, "bands.csv")
	if err := os.Remove(gone); err != nil {
		t.Fatal(err)
	}
	if status, _, errs := verify(dir); status != exitFailed || !strings.Contains(errs, gone+": missing") {
		t.Errorf("status %d: %s", status, errs)
	}
}

// What is no list of checksums is refused by line, and nothing outside the
// folder is looked at.
func TestVerifyRefuses(t *testing.T) {
	dir := t.TempDir()
	if status, _, errs := verify(dir); status != exitFailed || !strings.Contains(errs, "no finished output") {
		t.Errorf("status %d: %s", status, errs)
	}
	sum := strings.Repeat("0", 64)
	for text, want := range map[string]string{
		"":                           "empty",
		"xyz  a\n":                   sumsFile + ":1: want a SHA-256",
		sum + "  a\n" + sum + " a\n": sumsFile + ":2: want a SHA-256",
		sum + "  ../../etc/passwd\n": "outside the folder",
		sum + "  " + "/etc/passwd\n": "outside the folder",
	} {
		write(t, filepath.Join(dir, sumsFile), text)
		if status, _, errs := verify(dir); status != exitFailed || !strings.Contains(errs, want) {
			t.Errorf("%q: status %d: %s", text, status, errs)
		}
	}
}
