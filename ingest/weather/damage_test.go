package weather_test

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"stillrow/ingest/weather"
)

// TestTruncated cuts both files at many lengths, and a hole into each.
func TestTruncated(t *testing.T) {
	dir := write(t, 2)
	for _, name := range []string{partsOf(t, dir)[0], "sites.parquet"} {
		whole := readFile(t, dir, name)
		var lengths []int
		for k := range 40 {
			lengths = append(lengths, len(whole)*k/40, len(whole)-1-k)
		}
		for _, n := range lengths {
			put(t, dir, name, whole[:n])
			if err := readAll(dir); err == nil || !strings.Contains(err.Error(), name) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%s cut to %d of %d bytes: error %v, want one line naming it", name, n, len(whole), err)
			}
		}
		put(t, dir, name, slices.Delete(bytes.Clone(whole), len(whole)/3, len(whole)/3+500))
		if err := readAll(dir); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s with a hole: error %v, want one naming it", name, err)
		}
		put(t, dir, name, whole)
	}
	if err := readAll(dir); err != nil {
		t.Errorf("the whole files: %v", err)
	}
}

// TestOnlyOwnPages spoils every page of one site of a row group: it alone can
// no longer be read, so reading a site touches no other site's pages. This also
// holds each column to one page a site.
func TestOnlyOwnPages(t *testing.T) {
	const sites, spoilt = 4, 2
	dir := write(t, sites)
	name := partsOf(t, dir)[0]
	b := readFile(t, dir, name)
	f, err := parquet.OpenFile(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	for c, chunk := range f.RowGroups()[0].ColumnChunks() {
		pages, err := chunk.OffsetIndex()
		if err != nil {
			t.Fatal(err)
		}
		if pages.NumPages() != sites {
			t.Fatalf("column %d: %d pages, want %d", c, pages.NumPages(), sites)
		}
		for p := range sites {
			if got := pages.FirstRowIndex(p); got != int64(p)*weather.Hours {
				t.Errorf("column %d: page %d begins at row %d, want %d", c, p, got, p*weather.Hours)
			}
		}
		from := pages.Offset(spoilt)
		clear(b[from : from+pages.CompressedPageSize(spoilt)])
	}
	put(t, dir, name, b)
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	for i := range sites {
		if i != spoilt {
			_, want := synthetic(i)
			wantYear(t, table, i, want)
		} else if _, err := table.Record(i); err == nil || !strings.Contains(err.Error(), name+": row group 0") {
			t.Errorf("site %d: error %v, want one naming file and row group", i, err)
		}
	}
}

// TestFlippedBits flips single bits of the hours. In the pages, which carry
// checksums, none may change a value unnoticed; the footer has no checksum, so
// there the test is that nothing panics.
func TestFlippedBits(t *testing.T) {
	dir := write(t, 1)
	name := partsOf(t, dir)[0]
	whole := readFile(t, dir, name)
	_, want := synthetic(0)
	f, err := parquet.OpenFile(bytes.NewReader(whole), int64(len(whole)))
	if err != nil {
		t.Fatal(err)
	}
	pagesEnd := int(f.Metadata().RowGroups[0].Columns[0].ColumnIndexOffset)
	var at []int
	for i := 4; i < pagesEnd; i += 211 {
		at = append(at, i)
	}
	for i := pagesEnd; i < len(whole); i += 11 {
		at = append(at, i)
	}
	noticed := 0
	for k, i := range at {
		b := bytes.Clone(whole)
		b[i] ^= 1 << (k % 8)
		put(t, dir, name, b)
		table, err := weather.Open(dir)
		if err != nil {
			noticed++
			continue
		}
		if rec, err := table.Record(0); err != nil {
			noticed++
		} else if year, err := weather.YearOf(rec); err != nil {
			t.Errorf("bit %d of byte %d: %v", k%8, i, err)
		} else if column, hour := firstDifference(year, want); column >= 0 && i < pagesEnd {
			t.Errorf("bit %d of byte %d changed column %d, hour %d unnoticed", k%8, i, column, hour)
		}
		table.Close()
	}
	if noticed < len(at)/2 {
		t.Errorf("%d of %d flipped bits noticed", noticed, len(at))
	}
}
