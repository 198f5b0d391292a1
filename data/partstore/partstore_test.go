package partstore

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"testing"
)

func TestSaveAndLoad(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "work")
	s := Open(dir, Digest([]byte("a"), []byte("b")))
	if err := s.Remove(); err != nil {
		t.Fatal("of nothing:", err)
	}
	for i, content := range [][]byte{[]byte("first"), nil, bytes.Repeat([]byte{7}, 100_000)} {
		if _, err := s.Load(i); !errors.Is(err, ErrMissing) {
			t.Errorf("part %d before: %v", i, err)
		}
		for range 2 { // again is the same
			if err := s.Save(i, content); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := s.Load(i); err != nil || !bytes.Equal(got, content) {
			t.Errorf("part %d: %d bytes, %v", i, len(got), err)
		}
	}
	if n, err := s.Len(); n != 3 || err != nil {
		t.Errorf("%d parts, %v", n, err)
	}
	if _, err := Open(dir, Digest([]byte("ab"), nil)).Load(0); !errors.Is(err, ErrOther) {
		t.Errorf("for another key: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, ".x.1.part"), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := s.Remove(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the folder is left: %v", err)
	}
}

// Every cut and every flipped bit is found, and so is a part under another's
// number.
func TestDamage(t *testing.T) {
	s := Open(t.TempDir(), Key{1, 2, 3})
	if err := s.Save(4, []byte("what was done")); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(s.path(4))
	if err != nil {
		t.Fatal(err)
	}
	damaged := func(what string, at int, text []byte) {
		t.Helper()
		if err := os.WriteFile(s.path(4), text, 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Load(4); !errors.Is(err, ErrDamaged) {
			t.Errorf("%s %d: %v", what, at, err)
		}
	}
	for n := range text {
		damaged("cut to", n, text[:n])
	}
	for bit := range 8 * len(text) {
		one := bytes.Clone(text)
		one[bit/8] ^= 1 << (bit % 8)
		damaged("bit", bit, one)
	}
	if err := os.WriteFile(s.path(5), text, 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Load(5); !errors.Is(err, ErrDamaged) {
		t.Errorf("under another number: %v", err)
	}
}
