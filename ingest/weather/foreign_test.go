package weather_test

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	arrowparquet "github.com/apache/arrow/go/v17/parquet"
	arrowfile "github.com/apache/arrow/go/v17/parquet/file"
	"github.com/parquet-go/parquet-go"

	"stillrow/ingest/weather"
)

// TestArrowReadsHours reads our hours with the Parquet reader of Arrow, a
// second implementation of the format, and compares every value.
func TestArrowReadsHours(t *testing.T) {
	const sites = 34
	for name, change := range map[string]func(*weather.Year) *weather.Year{"rounded": nil, "unrounded": unrounded} {
		dir := t.TempDir()
		writeTo(t, dir, sites, change)
		f, err := arrowfile.OpenParquetFile(filepath.Join(dir, partsOf(t, dir)[0]), false)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if f.NumRows() != sites*weather.Hours || f.NumRowGroups() != 2 {
			t.Fatalf("%s: %d rows in %d row groups, want %d in 2", name, f.NumRows(), f.NumRowGroups(), sites*weather.Hours)
		}
		for g := range f.NumRowGroups() {
			first, group := g*32, f.RowGroup(g)
			n := int(group.NumRows()) / weather.Hours
			ids := readArrow[arrowparquet.ByteArray](t, group, 0)
			hours := readArrow[int32](t, group, 1)
			var columns [7][]float32
			for k := range columns {
				columns[k] = readArrow[float32](t, group, 2+k)
			}
			for i := range n {
				site, want := synthetic(first + i)
				if change != nil {
					want = rounded(change(want))
				}
				for h := range weather.Hours {
					row := i*weather.Hours + h
					if string(ids[row]) != site.ID || hours[row] != int32(h) {
						t.Fatalf("%s: row %d is %s hour %d, want %s hour %d", name, row, ids[row], hours[row], site.ID, h)
					}
					for k, c := range columnsOf(want) {
						if math.Float32bits(columns[k][row]) != math.Float32bits((*c)[h]) {
							t.Fatalf("%s: site %s, column %d, hour %d: %v, want %v", name, site.ID, k, h, columns[k][row], (*c)[h])
						}
					}
				}
			}
			// A reader looking for one site may skip row groups by their bounds.
			chunk, err := group.MetaData().ColumnChunk(0)
			if err != nil {
				t.Fatal(err)
			}
			stats, err := chunk.Statistics()
			if err != nil || stats == nil || !stats.HasMinMax() {
				t.Fatalf("%s: row group %d has no bounds of site_id: %v", name, g, err)
			}
			low, _ := synthetic(first)
			high, _ := synthetic(first + n - 1)
			if string(stats.EncodeMin()) != low.ID || string(stats.EncodeMax()) != high.ID {
				t.Errorf("%s: row group %d: bounds %s…%s, want %s…%s", name, g, stats.EncodeMin(), stats.EncodeMax(), low.ID, high.ID)
			}
		}
	}
}

// TestArrowReadsSites does the same for the site table.
func TestArrowReadsSites(t *testing.T) {
	dir := write(t, 3)
	f, err := arrowfile.OpenParquetFile(filepath.Join(dir, "sites.parquet"), false)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	group := f.RowGroup(0)
	site, _ := synthetic(1)
	text := func(name string) string {
		return string(readArrow[arrowparquet.ByteArray](t, group, f.MetaData().Schema.ColumnIndexByName(name))[1])
	}
	for name, want := range map[string]string{"site_id": site.ID, "name": site.Name, "kind": site.Kind,
		"flags": "clock_unproven;snow_rejected", "split_model": site.SplitModel} {
		if got := text(name); got != want {
			t.Errorf("%s is %q, want %q", name, got, want)
		}
	}
	for name, want := range map[string]float64{"lat": site.Lat, "cell_deg": site.CellDeg, "hdd_01": site.HDD[0], "cdd_12": site.CDD[11]} {
		if got := readArrow[float64](t, group, f.MetaData().Schema.ColumnIndexByName(name))[1]; got != want {
			t.Errorf("%s is %v, want %v", name, got, want)
		}
	}
	for name, want := range map[string]int{"missing_hours": site.MissingHours, "year_12": site.Year[11], "clock_min_01": site.ClockMin[0]} {
		if got := readArrow[int32](t, group, f.MetaData().Schema.ColumnIndexByName(name))[1]; got != int32(want) {
			t.Errorf("%s is %v, want %v", name, got, want)
		}
	}
}

