package rank

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// However sites are cut into batches, and whether these are saved and loaded
// between, the files are the same to the byte.
func TestBatchesMakeNoDifference(t *testing.T) {
	o, blocks := halvane(t)
	o.Pictures = true
	rank := func(size int, saved bool) map[string]string {
		o.Out = t.TempDir()
		k, err := New(o)
		if err != nil {
			t.Fatal(err)
		}
		defer k.Abort()
		for first := 0; first < len(blocks); first += size {
			batch := k.Batch()
			for _, b := range blocks[first:min(first+size, len(blocks))] {
				if err := batch.Add(b); err != nil {
					t.Fatal(err)
				}
			}
			if saved {
				var file bytes.Buffer
				if err := batch.Save(&file); err != nil {
					t.Fatal(err)
				}
				if batch, err = k.Load(&file); err != nil {
					t.Fatal(err)
				}
			}
			if err := k.Take(batch); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := k.Finish(t.Context()); err != nil {
			t.Fatal(err)
		}
		files := make(map[string]string)
		paths, err := filepath.Glob(filepath.Join(o.Out, "*"))
		if err != nil || len(paths) < 4 {
			t.Fatal(paths, err)
		}
		for _, p := range paths {
			text, err := os.ReadFile(p)
			if err != nil {
				t.Fatal(err)
			}
			files[filepath.Base(p)] = string(text)
		}
		return files
	}
	want := rank(len(blocks), false)
	for _, size := range []int{1, 2, 3} {
		for name, text := range rank(size, size != 2) {
			if text != want[name] {
				t.Errorf("batches of %d: %s differs", size, name)
			}
		}
	}
}

// What a Ranker of other candidates saved is refused.
func TestLoadRefuses(t *testing.T) {
	o, blocks := halvane(t)
	o.Out = t.TempDir()
	k, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Abort()
	batch := k.Batch()
	if err := batch.Add(blocks[0]); err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if err := batch.Save(&file); err != nil {
		t.Fatal(err)
	}
	text := file.Bytes()
	if _, err := k.Load(bytes.NewReader(text[:len(text)/2])); err == nil {
		t.Error("half a batch loaded")
	}
	o.Table.Designs = o.Table.Designs[1:]
	other, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Abort()
	if _, err := other.Load(bytes.NewReader(text)); err == nil || !strings.Contains(err.Error(), "designs") {
		t.Errorf("error %v", err)
	}
}
