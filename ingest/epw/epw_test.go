package epw

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
		"empty.epw":                  ": empty file",
		"no-location.epw":            ":1: the first line must be LOCATION; not an EPW file",
		"no-data-periods.epw":        ":8: a row before the header line DATA PERIODS",
		"header-only.epw":            ":7: no header line DATA PERIODS",
		"no-rows.epw":                ":8: no rows",
		"location-nine-fields.epw":   ":1: LOCATION: has 9 fields, want 10",
		"latitude-north-of-pole.epw": `:1: latitude: "98.50" is outside -90 to 90`,
		"longitude-in-words.epw":     `:1: longitude: "5 W" is not a number`,
		"zone-missing.epw":           ":1: time zone: no data",
		"elevation-9999.epw":         `:1: elevation: "9999" is outside -500 to 9000`,
		"seven-records-an-hour.epw":  `:8: records per hour: "7" does not divide the hour`,
		"row-short.epw":              ":10: row has 34 fields, want 35",
		"row-long.epw":               ":10: row has 36 fields, want 35",
		"row-cut.epw":                ":10: the file stops in the middle of a row, field 12 of 35",
		"hour-zero.epw":              ":9: hour: 0 is outside 1 to 24",
		"hour-twice.epw":             ":11: the hour 01-01 01:00–02:00 comes twice",
		"out-of-order.epw":           ":10: row of 01-01 00:00–01:00 after 01-01 01:00–02:00: rows must follow the calendar",
		"month-13.epw":               ":9: month: 13 is outside 1 to 12",
		"30-february.epw":            ":10: day: 30 is no day of month 2",
		"year-of-two-digits.epw":     ":9: year: 78 is outside 1900 to 2100",
		"day-in-words.epw":           `:9: day: "first" is not a whole number`,
		"starts-in-july.epw":         ":9: incomplete year: the rows start with 07-01 00:00–01:00",
		"hole-of-two-days.epw":       ":33: incomplete year: no rows for the 48 hours before 01-04 00:00–01:00",
		"truncated-year.epw":         ":32: incomplete year: the rows end with 01-01 23:00–24:00; hours missing: 8736",
		"binary.epw":                 ":10: binary content, not text",
		"utf-16.epw":                 ":1: text in UTF-16; save it as UTF-8",
	}
	files, err := filepath.Glob("testdata/*.epw")
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

// A text is the text of a year, made cell by cell.
type text struct {
	ends    string
	perHour int
	leap    bool
	cell    func(month, day, hour, field int) string // empty for the usual
}

func (x text) String() string {
	perHour := max(1, x.perHour)
	ends := x.ends
	if ends == "" {
		ends = "\n"
	}
	lines := []string{
		"LOCATION,Sandbank Quay,-,HLV,invented,012345,48.50,-5.25,5.75,12.0",
		"DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0",
		"HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,invented", "COMMENTS 2,",
		fmt.Sprintf("DATA PERIODS,1,%d,Data,Monday, 1/ 1,12/31", perHour),
	}
	for m, days := range weather.MonthDays {
		if x.leap && m == 1 {
			days++
		}
		for d := 1; d <= days; d++ {
			for h := 1; h <= 24; h++ {
				for k := 1; k <= perHour; k++ {
					f := []string{"2004", fmt.Sprint(m + 1), fmt.Sprint(d), fmt.Sprint(h), fmt.Sprint(60 * k / perHour), "?9?9",
						"7.0", "5.0", "87", "101000", "0", "0", "310", "120", "600", "80", "0", "0", "0", "0", "220", "4.1", "6", "5",
						"20.0", "77777", "9", "999999999", "12", "0.0500", "0", "88", "0.200", "0.0", "1.0"}
					for i := range f {
						if x.cell == nil {
							break
						}
						if c := x.cell(m+1, d, h, i); c != "" {
							f[i] = c
						}
					}
					lines = append(lines, strings.Join(f, ","))
				}
			}
		}
	}
	return strings.Join(lines, ends) + ends
}

