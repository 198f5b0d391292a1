package tmy3

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/ingest/weather/realfiles"
)

// Every fixture is named after its defect; the error names file, line and field.
func TestDefects(t *testing.T) {
	want := map[string]string{
		"empty.csv":                  ": empty file",
		"station-six-fields.csv":     ":1: station line has 6 fields, want 7; not a TMY3 file",
		"station-only.csv":           ":1: no line of column names",
		"zone-in-words.csv":          `:1: time zone: "PST" is not a number`,
		"latitude-north-of-pole.csv": `:1: latitude: "148.500" is outside -90 to 90`,
		"no-time-column.csv":         ":2: no columns Date (MM/DD/YYYY) and Time (HH:MM); not a TMY3 file",
		"fahrenheit.csv":             `:2: Dry-bulb (F): unit "F", want "C"`,
		"ghi-twice.csv":              ":2: GHI (W/m^2): the column comes twice",
		"no-rows.csv":                ":2: no rows after the column names",
		"row-short.csv":              ":4: row has 4 fields, want 14 as in the line of column names",
		"row-long.csv":               ":3: row has 16 fields, want 14 as in the line of column names",
		"row-cut.csv":                ":4: the file stops in the middle of a row, field 4 of 14",
		"date-by-points.csv":         `:3: Date (MM/DD/YYYY): "01.01.2001" is no date`,
		"30-february.csv":            ":3: day: 30 is no day of month 2",
		"hour-zero.csv":              `:3: Time (HH:MM): "00:00" is not between 00:01 and 24:00`,
		"hour-25.csv":                `:3: Time (HH:MM): "25:00" is not between 00:01 and 24:00`,
		"hour-twice.csv":             ":4: the hour 01-01 00:00–01:00 comes twice",
		"seven-minutes.csv":          ":3: Time (HH:MM): the first row ends 7 minutes past the hour, no even part of it",
		"one-day-of-minutes.csv":     ":3: incomplete year: the rows start with 05-17 00:00–01:00",
		"truncated-year.csv":         ":26: incomplete year: the rows end with 01-01 23:00–24:00; hours missing: 8736",
		"binary.csv":                 ":3: binary content, not text",
	}
	files, err := filepath.Glob("testdata/*.csv")
	if err != nil || len(files) != len(want) {
		t.Fatalf("%d fixtures, %d expectations, %v", len(files), len(want), err)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		_, err = Parse(f, bytes.NewReader(b))
		var fileErr *weather.FileError
		if !errors.As(err, &fileErr) {
			t.Errorf("%s: %v, want a FileError", f, err)
			continue
		}
		if w := f + want[filepath.Base(f)]; err.Error() != w {
			t.Errorf("got  %s\nwant %s", err, w)
		}
	}
}

// year makes the text of a year with rows every so many minutes; cells changes
// the cells of a row.
func year(minutes int, cells func(month, day, end int, c []string)) string {
	var b strings.Builder
	b.WriteString("712345,\"SANDBANK QUAY, OUTER\",HV,-9.5,48.500,-5.250,12\n" +
		"Date (MM/DD/YYYY),Time (HH:MM),ETR (W/m^2),Wspd (m/s),Wspd source,GHI (W/m^2),DNI (W/m^2),DHI (W/m^2)," +
		"TotCld (tenths),OpqCld (tenths),Dry-bulb (C),Dew-point (C),RHum (%),Pressure (mbar)\n")
	for m, days := range weather.MonthDays {
		for d := 1; d <= days; d++ {
			for end := minutes; end <= 24*60; end += minutes {
				c := []string{fmt.Sprintf("%02d/%02d/2001", m+1, d), fmt.Sprintf("%02d:%02d", end/60, end%60), "0", "4.1", "A",
					"120", "600", "80", "6", "5", "7.0", "5.0", "87", "1010"}
				if cells != nil {
					cells(m+1, d, end, c)
				}
				b.WriteString(strings.Join(c, ",") + "\n")
			}
		}
	}
	return b.String()
}

