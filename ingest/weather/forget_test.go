package weather_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"stillrow/ingest/weather"
)

// Sites forgotten are not in the table, whatever row group or part they went to,
// and one that it had before stays as it was; their identifiers are free again.
func TestForget(t *testing.T) {
	dir := t.TempDir()
	if err := update(dir, 0, 0, 1, 2); err != nil {
		t.Fatal(err)
	}
	w, err := weather.Update(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	again := func(i int, wind float32) {
		s, y := synthetic(i)
		y.Wind[0] = wind
		if err := w.Append(s, y); err != nil {
			t.Fatal(err)
		}
	}
	var gone []string
	again(1, 7)
	s, _ := synthetic(1)
	gone = append(gone, s.ID)
	for i := range 40 { // beyond a row group
		s, y := bare(fmt.Sprint("gone ", i), 1)
		gone = append(gone, s.ID)
		if err := w.Append(s, y); err != nil {
			t.Fatal(err)
		}
	}
	again(3, 5)
	w.Forget(gone)
	again(4, 5)
	if s, y := bare("gone 0", 9); true {
		if err := w.Append(s, y); err != nil {
			t.Errorf("an identifier forgotten is not free: %v", err)
		}
		w.Forget([]string{s.ID})
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	wantIDs(t, dir, 5, []int{3, 4}, 0, 1, 2, 3, 4)

	// All forgotten: the table is what it was.
	was, err := os.ReadFile(filepath.Join(dir, "sites.parquet"))
	if err != nil {
		t.Fatal(err)
	}
	if w, err = weather.Update(dir); err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	s, y := bare("new", 1)
	if err := w.Append(s, y); err != nil {
		t.Fatal(err)
	}
	w.Forget([]string{"new"})
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	wantIDs(t, dir, 5, []int{3, 4}, 0, 1, 2, 3, 4)
	if is, _ := os.ReadFile(filepath.Join(dir, "sites.parquet")); string(is) != string(was) {
		t.Error("the site table has changed")
	}
}