func parse(t *testing.T, x string) *weather.Raw {
	t.Helper()
	raw, err := Parse("made.epw", strings.NewReader(x))
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// The columns of the data dictionary, counted from 0, with their units.
func TestColumns(t *testing.T) {
	fields := map[int]string{6: "-3.5", 7: "-8.25", 8: "61", 9: "98765", 12: "222", 13: "111", 14: "333", 15: "44",
		21: "6.2", 22: "9", 23: "4", 30: "17"}
	raw := parse(t, text{cell: func(m, d, h, f int) string {
		if m == 3 && d == 2 && h == 13 { // the hour that ends at 13:00
			return fields[f]
		}
		return ""
	}}.String())
	const h = 24*(31+28+1) + 12
	for name, c := range map[string]struct {
		v           []float64
		want, usual float64
	}{
		"dry bulb": {raw.AirTemperature, -3.5, 7}, "dew point": {raw.DewPoint, -8.25, 5}, "humidity": {raw.RelHumidity, 61, 87},
		"pressure": {raw.Pressure, 987.65, 1010}, "infrared": {raw.SkyInfrared, 222, 310}, "GHI": {raw.GHI, 111, 120},
		"DNI": {raw.DNI, 333, 600}, "DHI": {raw.DHI, 44, 80}, "wind": {raw.Wind, 6.2, 4.1}, "total cloud": {raw.TotalCloud, 9, 6},
		"opaque cloud": {raw.OpaqueCloud, 4, 5}, "snow": {raw.Snow, 17, 0},
	} {
		if math.Abs(c.v[h]-c.want) > 1e-9 || math.Abs(c.v[h-1]-c.usual) > 1e-9 || math.Abs(c.v[h+1]-c.usual) > 1e-9 {
			t.Errorf("%s: %v, want %v between %v", name, c.v[h-1:h+2], c.want, c.usual)
		}
	}
	s := raw.Site
	if s.ID != "012345" || s.Name != "Sandbank Quay" || s.Country != "HLV" || s.Lat != 48.5 || s.Lon != -5.25 ||
		s.UTCOffset != 5.75 || s.Elevation != 12 || s.Kind != weather.KindStation || s.Year[0] != 2004 || s.Year[11] != 2004 ||
		s.Source != "EPW (invented), made.epw" || !raw.Independent || raw.BadCellCount != 0 {
		t.Errorf("site %+v, independent %v, bad %v", s, raw.Independent, raw.BadCells)
	}
}

// Line ends, a byte order mark, blank lines at the end and the empty fields that
// a spreadsheet adds change nothing.
func TestSpellings(t *testing.T) {
	plain := text{}.String()
	want := parse(t, plain)
	mixed := strings.SplitAfter(text{ends: "\r\n"}.String(), "\n")
	for i := 100; i < len(mixed); i++ {
		mixed[i] = strings.ReplaceAll(mixed[i], "\r", "")
	}
	for name, x := range map[string]string{
		"CRLF":               text{ends: "\r\n"}.String(),
		"mixed line ends":    strings.Join(mixed, ""),
		"byte order mark":    "\xef\xbb\xbf" + plain,
		"blank lines":        plain + "\n\r\n",
		"no last line end":   strings.TrimSuffix(plain, "\n"),
		"extra commas":       strings.ReplaceAll(plain, "\n", ",,\n"),
		"spaces in cells":    strings.ReplaceAll(plain, ",4.1,", ", 4.1 ,"),
		"decimals in dates":  strings.ReplaceAll(plain, "\n2004,1,", "\n2004,1.0,"),
		"longitude to 360":   strings.Replace(plain, ",-5.25,", ",354.75,", 1),
		"lower-case keyword": strings.Replace(plain, "LOCATION", "Location", 1),
		"rows of 32 fields":  strings.ReplaceAll(plain, ",0.200,0.0,1.0\n", "\n"),
	} {
		got := parse(t, x)
		if got.Site.Lon != want.Site.Lon || got.Site.Name != want.Site.Name || got.Site.Year != want.Site.Year || got.BadCellCount != 0 {
			t.Errorf("%s: site %+v, want %+v; bad %v", name, got.Site, want.Site, got.BadCells)
		}
		for h := range want.Wind {
			if got.Wind[h] != want.Wind[h] || got.GHI[h] != want.GHI[h] {
				t.Errorf("%s: hour %d differs", name, h)
				break
			}
		}
	}
	latin := parse(t, strings.Replace(plain, "Sandbank Quay", "Quai de la Gr\xe8ve", 1))
	if latin.Site.Name != "Quai de la Grève" {
		t.Errorf("Latin-1 name %q", latin.Site.Name)
	}
}

// The missing codes of the data dictionary, and 0 for the long wave.
func TestMissingCodes(t *testing.T) {
	codes := map[int]string{6: "99.9", 7: "99.9", 8: "999", 9: "999999", 12: "9999", 13: "9999", 14: "9999", 15: "9999",
		21: "999", 22: "99", 23: "99", 30: "999"}
	raw := parse(t, text{cell: func(m, d, h, f int) string {
		switch {
		case m == 1 && d == 1 && h == 1:
			return codes[f]
		case m == 1 && d == 1 && h == 2 && f == 12:
			return "0"
		case m == 1 && d == 1 && h == 3 && codes[f] != "":
			return " "
		}
		return ""
	}}.String())
	for _, v := range [][]float64{raw.AirTemperature, raw.DewPoint, raw.RelHumidity, raw.Pressure, raw.SkyInfrared,
		raw.GHI, raw.DNI, raw.DHI, raw.Wind, raw.TotalCloud, raw.OpaqueCloud, raw.Snow} {
		if !math.IsNaN(v[0]) || !math.IsNaN(v[2]) || math.IsNaN(v[3]) {
			t.Errorf("hours 0, 2, 3: %v %v %v, want missing, missing, a value", v[0], v[2], v[3])
		}
	}
	if !math.IsNaN(raw.SkyInfrared[1]) || raw.BadCellCount != 0 {
		t.Errorf("long wave 0: %v; bad cells %v", raw.SkyInfrared[1], raw.BadCells)
	}
	if none := parse(t, text{cell: func(_, _, _, f int) string { return codes[f] }}.String()); none.GHI != nil || none.Independent {
		t.Error("a column of missing codes is not absent")
	}
}

// Letters and impossible values are named with file, line and column, and read
// as missing; reading goes on.
func TestBadCells(t *testing.T) {
	raw := parse(t, text{cell: func(m, d, h, f int) string {
		if m != 1 || d != 1 {
			return ""
		}
		switch {
		case h == 1 && f == 6:
			return "7.O"
		case h == 2 && f == 6:
			return "71.5"
		case h == 3 && f == 14:
			return "1500"
		case h == 4 && f == 21:
			return "-1"
		case h == 5 && f == 6:
			return "NaN"
		case h == 6 && f == 9:
			return "1013"
		}
		return ""
	}}.String())
	want := []string{
		`made.epw:9: dry-bulb temperature: "7.O": not a number; taken as missing`,
		`made.epw:10: dry-bulb temperature: "71.5": impossible, outside -95 to 62; taken as missing`,
		`made.epw:11: direct normal radiation: "1500": impossible, outside -4 to 1408; taken as missing`,
		`made.epw:12: wind speed: "-1": impossible, outside 0 to 90; taken as missing`,
		`made.epw:13: dry-bulb temperature: "NaN": not a number; taken as missing`,
		`made.epw:14: station pressure: "1013": impossible, outside 30000 to 110000; taken as missing`,
	}
	if len(raw.BadCells) != len(want) || raw.BadCellCount != len(want) {
		t.Fatalf("bad cells %v", raw.BadCells)
	}
	for i, e := range raw.BadCells {
		if e.Error() != want[i] {
			t.Errorf("got  %s\nwant %s", e, want[i])
		}
	}
	if !math.IsNaN(raw.AirTemperature[0]) || !math.IsNaN(raw.DNI[2]) || raw.AirTemperature[2] != 7 {
		t.Error("bad cells are not missing")
	}
}

func TestLeapDay(t *testing.T) {
	raw := parse(t, text{leap: true, cell: func(m, d, h, f int) string {
		if f == 6 && m == 2 && d == 29 {
			return "29"
		}
		if f == 6 && m == 3 {
			return "3"
		}
		return ""
	}}.String())
	march := 24 * (31 + 28)
	if raw.LeapHours != 24 || raw.AirTemperature[march] != 3 || raw.AirTemperature[march-1] != 7 {
		t.Errorf("%d leap hours, around 1 March %v", raw.LeapHours, raw.AirTemperature[march-1:march+1])
	}
}

// Four records an hour become their mean, irradiance given as mean power or as
// energy per record.
func TestRecordsPerHour(t *testing.T) {
	for _, c := range []struct {
		dni     string
		want    float64
		flagged bool
	}{{"600", 600, false}, {"150", 600, true}} {
		x := text{perHour: 4, cell: func(m, d, h, f int) string {
			if f == 14 {
				return c.dni
			}
			return ""
		}}.String()
		// One record of the first hour is warmer, one of the second lacks wind.
		x = strings.Replace(x, "2004,1,1,1,15,?9?9,7.0", "2004,1,1,1,15,?9?9,11.0", 1)
		x = strings.Replace(x, "2004,1,1,2,30,?9?9,7.0,5.0,87,101000,0,0,310,120,"+c.dni+",80,0,0,0,0,220,4.1", "2004,1,1,2,30,?9?9,7.0,5.0,87,101000,0,0,310,120,"+c.dni+",80,0,0,0,0,220,999", 1)
		raw := parse(t, x)
		if raw.DNI[0] != c.want || raw.AirTemperature[0] != 8 || raw.AirTemperature[1] != 7 || raw.Wind[1] != 4.1 {
			t.Errorf("DNI %v, temperature %v, wind %v", raw.DNI[0], raw.AirTemperature[:2], raw.Wind[1])
		}
		if raw.PartHours != 4*weather.Hours || (len(raw.Site.Flags) == 1) != c.flagged {
			t.Errorf("%d records, flags %v", raw.PartHours, raw.Site.Flags)
		}
	}
}

// A few hours without a row are missing, not an error; the last hour must be
// there.
func TestMissingRows(t *testing.T) {
	x := text{}.String()
	hole := strings.Index(x, "2004,6,10,13,")
	end := strings.Index(x, "2004,6,10,16,")
	raw := parse(t, x[:hole]+x[end:])
	h := 24*(31+28+31+30+31+9) + 12
	for i, want := range []bool{false, true, true, true, false} {
		if math.IsNaN(raw.GHI[h-1+i]) != want {
			t.Errorf("hour %d: %v", h-1+i, raw.GHI[h-1+i])
		}
	}
	_, err := Parse("made.epw", strings.NewReader(x[:strings.Index(x, "2004,12,31,24,")]))
	if err == nil || !strings.Contains(err.Error(), "the rows end with 12-31 22:00–23:00; hours missing: 1") {
		t.Errorf("a year without its last hour: %v", err)
	}
}

// Sums and extremes of published files as found by an independent reading.
func TestRealFiles(t *testing.T) {
	for _, c := range []struct {
		file     string
		id       string
		ghi, dni float64 // kWh/m² and year
	}{
		{"USA_CA_Blythe-Riverside.County.AP.747188_TMY3.epw", "747188", 2077, 2636},
		{"USA_WA_Bellingham.Intl.AP.727976_TMY3.epw", "727976", 1206, 1128},
		{"USA_CO_Leadville-Lake.County.AP.724673_TMY3.epw", "724673", 1673, 1958},
		{"GUM_Andersen.AFB.912180_TMY3.epw", "912180", 1901, 1554},
		{"ETH_Addis.Ababa-Bole.634500_SWERA.epw", "634500", 2034, 1662},
		{"LKA_Colombo-Katunayake.434500_SWERA.epw", "434500", 1969, 1342},
		{"CHN_Zhejiang.Hangzhou.584570_SWERA.epw", "584570", 1394, 673},
	} {
		t.Run(c.id, func(t *testing.T) {
			f, err := os.Open(realfiles.Path(t, "epw/"+c.file))
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			raw, err := Parse(c.file, f)
			if err != nil {
				t.Fatal(err)
			}
			ghi, dni := 0.0, 0.0
			for h := range raw.GHI {
				ghi += raw.GHI[h] / 1000
				dni += raw.DNI[h] / 1000
			}
			if math.Abs(ghi-c.ghi) > 0.5 || math.Abs(dni-c.dni) > 0.5 {
				t.Errorf("GHI %.1f, DNI %.1f kWh/m², want %v, %v", ghi, dni, c.ghi, c.dni)
			}
			if raw.Site.ID != c.id || raw.BadCellCount != 0 {
				t.Errorf("id %s, bad cells %v", raw.Site.ID, raw.BadCells)
			}
		})
	}
}

func FuzzParse(f *testing.F) {
	files, _ := filepath.Glob("testdata/*.epw")
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		raw, err := Parse("fuzz.epw", bytes.NewReader(b))
		var fileErr *weather.FileError
		switch {
		case err == nil && len(raw.AirTemperature) != weather.Hours && raw.AirTemperature != nil:
			t.Errorf("%d hours", len(raw.AirTemperature))
		case err != nil && (!errors.As(err, &fileErr) || strings.ContainsAny(err.Error(), "\n\r")):
			t.Errorf("error %q is no one-line FileError", err)
		}
	})
}

