package grid

import (
	"strings"
	"testing"
)

// axis gives n coordinates a step apart.
func axis(from, step float64, n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = from + float64(i)*step
	}
	return v
}

// A file may claim a million million cells in few bytes.
func TestCellsWithoutEnd(t *testing.T) {
	f := &File{Name: "a.tif", Lat: axis(-89, 1.7e-4, 1<<20), Lon: axis(-89, 1.7e-4, 1<<20)}
	const want = "a.tif: 1048576 × 1048576 cells, 1099511627776, want at most 4294967296"
	if err := f.check(); err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}

	f.Lat, f.Lon = axis(-89, 5e-3, 1<<15), axis(-89, 5e-3, 1<<15)
	if err := f.check(); err != nil {
		t.Error(err)
	}
	r := newRegion(f)
	r.fields[GHI] = &joined{quantity: GHI, parts: []part{{file: f}}}
	cells, _ := r.Select(nil, 1)
	if len(cells) != mostSelected+1 {
		t.Errorf("%d cells selected", len(cells))
	}
	const tooMany = "a.tif: over 10000000 cells of 32768 × 32768, want at most that"
	if _, err := r.NewLoader(cells, 1<<30, t.TempDir()); err == nil || !strings.HasPrefix(err.Error(), tooMany) {
		t.Errorf("%v, want %s", err, tooMany)
	}
	if cells, _ = r.Select(nil, 32); len(cells) != 1<<20 {
		t.Errorf("%d cells of one of 32", len(cells))
	}
}