// readArrow reads a whole column of a row group.
func readArrow[T any](t *testing.T, group *arrowfile.RowGroupReader, column int) []T {
	t.Helper()
	c, err := group.Column(column)
	if err != nil {
		t.Fatal(err)
	}
	reader, ok := c.(interface {
		ReadBatch(int64, []T, []int16, []int16) (int64, int, error)
	})
	if !ok {
		t.Fatalf("column %d is a %T", column, c)
	}
	values := make([]T, group.NumRows())
	for n := 0; n < len(values); {
		_, m, err := reader.ReadBatch(int64(len(values)-n), values[n:], nil, nil)
		if err != nil || m == 0 {
			t.Fatalf("column %d: %d of %d values read: %v", column, n, len(values), err)
		}
		n += m
	}
	return values
}

// TestOtherLayouts reads tables that other settings, and another library,
// wrote: nullable columns in another order, pages and row groups that end
// within a site, wider numbers, other codecs and encodings, no page index.
func TestOtherLayouts(t *testing.T) {
	const sites = 3
	ours := write(t, sites)
	for name, options := range map[string][]parquet.WriterOption{
		"snappy, pages of version 2":  {parquet.Compression(&parquet.Snappy), parquet.DataPageVersion(2), parquet.PageBufferSize(8 << 10)},
		"row groups of 10000 rows":    {parquet.Compression(&parquet.Gzip), parquet.MaxRowsPerRowGroup(10_000), parquet.PageBufferSize(20 << 10)},
		"one row group, no codec":     {parquet.PageBufferSize(4 << 20)},
		"split bytes, small pages":    {parquet.DefaultEncodingFor(parquet.Float, &parquet.ByteStreamSplit), parquet.PageBufferSize(3000)},
		"dictionaries for everything": {parquet.DefaultEncoding(&parquet.RLEDictionary), parquet.MaxRowsPerRowGroup(9_000)},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			rewrite(t, ours, dir, partsOf(t, ours)[0], change{options: options})
			rewrite(t, ours, dir, "sites.parquet", change{options: options, wide: true})
			wantSynthetic(t, dir, sites)
		})
	}
	t.Run("Arrow", func(t *testing.T) {
		dir := t.TempDir()
		rewrite(t, ours, dir, "sites.parquet", change{})
		writeArrow(t, filepath.Join(dir, partsOf(t, ours)[0]), sites)
		wantSynthetic(t, dir, sites)
	})
}

func wantSynthetic(t *testing.T, dir string, sites int) {
	t.Helper()
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	for _, i := range []int{sites - 1, 0, 1, 1} {
		site, year := synthetic(i)
		wantSite(t, table.Sites[i], site)
		wantYear(t, table, i, year)
	}
}