// benchText is a year whose cells change from row to row about as those of a
// real one do: no sun at night, clouds and pressure for some hours alike, no snow.
func benchText() []byte {
	return []byte(text{cell: func(m, d, h, f int) string {
		air := 12 + 9*math.Sin(float64(m)/2-2) + 5*math.Sin(float64(h-9)/3.8) + float64(d*7%11-5)
		sun := max(0, 12-(h-12)*(h-12)/3)
		switch f {
		case 6:
			return fmt.Sprintf("%.1f", air)
		case 7:
			return fmt.Sprintf("%.1f", air-2-float64((d*h)%50)/10)
		case 8:
			return fmt.Sprint(55 + (m*d*h)%44)
		case 9:
			return fmt.Sprint(100_000 + (d*24+h)/3*37%2500)
		case 12:
			return fmt.Sprint(330 + 4*int(air) + d*h%9)
		case 13:
			return fmt.Sprint(sun * (40 + (m*d*h)%40))
		case 14:
			return fmt.Sprint(sun * (m * d * h % 75))
		case 15:
			return fmt.Sprint(sun * (15 + d*h%20))
		case 21:
			return fmt.Sprintf("%.1f", float64((m*d*h+h)%90)/10)
		case 22:
			return fmt.Sprint((d*24 + h) / 2 % 11)
		case 23:
			return fmt.Sprint((d*24 + h) / 3 % 9)
		}
		return ""
	}}.String())
}

func BenchmarkParse(b *testing.B) {
	x := benchText()
	b.SetBytes(int64(len(x)))
	for b.Loop() {
		if _, err := Parse("made.epw", bytes.NewReader(x)); err != nil {
			b.Fatal(err)
		}
	}
}
