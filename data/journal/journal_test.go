package journal

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// all opens a journal and gives its records.
func all(t *testing.T, path, fingerprint string) (*Journal, []string) {
	t.Helper()
	var list []string
	j, err := Open(path, fingerprint, func(r []byte) error {
		list = append(list, string(r))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { j.file.Close() })
	return j, list
}

func add(t *testing.T, j *Journal, records ...string) {
	t.Helper()
	for _, r := range records {
		if err := j.Append([]byte(r)); err != nil {
			t.Fatal(err)
		}
	}
}

func TestGoesOn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "new", "work.journal")
	j, got := all(t, path, "study A")
	if len(got) > 0 {
		t.Errorf("a new journal has %q", got)
	}
	add(t, j, "one", "", strings.Repeat("x", 100_000))
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	j, got = all(t, path, "study A")
	if want := []string{"one", "", strings.Repeat("x", 100_000)}; !slices.Equal(got, want) {
		t.Errorf("got %d records", len(got))
	}
	add(t, j, "four")
	j.Close()
	if j, got = all(t, path, "study A"); len(got) != 4 || got[3] != "four" {
		t.Errorf("got %d records", len(got))
	}
	if err := j.Remove(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("removed, and still there: %v", err)
	}
}

// Of other work it stays as it was.
func TestOtherWork(t *testing.T) {
	path := filepath.Join(t.TempDir(), "work.journal")
	j, _ := all(t, path, "study A")
	add(t, j, "one")
	j.Close()
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Open(path, "study B", func([]byte) error { return errors.New("replayed") }); !errors.Is(err, ErrOther) {
		t.Errorf("got %v, want %v", err, ErrOther)
	}
	if after, err := os.ReadFile(path); err != nil || !slices.Equal(before, after) {
		t.Errorf("changed: %v", err)
	}
}

// Cut anywhere, as a power cut may leave it, it keeps the whole records before
// the cut and takes new ones after them.
func TestCutAnywhere(t *testing.T) {
	path := filepath.Join(t.TempDir(), "work.journal")
	j, _ := all(t, path, "F")
	var ends []int64
	for i := range 5 {
		add(t, j, fmt.Sprint("record ", i))
		ends = append(ends, j.size)
	}
	j.Close()
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for cut := range len(whole) {
		if err := os.WriteFile(path, whole[:cut], 0o644); err != nil {
			t.Fatal(err)
		}
		want := 0
		for want < 5 && ends[want] <= int64(cut) {
			want++
		}
		j, got := all(t, path, "F")
		if len(got) != want {
			t.Fatalf("cut at %d: %q, want %d records", cut, got, want)
		}
		add(t, j, "more")
		j.Close()
		j, got = all(t, path, "F")
		j.Close()
		if len(got) != want+1 || got[want] != "more" {
			t.Fatalf("cut at %d, then one more: %q", cut, got)
		}
	}
}

// A flipped bit ends the records there.
func TestFlippedBits(t *testing.T) {
	path := filepath.Join(t.TempDir(), "work.journal")
	j, _ := all(t, path, "F")
	start := j.size
	add(t, j, "one", "two")
	j.Close()
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for at := start; at < int64(len(whole)); at++ {
		damaged := slices.Clone(whole)
		damaged[at] ^= 0x10
		if err := os.WriteFile(path, damaged, 0o644); err != nil {
			t.Fatal(err)
		}
		j, got := all(t, path, "F")
		j.Close()
		if len(got) > 1 || len(got) == 1 && got[0] != "one" {
			t.Fatalf("bit of byte %d flipped: %q", at, got)
		}
	}
}

func TestReplayFails(t *testing.T) {
	path := filepath.Join(t.TempDir(), "work.journal")
	j, _ := all(t, path, "F")
	add(t, j, "one")
	j.Close()
	failed := errors.New("no such part")
	if _, err := Open(path, "F", func([]byte) error { return failed }); !errors.Is(err, failed) || !strings.Contains(err.Error(), path) {
		t.Errorf("got %v", err)
	}
}

func FuzzOpen(f *testing.F) {
	f.Add([]byte(magic))
	f.Add([]byte(magic + "\x01\x00\x00\x00\x00\x00\x00\x00F"))
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(t.TempDir(), "j")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		j, err := Open(path, "F", func([]byte) error { return nil })
		if errors.Is(err, ErrOther) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := j.Append([]byte("x")); err != nil {
			t.Fatal(err)
		}
		j.Close()
	})
}
