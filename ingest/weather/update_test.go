package weather_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// bare is a site and year of little content, to make tables of many.
func bare(id string, wind float32) (weather.Site, *weather.Year) {
	y := weather.NewYear()
	for h := range y.Wind {
		y.Wind[h] = wind
	}
	return weather.Site{ID: id, Kind: weather.KindGrid, Lat: float64(wind), CellDeg: 1, Source: "invented"}, y
}

// update adds the synthetic sites, or with another wind where it is given.
func update(dir string, wind float32, sites ...int) error {
	w, err := weather.Update(dir)
	if err != nil {
		return err
	}
	defer w.Abort()
	for _, i := range sites {
		s, y := synthetic(i)
		if wind > 0 {
			y.Wind[0] = wind
		}
		if err := w.Append(s, y); err != nil {
			return err
		}
	}
	return w.Close()
}

// contents is what a folder holds.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	all := make(map[string]string)
	for _, e := range entries {
		all[e.Name()] = string(readFile(t, dir, e.Name()))
	}
	return all
}

// wantIDs opens a table, compares its identifiers in order and reads its years:
// those whose wind was changed have it in their first hour.
func wantIDs(t *testing.T, dir string, wind float32, changed []int, sites ...int) {
	t.Helper()
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	if len(table.Sites) != len(sites) {
		t.Fatalf("%d sites, want %d", len(table.Sites), len(sites))
	}
	for k, i := range sites {
		s, y := synthetic(i)
		if slices.Contains(changed, i) {
			y.Wind[0] = wind
		}
		wantSite(t, table.Sites[k], s)
		wantYear(t, table, k, y)
	}
	names, err := weather.Files(dir)
	if want := append([]string{"sites.parquet"}, partsOf(t, dir)...); err != nil || !slices.Equal(names, want) {
		t.Errorf("Files gives %v, %v, want %v", names, err, want)
	}
}

// TestUpdate adds and replaces: parts without a replaced site stay, sites that
// stay keep their order, and the same once more changes no byte.
func TestUpdate(t *testing.T) {
	dir := t.TempDir()
	for _, sites := range [][]int{{0, 1, 2}, {3, 4}} { // a part each
		if err := update(dir, 0, sites...); err != nil {
			t.Fatal(err)
		}
	}
	before := contents(t, dir)
	wantIDs(t, dir, 0, nil, 0, 1, 2, 3, 4)
	if err := update(dir, 50, 5, 1); err != nil {
		t.Fatal(err)
	}
	wantIDs(t, dir, 50, []int{1, 5}, 0, 2, 3, 4, 5, 1)
	after := contents(t, dir)
	kept := 0
	for name, text := range before {
		if strings.HasPrefix(name, "hours-") && after[name] == text {
			kept++
		}
	}
	if kept != 1 || len(after) != 3 {
		t.Errorf("%d parts kept of two, %d files, want one and three", kept, len(after))
	}
	for name, again := range map[string]func() error{
		"the last": func() error { return update(dir, 50, 5, 1) },
		"nothing":  func() error { return update(dir, 0) },
	} {
		if err := again(); err != nil {
			t.Fatal(err)
		}
		wantIDs(t, dir, 50, []int{1, 5}, 0, 2, 3, 4, 5, 1)
		if now := contents(t, dir); name == "nothing" && len(now) != 3 {
			t.Errorf("adding %s leaves %d files", name, len(now))
		}
	}
}

// TestUpdateTwice writes the same set twice, with more sites than a row group
// has, and compares it with the table of Create.
func TestUpdateTwice(t *testing.T) {
	var sites []int
	for i := range 70 {
		sites = append(sites, i)
	}
	dir, created := t.TempDir(), write(t, len(sites))
	want := contents(t, created)
	for n := range 2 {
		if err := update(dir, 0, sites...); err != nil {
			t.Fatal(err)
		}
		got := contents(t, dir)
		for name := range want {
			if got[name] != want[name] {
				t.Errorf("update %d: %s differs from that of Create", n+1, name)
			}
		}
		if len(got) != len(want) {
			t.Errorf("update %d: %d files, want %d", n+1, len(got), len(want))
		}
	}
}

