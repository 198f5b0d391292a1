package ingest_test

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/weather"
)

// year is an EPW file of a whole invented year at a city and station number, of
// equal days; edit changes row h as it is written.
func year(city, station string, edit func(h int, fields []string)) string {
	var b strings.Builder
	fmt.Fprintf(&b, "LOCATION,%s,-,HLV,invented,%s,20.00,-45.00,-3.0,12.0\nDATA PERIODS,1,1,Data,Sunday,1/1,12/31\n", city, station)
	h := 0
	for m, days := range weather.MonthDays {
		for day := range days {
			for hour := range 24 {
				f := slices.Repeat([]string{"0"}, 35)
				f[0], f[1], f[2], f[3] = "2011", fmt.Sprint(m+1), fmt.Sprint(day+1), fmt.Sprint(hour+1)
				f[6], f[7], f[8], f[9], f[12], f[21] = fmt.Sprint(20+hour%7), "12.0", "60", "101000", fmt.Sprint(330+hour), fmt.Sprint(2+hour%3)
				if hour >= 8 && hour < 16 {
					f[13], f[14], f[15] = "500", "600", "120"
				}
				if edit != nil {
					edit(h, f)
				}
				b.WriteString(strings.Join(f, ",") + "\n")
				h++
			}
		}
	}
	return b.String()
}

// run ingests what the words give.
func run(t *testing.T, out string, words ...string) (ingest.Summary, error) {
	t.Helper()
	sources, err := ingest.Files(words)
	if err != nil {
		t.Fatal(err)
	}
	return ingest.Run(context.Background(), ingest.Options{Sources: sources, Out: out, Clock: ingest.Stamped, Workers: 2})
}

// Bad files among good ones on disk: each is set aside with the file, the line
// and the field, and the others become sites with what was counted in them.
func TestRunOnFiles(t *testing.T) {
	dir := t.TempDir()
	whole := year("Sandbank Quay", "012345", nil)
	lines := strings.SplitAfter(whole, "\n")
	holes := year("Sandbank Quay", "012345", func(h int, f []string) {
		switch {
		case h == 100 || h == 101: // a short gap of the air
			f[6] = "99.9"
		case h >= 200 && h < 210:
			f[21] = "999"
		case h == 300:
			f[8], f[21] = "wet", "2 m/s"
		}
	})
	bad := func(line int, edit func(string) string) string {
		l := slices.Clone(lines)
		l[line-1] = edit(l[line-1])
		return strings.Join(l, "")
	}
	files := []struct{ name, text, id, reason string }{
		{"a-whole.epw", whole, "012345", ""},
		{"b-short-row.epw", bad(500, func(s string) string { return s[:20] + "\n" }), "", ":500: row has "},
		{"c-holes.epw", holes, "012345-c-holes", ""}, // the same station: an id of its own
		{"d-truncated.epw", strings.Join(lines[:4000], ""), "", ":4000: incomplete year: the rows end with "},
		{"e-day.epw", bad(7, func(s string) string { return strings.Replace(s, ",1,1,", ",1,first,", 1) }), "", `:7: day: "first" is not a whole number`},
		{"f-no-air.epw", year("Bare", "3", func(_ int, f []string) { f[6] = "99.9" }), "", ": air_temperature_c: no values in the file"},
		{"g-dark.epw", year("Dark", "4", func(h int, f []string) {
			if h%24 < 10 {
				f[13] = "9999"
			}
		}), "", ": ghi_w_m2: missing in "},
		{"h-empty.epw", "", "", ": empty file"},
	}
	for _, f := range files {
		put(t, dir, f.name, f.text)
	}
	sum, err := run(t, filepath.Join(dir, "weather"), dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(sum.Inputs) != len(files) || sum.Sites != 2 || sum.SetAside != len(files)-2 {
		t.Fatalf("%d inputs, %d sites, %d set aside", len(sum.Inputs), sum.Sites, sum.SetAside)
	}
	for i, in := range sum.Inputs {
		f := files[i]
		path := filepath.Join(dir, f.name)
		if in.Name != path || in.SiteID != f.id || (in.Status == ingest.StatusOK) != (f.reason == "") ||
			(in.Reason == "") != (f.reason == "") || f.reason != "" && !strings.HasPrefix(in.Reason, path+f.reason) {
			t.Errorf("%s: site %q, %s: %q, want site %q, %q", in.Name, in.SiteID, in.Status, in.Reason, f.id, f.reason)
		}
		digest := sha256.Sum256([]byte(f.text))
		if f.text != "" && (in.Size != int64(len(f.text)) || in.SHA256 != hex.EncodeToString(digest[:])) {
			t.Errorf("%s: %d bytes, digest %s", in.Name, in.Size, in.SHA256)
		}
		if strings.Contains(in.Reason, "\n") {
			t.Errorf("a reason of several lines: %q", in.Reason)
		}
	}
	// The counts of the file with holes: two hours of air, eleven of wind; the
	// humidity is no column of the table, but its bad cell is told.
	holed := sum.Inputs[2]
	for _, c := range holed.Columns {
		want := map[string]int{"air_temperature_c": 2, "wind_speed_m_s": 11}[c.Column]
		if c.Missing != want || c.Filled != want || c.Impossible != 0 {
			t.Errorf("counts %+v, want %d missing and filled", c, want)
		}
	}
	if holed.BadCells != 2 || !slices.Equal(holed.Warnings, []string{
		holed.Name + `:303: relative humidity: "wet": not a number; taken as missing`,
		holed.Name + `:303: wind speed: "2 m/s": not a number; taken as missing`}) {
		t.Errorf("%d bad cells, warnings %q", holed.BadCells, holed.Warnings)
	}
	table, err := weather.Open(filepath.Join(dir, "weather"))
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	if s := table.Sites[1]; s.ID != "012345-c-holes" || s.MissingHours != 13 || s.FilledHours != 13 {
		t.Errorf("site %q: %d hours missing, %d filled, want 13", s.ID, s.MissingHours, s.FilledHours)
	}
}

// Names in Latin-1, in the file and of it, become UTF-8, and the table takes
// them.
func TestLatin1(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "r\xf8ros.epw")
	if err := os.WriteFile(name, []byte(year("R\xf8ros", "", nil)), 0o666); err != nil {
		t.Skipf("this file system takes no such name: %v", err)
	}
	if _, err := run(t, filepath.Join(dir, "weather"), dir); err != nil {
		t.Fatal(err)
	}
	table, err := weather.Open(filepath.Join(dir, "weather"))
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	if s := table.Sites[0]; s.Name != "Røros" || s.Source != "EPW (invented), røros.epw" || s.ID != "r-ros" {
		t.Errorf("name %q, source %q, id %q", s.Name, s.Source, s.ID)
	}
}