// Columns are found by name wherever they stand; the row of 13:00 is the hour
// before it; −9900 is missing.
func TestColumns(t *testing.T) {
	special := []string{"", "", "", "6.2", "", "111", "333", "44", "9", "4", "-3.5", "-8.25", "61", "987.65"}
	raw, err := Parse("x/made.csv", strings.NewReader(year(60, func(m, d, end int, c []string) {
		if m != 3 || d != 2 {
			return
		}
		for i, s := range special {
			switch {
			case s == "":
			case end == 13*60:
				c[i] = s
			case end == 15*60:
				c[i] = "-9900"
			}
		}
	})))
	if err != nil {
		t.Fatal(err)
	}
	const h = 24*(31+28+1) + 12
	for name, c := range map[string]struct {
		v           []float64
		want, usual float64
	}{
		"GHI": {raw.GHI, 111, 120}, "DNI": {raw.DNI, 333, 600}, "DHI": {raw.DHI, 44, 80}, "total cloud": {raw.TotalCloud, 9, 6},
		"opaque cloud": {raw.OpaqueCloud, 4, 5}, "dry bulb": {raw.AirTemperature, -3.5, 7}, "dew point": {raw.DewPoint, -8.25, 5},
		"humidity": {raw.RelHumidity, 61, 87}, "pressure": {raw.Pressure, 987.65, 1010}, "wind": {raw.Wind, 6.2, 4.1},
	} {
		if c.v[h-1] != c.usual || c.v[h] != c.want || c.v[h+1] != c.usual || !math.IsNaN(c.v[h+2]) {
			t.Errorf("%s: %v, want %v, %v, %v, missing", name, c.v[h-1:h+3], c.usual, c.want, c.usual)
		}
	}
	s := raw.Site
	if s.ID != "712345" || s.Name != "SANDBANK QUAY, OUTER" || s.UTCOffset != -9.5 || s.Lat != 48.5 || s.Lon != -5.25 ||
		s.Elevation != 12 || s.Source != "TMY3, made.csv" || s.Year[4] != 2001 || !raw.Independent || raw.SkyInfrared != nil || raw.Snow != nil {
		t.Errorf("site %+v", s)
	}
}

func TestHalfHours(t *testing.T) {
	raw, err := Parse("made.csv", strings.NewReader(year(30, func(m, d, end int, c []string) {
		if m == 1 && d == 1 && end == 90 { // the first half of the second hour
			c[6], c[10] = "200", "-9900"
		}
	})))
	if err != nil {
		t.Fatal(err)
	}
	if raw.DNI[0] != 600 || raw.DNI[1] != 400 || raw.AirTemperature[1] != 7 || raw.PartHours != 2*weather.Hours {
		t.Errorf("DNI %v, temperature %v, %d records", raw.DNI[:2], raw.AirTemperature[:2], raw.PartHours)
	}
}

func TestBadCells(t *testing.T) {
	raw, err := Parse("made.csv", strings.NewReader(year(60, func(m, d, end int, c []string) {
		if m == 1 && d == 1 && end == 60 {
			c[10], c[3] = "7o", "120"
		}
	})))
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		`made.csv:3: Dry-bulb (C): "7o": not a number; taken as missing`,
		`made.csv:3: Wspd (m/s): "120": impossible, outside 0 to 90; taken as missing`,
	}
	if len(raw.BadCells) != 2 || raw.BadCells[0].Error() != want[0] || raw.BadCells[1].Error() != want[1] {
		t.Errorf("bad cells %v, want %v", raw.BadCells, want)
	}
}

func TestRealFiles(t *testing.T) {
	parse := func(name string) (*weather.Raw, error) {
		f, err := os.Open(realfiles.Path(t, "tmy3csv/"+name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		return Parse(name, f)
	}
	raw, err := parse("AZ-Tucson_International_Ap.tmy3")
	if err != nil {
		t.Fatal(err)
	}
	ghi, dni := 0.0, 0.0 // kWh/m² and year, as found by an independent reading
	for h := range raw.GHI {
		ghi += raw.GHI[h] / 1000
		dni += raw.DNI[h] / 1000
	}
	if math.Abs(ghi-2062) > 0.5 || math.Abs(dni-2547) > 0.5 || raw.Site.ID != "722740" || raw.Site.Name != "TUCSON INTERNATIONAL AP" {
		t.Errorf("Tucson: GHI %.1f, DNI %.1f, site %+v", ghi, dni, raw.Site)
	}
	for name, want := range map[string]string{
		"20120517_1min.csv": "20120517_1min.csv:3: incomplete year: the rows start with 05-17 00:00–01:00",
		"201206ty.csv":      "201206ty.csv:3: incomplete year: the rows start with 06-01 00:00–01:00",
	} {
		if _, err := parse(name); err == nil || err.Error() != want {
			t.Errorf("%s: %v, want %s", name, err, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	files, _ := filepath.Glob("testdata/*.csv")
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		_, err := Parse("fuzz.csv", bytes.NewReader(b))
		var fileErr *weather.FileError
		if err != nil && (!errors.As(err, &fileErr) || strings.ContainsAny(err.Error(), "\n\r")) {
			t.Errorf("error %q is no one-line FileError", err)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	x := []byte(year(60, nil))
	b.SetBytes(int64(len(x)))
	for b.Loop() {
		if _, err := Parse("made.csv", bytes.NewReader(x)); err != nil {
			b.Fatal(err)
		}
	}
}