// TestParts fills one part and begins another, and replaces a site of the
// first.
func TestParts(t *testing.T) {
	const sites = weather.PartSites + 40
	dir := t.TempDir()
	id := func(i int) string { s, _ := synthetic(i); return s.ID }
	w, err := weather.Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i := range sites {
		if err := w.Append(bare(id(i), float32(i%90))); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	check := func(parts int, at func(k int) (i int, wind float32)) {
		t.Helper()
		table, err := weather.Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		defer table.Close()
		if n := len(partsOf(t, dir)); n != parts || len(table.Sites) != sites {
			t.Fatalf("%d parts, %d sites, want %d, %d", n, len(table.Sites), parts, sites)
		}
		for k := 0; k < sites; k += 31 {
			i, wind := at(k)
			rec, err := table.Record(k)
			if err != nil {
				t.Fatal(err)
			}
			y, err := weather.YearOf(rec)
			if err != nil {
				t.Fatal(err)
			}
			if table.Sites[k].ID != id(i) || y.Wind[8759] != wind {
				t.Errorf("row %d: site %s, wind %v, want %s, %v", k, table.Sites[k].ID, y.Wind[8759], id(i), wind)
			}
		}
	}
	check(2, func(k int) (int, float32) { return k, float32(k % 90) })
	small := partsOf(t, dir)
	if w, err = weather.Update(dir); err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	if err := errors.Join(w.Append(bare(id(0), 33)), w.Close()); err != nil {
		t.Fatal(err)
	}
	check(2, func(k int) (int, float32) {
		if k == sites-1 {
			return 0, 33
		}
		return k + 1, float32((k + 1) % 90)
	})
	kept := 0
	for _, name := range partsOf(t, dir) {
		if slices.Contains(small, name) {
			kept++
		}
	}
	if kept != 1 {
		t.Errorf("%d of the two parts kept, want the one without the replaced site", kept)
	}
}

// TestInterrupted lays out what a machine that stops at each step of a write
// leaves, and finds one of the two tables whole; the next write clears up.
func TestInterrupted(t *testing.T) {
	old, next := write(t, 3), t.TempDir()
	for name, text := range contents(t, old) {
		put(t, next, name, []byte(text))
	}
	if err := update(next, 50, 1, 7); err != nil {
		t.Fatal(err)
	}
	was, is := contents(t, old), contents(t, next)
	oldSites, newSites := []int{0, 1, 2}, []int{0, 2, 1, 7}
	part := partsOf(t, next)[0]
	for _, step := range []struct {
		name    string
		left    []map[string]string
		changed []int
		sites   []int
	}{
		{"part half written", []map[string]string{was, {".hours.parquet.12.part": is[part][:5000]}}, nil, oldSites},
		{"part named", []map[string]string{was, {part: is[part]}}, nil, oldSites},
		{"site table half written", []map[string]string{was, {part: is[part], ".sites.parquet.34.part": "PAR1"}}, nil, oldSites},
		{"site table replaced", []map[string]string{was, is}, []int{1, 7}, newSites},
	} {
		t.Run(step.name, func(t *testing.T) {
			dir := t.TempDir()
			for _, left := range step.left {
				for name, text := range left {
					put(t, dir, name, []byte(text))
				}
			}
			for k, i := range step.sites {
				s, y := synthetic(i)
				if slices.Contains(step.changed, i) {
					y.Wind[0] = 50
				}
				table, err := weather.Open(dir)
				if err != nil {
					t.Fatal(err)
				}
				defer table.Close()
				wantSite(t, table.Sites[k], s)
				wantYear(t, table, k, y)
			}
			put(t, dir, "hours-of-mine.parquet", nil) // not ours
			if err := update(dir, 50, 1, 7); err != nil {
				t.Fatal(err)
			}
			got := contents(t, dir)
			if _, ok := got["hours-of-mine.parquet"]; !ok || len(got) != 3 || len(partsOf(t, dir)) != 2 {
				t.Errorf("%d files left, want the table's two and the stranger", len(got))
			}
		})
	}
}

// TestReplacedWhileReading opens a table, replaces it, and reads on.
func TestReplacedWhileReading(t *testing.T) {
	dir := write(t, 3)
	opened, unopened := openTable(t, dir), openTable(t, dir)
	if _, err := opened.Record(0); err != nil {
		t.Fatal(err)
	}
	if err := update(dir, 50, 0, 1, 2); err != nil {
		t.Fatal(err)
	}
	if _, err := unopened.Record(0); err == nil || !strings.Contains(err.Error(), "the table was replaced while reading") {
		t.Errorf("error %v, want one saying that the table was replaced", err)
	}
	if rec, err := opened.Record(1); err != nil {
		t.Logf("this system does not keep an open file: %v", err)
	} else {
		y, err := weather.YearOf(rec)
		if _, want := synthetic(1); err != nil || y.Wind[0] != want.Wind[0] {
			t.Errorf("wind %v, %v, want that of the table opened: %v", y.Wind[0], err, want.Wind[0])
		}
	}
	for _, name := range partsOf(t, dir) {
		if err := os.Remove(filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	if err := readAll(dir); err == nil || strings.Contains(err.Error(), "replaced") || !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a part deleted by hand: error %v", err)
	}
}

// TestTwoWriters lets two writers at one table: the one that closes last has
// not seen what the other wrote, and fails instead of undoing it.
func TestTwoWriters(t *testing.T) {
	for name, start := range map[string]func(string) (*weather.Writer, error){"Create": weather.Create, "Update": weather.Update} {
		dir := write(t, 2)
		w, err := start(dir)
		if err != nil {
			t.Fatal(err)
		}
		defer w.Abort()
		if err := w.Append(bare("x", 1)); err != nil {
			t.Fatal(err)
		}
		if err := update(dir, 0, 9); err != nil {
			t.Fatal(err)
		}
		before := contents(t, dir)
		if err := w.Close(); err == nil || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: the second writer gave %v", name, err)
		}
		if after := contents(t, dir); len(after) != len(before) || !bytes.Equal([]byte(after["sites.parquet"]), []byte(before["sites.parquet"])) {
			t.Errorf("%s: the second writer changed the folder", name)
		}
		wantIDs(t, dir, 0, nil, 0, 1, 9)
	}
}

// TestUpdateRefused leaves what it cannot read alone.
func TestUpdateRefused(t *testing.T) {
	dir := write(t, 1)
	put(t, dir, "sites.parquet", readFile(t, dir, "sites.parquet")[:100])
	before := contents(t, dir)
	if _, err := weather.Update(dir); err == nil || !strings.Contains(err.Error(), "sites.parquet") {
		t.Errorf("a damaged table: error %v", err)
	}
	if len(contents(t, dir)) != len(before) {
		t.Error("an update that failed changed the folder")
	}
}

func openTable(t *testing.T, dir string) *weather.Table {
	t.Helper()
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { table.Close() })
	return table
}