// TestForeignRefused gives each kind of unusable table its one-line error.
func TestForeignRefused(t *testing.T) {
	ours, bigger := write(t, 2), write(t, 3)
	part := partsOf(t, ours)[0]
	hours := func(c change) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			rewrite(t, ours, dir, part, c)
			put(t, dir, "sites.parquet", readFile(t, ours, "sites.parquet"))
		}
	}
	sites := func(c change) func(*testing.T, string) {
		return func(t *testing.T, dir string) {
			put(t, dir, part, readFile(t, ours, part))
			rewrite(t, ours, dir, "sites.parquet", c)
		}
	}
	set := func(column string, row int, value any) change {
		return change{edit: func(name string, n int, v parquet.Value) (parquet.Value, bool) {
			if name != column || n != row {
				return v, true
			}
			return parquet.ValueOf(value), value != nil
		}}
	}
	const row = weather.Hours + 5 // hour 5 of the second site
	for _, tt := range []struct {
		name string
		make func(*testing.T, string)
		want string
	}{
		{"no table", func(*testing.T, string) {}, "sites.parquet: no such file"},
		{"no hours", func(t *testing.T, dir string) { put(t, dir, "sites.parquet", readFile(t, ours, "sites.parquet")) }, part + ": no such file"},
		{"text", func(t *testing.T, dir string) { put(t, dir, "sites.parquet", []byte("site_id,name\nx,y\n")) }, `not a Parquet file: it begins with "site"`},
		{"empty file", func(t *testing.T, dir string) { put(t, dir, "sites.parquet", nil) }, "0 bytes are no Parquet file"},
		{"more sites", func(t *testing.T, dir string) {
			put(t, dir, part, readFile(t, ours, part))
			put(t, dir, "sites.parquet", readFile(t, bigger, "sites.parquet"))
		}, partsOf(t, bigger)[0] + ": no such file"},
		{"fewer rows", func(t *testing.T, dir string) {
			put(t, dir, partsOf(t, bigger)[0], readFile(t, ours, part))
			put(t, dir, "sites.parquet", readFile(t, bigger, "sites.parquet"))
		}, "17520 rows, want 8760 for each site, of which sites.parquet places 3 in it"},
		{"older layout", sites(change{drop: "hours_file"}), "sites.parquet: column hours_file is missing: a table of an older layout, ingest again"},
		{"hours elsewhere", sites(set("hours_file", 1, "../"+part)), `row 1: site "HV-0001": hours_file: "../` + part + `" is no name`},
		{"hours before the first", sites(set("hours_site", 1, int32(-1))), `row 1: site "HV-0001": hours_site: -1 is negative`},
		{"hours of another", sites(set("hours_site", 1, int32(0))), `row 1: site "HV-0001": hours_site: 0 of ` + part + ` belongs to row 0 already`},
		{"column missing", hours(change{drop: "dni_w_m2"}), part + ": column dni_w_m2 is missing"},
		{"key missing", hours(change{drop: "site_id"}), part + ": column site_id is missing"},
		{"site column missing", sites(change{drop: "clock_min_07"}), "sites.parquet: column clock_min_07 is missing"},
		{"wrong type", hours(change{double: "snow_depth_cm"}), "column snow_depth_cm is DOUBLE, want FLOAT"},
		{"LZ4_RAW", hours(change{options: []parquet.WriterOption{parquet.Compression(&parquet.Lz4Raw)}}),
			part + ": row group 0: column site_id is compressed with LZ4_RAW"},
		{"LZ4_RAW sites", sites(change{options: []parquet.WriterOption{parquet.Compression(&parquet.Lz4Raw)}}),
			"sites.parquet: row group 0: column site_id is compressed with LZ4_RAW"},
		{"null", hours(set("wind_speed_m_s", row, nil)), part + `: row group 0: site "HV-0001": column wind_speed_m_s: hour 5 is null`},
		{"NaN", hours(set("ghi_w_m2", row, float32(math.NaN()))), `site "HV-0001": column ghi_w_m2: hour 5 is NaN`},
		{"infinity", hours(set("dhi_w_m2", row, float32(math.Inf(1)))), `site "HV-0001": column dhi_w_m2: hour 5 is +Inf`},
		{"code for missing", hours(set("ghi_w_m2", row, float32(-9999))), `site "HV-0001": column ghi_w_m2: hour 5 is -9999, want a finite value of at least 0`},
		{"other site's row", hours(set("site_id", row, "HV-0000")), `site "HV-0001": column site_id: rows belong to site "HV-0000"`},
		{"hours out of order", hours(set("hour", row, int32(6))), `site "HV-0001": column hour: hour 6 where 5 should be`},
		{"same identifier", sites(set("site_id", 1, "HV-0000")), `sites.parquet: row 1: site_id "HV-0000" is in row 0 already`},
		{"null latitude", sites(set("lat", 1, nil)), "sites.parquet: column lat: row group 0: a value is null"},
		{"latitude", sites(set("lat", 1, 91.0)), `sites.parquet: row 1: site "HV-0001": lat: 91 is outside`},
		{"kind", sites(set("kind", 1, "roof")), `row 1: site "HV-0001": kind: "roof"`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			tt.make(t, dir)
			err := readAll(dir)
			if err == nil || !strings.Contains(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
				t.Errorf("error %v, want one line with %q", err, tt.want)
			}
		})
	}
}

// readAll opens a table and reads its records.
func readAll(dir string) error {
	table, err := weather.Open(dir)
	if err != nil {
		return err
	}
	defer table.Close()
	for i := range table.Sites {
		rec, err := table.Record(i)
		if err != nil {
			return err
		}
		rec.Release()
	}
	return nil
}

func put(t *testing.T, dir, name string, content []byte) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(dir, name), content, 0o666); err != nil {
		t.Fatal(err)
	}
}
