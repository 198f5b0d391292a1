package partstore

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"stillrow/data/bucket"
)

func TestSaveAndLoad(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "work")
	s := New(bucket.Folder(dir), "x-", Digest([]byte("a"), []byte("b")))
	if err := s.Remove(t.Context()); err != nil {
		t.Fatal("of nothing:", err)
	}
	for i, content := range [][]byte{[]byte("first"), nil, bytes.Repeat([]byte{7}, 100_000)} {
		if _, err := s.Load(t.Context(), i); !errors.Is(err, ErrMissing) {
			t.Errorf("part %d before: %v", i, err)
		}
		for range 2 { // again is the same
			if err := s.Save(t.Context(), i, content); err != nil {
				t.Fatal(err)
			}
		}
		if got, err := s.Load(t.Context(), i); err != nil || !bytes.Equal(got, content) {
			t.Errorf("part %d: %d bytes, %v", i, len(got), err)
		}
	}
	if list, err := s.Numbers(t.Context()); !slices.Equal(list, []int{0, 1, 2}) || err != nil {
		t.Errorf("parts %d, %v", list, err)
	}
	if _, err := New(bucket.Folder(dir), "x-", Digest([]byte("ab"), nil)).Load(t.Context(), 0); !errors.Is(err, ErrOther) {
		t.Errorf("for another key: %v", err)
	}
	other := New(bucket.Folder(dir), "y-", Key{})
	if err := other.Save(t.Context(), 0, nil); err != nil {
		t.Fatal(err)
	}
	if err := s.Remove(t.Context()); err != nil {
		t.Fatal(err)
	}
	if list, err := other.Numbers(t.Context()); !slices.Equal(list, []int{0}) || err != nil {
		t.Errorf("parts of another prefix that are left: %d, %v", list, err)
	}
	if list, err := s.Numbers(t.Context()); len(list) != 0 || err != nil {
		t.Errorf("parts that are left: %d, %v", list, err)
	}
}

// Every cut and every flipped bit is found, and so is a part under another's
// number.
func TestDamage(t *testing.T) {
	dir := t.TempDir()
	s := New(bucket.Folder(dir), "", Key{1, 2, 3})
	if err := s.Save(t.Context(), 4, []byte("what was done")); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(dir, s.name(4)))
	if err != nil {
		t.Fatal(err)
	}
	damaged := func(what string, at int, text []byte) {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, s.name(4)), text, 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := s.Load(t.Context(), 4); !errors.Is(err, ErrDamaged) {
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
	if err := os.WriteFile(filepath.Join(dir, s.name(5)), text, 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Load(t.Context(), 5); !errors.Is(err, ErrDamaged) {
		t.Errorf("under another number: %v", err)
	}
}
