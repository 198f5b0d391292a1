package weather_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"stillrow/ingest/weather"
)

// Hours are known by the bytes of a page read before: with any one byte of a later
// site's page changed, the site is read right or its error names the column, and
// the sites around it are read as before.
func TestHoursOfOneSpoilt(t *testing.T) {
	const sites, spoilt = 4, 2
	dir := write(t, sites)
	name := partsOf(t, dir)[0]
	whole := readFile(t, dir, name)
	f, err := parquet.OpenFile(bytes.NewReader(whole), int64(len(whole)))
	if err != nil {
		t.Fatal(err)
	}
	pages, err := f.RowGroups()[0].ColumnChunks()[1].OffsetIndex()
	if err != nil {
		t.Fatal(err)
	}
	from, n := pages.Offset(spoilt), pages.CompressedPageSize(spoilt)
	if !bytes.Equal(whole[from:from+n], whole[pages.Offset(0):][:n]) {
		t.Fatal("the hours of two sites are not of the same bytes")
	}
	refused := 0
	for at := from; at < from+n; at++ {
		b := bytes.Clone(whole)
		b[at] ^= 0x10
		put(t, dir, name, b)
		table, err := weather.Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		for i := range sites {
			y := weather.NewYear()
			err := table.ReadYear(i, y)
			switch {
			case err == nil:
				_, want := synthetic(i)
				wantYear(t, table, i, want)
			case i != spoilt || !strings.Contains(err.Error(), "column hour: "):
				t.Errorf("byte %d of %d, site %d: %v", at-from, n, i, err)
			default:
				refused++
			}
		}
		table.Close()
	}
	if refused == 0 {
		t.Error("no byte of the page matters")
	}
}
