package psm

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"stillrow/ingest/series"
	"stillrow/ingest/weather"
	"stillrow/ingest/weather/realfiles"
	"stillrow/simulate/sun"
)

const (
	names = "Source,Location ID,City,State,Country,Latitude,Longitude,Time Zone,Elevation,Local Time Zone," +
		"Dew Point Units,DHI Units,DNI Units,GHI Units,Temperature Units,Pressure Units,Wind Speed,Version\n"
	values      = "NSRDB,4711,\"Sandbank, Outer\",-,Halvane,48.5,-5.25,0,12,0,c,w/m2,w/m2,w/m2,c,mbar,m/s,v9.0.1\n"
	columnNames = "Year,Month,Day,Hour,Minute,DHI,DNI,GHI,Dew Point,Wind Speed,Temperature,Pressure,\n"
	head        = names + values + columnNames
	row1        = "2001,1,1,0,30,0,0,0,5,4,7,1010,N/A\n"
	row2        = "2001,1,1,1,30,10,200,30,5.5,4.25,7.5,1009,N/A\n"
)

func TestColumns(t *testing.T) {
	s, err := Parse("x/made.csv", strings.NewReader("\xef\xbb\xbf"+strings.ReplaceAll(head, "\n", "\r\n")+row1+"\n"+row2))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		c           series.Column
		first, last float32
	}{
		"GHI": {s.GHI, 0, 30}, "DNI": {s.DNI, 0, 200}, "DHI": {s.DHI, 0, 10}, "dew point": {s.DewPoint, 5, 5.5},
		"wind": {s.Wind, 4, 4.25}, "temperature": {s.AirTemperature, 7, 7.5}, "pressure": {s.Pressure, 1010, 1009},
	} {
		if len(c.c.Values) != 2 || c.c.Values[0] != c.first || c.c.Values[1] != c.last {
			t.Errorf("%s: %v, want %g and %g", name, c.c.Values, c.first, c.last)
		}
	}
	if s.RelHumidity.Axis != nil || s.SkyInfrared.Axis != nil {
		t.Error("columns that the file lacks")
	}
	a := s.GHI.Axis
	if want := unix(2001, 1, 1, 0, 30); a.Stamp[0] != want || a.Stamp[1] != want+3600 || a.Step != 3600 || !a.Instant || a.From != 0 {
		t.Errorf("axis %+v, want instants from %d", a, want)
	}
	if p := s.Site; p.ID != "4711" || p.Name != "Sandbank, Outer" || p.Country != "Halvane" || p.Lat != 48.5 || p.Lon != -5.25 ||
		p.Elevation != 12 || p.Kind != weather.KindStation || p.Source != "NSRDB PSM 9.0.1, made.csv" {
		t.Errorf("site %+v", p)
	}
	if !s.Independent || !s.Local || s.BadCellCount != 0 || s.MonthYears != [12]int{} {
		t.Errorf("independent %v, local %v, bad cells %v, years %v", s.Independent, s.Local, s.BadCells, s.MonthYears)
	}
}

func unix(year, month, day, hour, minute int) int64 {
	return time.Date(year, time.Month(month), day, hour, minute, 0, 0, time.UTC).Unix()
}

// Stamps stay as they are in Time Zone, whatever the local one; UTC is told from
// a zone that happens to have its time.
func TestZones(t *testing.T) {
	for zones, want := range map[string]struct {
		local  bool
		offset float64
		first  int64
	}{
		"5.5,12,5.5": {true, 5.5, unix(2001, 1, 1, 0, 30)},
		"0,12,-5":    {false, 0, unix(2001, 1, 1, 0, 30)},
		"0,12,0":     {true, 0, unix(2001, 1, 1, 0, 30)},
		"-8,12,-5":   {true, -8, unix(2001, 1, 1, 0, 30)},
	} {
		s, err := Parse("made.csv", strings.NewReader(strings.Replace(head, "0,12,0", zones, 1)+row1+row2))
		if err != nil {
			t.Fatal(err)
		}
		if s.Local != want.local || s.Site.UTCOffset != want.offset || s.GHI.Axis.Stamp[0] != want.first {
			t.Errorf("zones %s: local %v, offset %g, first %d; want %+v", zones, s.Local, s.Site.UTCOffset, s.GHI.Axis.Stamp[0], want)
		}
	}
	without := strings.Replace(strings.Replace(head, ",Local Time Zone", "", 1), "0,12,0,", "-3,12,", 1)
	if s, err := Parse("made.csv", strings.NewReader(without+row1+row2)); err != nil || !s.Local || s.Site.UTCOffset != -3 {
		t.Errorf("without a local zone: %+v, %v", s, err)
	}
}

// The wind stands at 2 m since version 3.
func TestWindHeight(t *testing.T) {
	for version, want := range map[string]float64{"v9.0.1": 2, "3.2.0": 2, "": 2, "v2.0.1": 10, "1.0": 10, "12.0": 2} {
		s, err := Parse("made.csv", strings.NewReader(strings.Replace(head, "v9.0.1", version, 1)+row1+row2))
		if err != nil || s.WindHeight != want {
			t.Errorf("version %q: wind at %g m, %v; want %g", version, s.WindHeight, err, want)
		}
	}
}

// Units other than the usual ones are converted; those of absent columns are
// not looked at.
func TestUnits(t *testing.T) {
	other := strings.Replace(names, "Version", "Relative Humidity Units,Version", 1) +
		strings.Replace(values, "c,w/m2,w/m2,w/m2,c,mbar,m/s,", "K,W/m^2,w/m2,kW/m2,F,kPa,km/h,furlong,", 1) + columnNames
	s, err := Parse("made.csv", strings.NewReader(other+row1+"2001,1,1,1,30,10,200,0.5,280.15,36,50,101.3,N/A\n"))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		c    series.Column
		want float64
	}{
		"GHI": {s.GHI, 500}, "DHI": {s.DHI, 10}, "dew point": {s.DewPoint, 7}, "temperature": {s.AirTemperature, 10},
		"pressure": {s.Pressure, 1013}, "wind": {s.Wind, 10},
	} {
		if got := float64(c.c.Values[1]); math.Abs(got-c.want) > 1e-4 {
			t.Errorf("%s: %g, want %g", name, got, c.want)
		}
	}
}

func TestCells(t *testing.T) {
	s, err := Parse("made.csv", strings.NewReader(head+row1+"2001,1,1,1,30,N/A,-9999,,7o,120,n/a,1009\n"))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]series.Column{"GHI": s.GHI, "DNI": s.DNI, "DHI": s.DHI, "dew point": s.DewPoint, "wind": s.Wind,
		"temperature": s.AirTemperature} {
		if v := c.Values[1]; v == v {
			t.Errorf("%s: %g, want missing", name, v)
		}
	}
	want := []string{`made.csv:5: Dew Point: "7o": not a number; taken as missing`,
		`made.csv:5: Wind Speed: "120": impossible, outside 0 to 90; taken as missing`}
	if s.BadCellCount != 2 || s.BadCells[0].Error() != want[0] || s.BadCells[1].Error() != want[1] {
		t.Errorf("bad cells %v, want %v", s.BadCells, want)
	}
}

// made makes rows every so many minutes of a year, of each month's own calendar
// year.
func made(minutes int, year func(month int) int) string {
	var b strings.Builder
	b.WriteString(head)
	for at := unix(2000, 1, 1, 0, 0) + int64(minutes%60)*30; at < unix(2001, 1, 1, 0, 0); at += int64(minutes) * 60 {
		d := time.Unix(at, 0).UTC()
		y := year(int(d.Month()))
		if d.Month() == 2 && d.Day() == 29 && y%4 != 0 {
			continue
		}
		fmt.Fprintf(&b, "%d,%d,%d,%d,%d,1,2,3,4,5,6,1000,N/A\n", y, d.Month(), d.Day(), d.Hour(), d.Minute())
	}
	return b.String()
}

func TestSteps(t *testing.T) {
	for _, minutes := range []int{5, 15, 30, 60} {
		s, err := Parse("made.csv", strings.NewReader(made(minutes, func(int) int { return 2001 })))
		if err != nil {
			t.Fatal(err)
		}
		if a := s.GHI.Axis; a.Step != int64(minutes)*60 || len(a.Stamp) != weather.Hours*60/minutes || s.MonthYears != [12]int{} {
			t.Errorf("%d minutes: step %d, %d rows, years %v", minutes, a.Step, len(a.Stamp), s.MonthYears)
		}
	}
}

// The months of a typical year go to one nominal year and keep their own; one of
// a leap year keeps its leap day.
func TestTypicalYear(t *testing.T) {
	years := [12]int{2002, 2012, 1999, 2010, 2011, 2004, 2017, 1998, 2005, 2006, 2020, 2017}
	text := made(60, func(m int) int { return years[m-1] })
	s, err := Parse("made.csv", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	a := s.GHI.Axis
	if s.MonthYears != years || len(a.Stamp) != weather.Hours+24 || a.Stamp[0] != unix(series.NominalYear, 1, 1, 0, 0) ||
		a.Stamp[len(a.Stamp)-1] != unix(series.NominalYear, 12, 31, 23, 0) {
		t.Errorf("years %v, %d rows from %d", s.MonthYears, len(a.Stamp), a.Stamp[0])
	}
	// A row out of order in it is named, not the first change of the year.
	lines := strings.SplitAfter(text, "\n")
	lines[5000], lines[5001] = lines[5001], lines[5000]
	_, err = Parse("made.csv", strings.NewReader(strings.Join(lines, "")))
	if want := "made.csv:5002: row of 07-27 05:00 after 07-27 06:00: times must rise"; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

// Two calendar years are a series, no typical year.
func TestTwoYears(t *testing.T) {
	text := made(60, func(int) int { return 2001 }) + strings.TrimPrefix(made(60, func(int) int { return 2002 }), head)
	s, err := Parse("made.csv", strings.NewReader(text))
	if err != nil || s.MonthYears != [12]int{} || len(s.GHI.Axis.Stamp) != 2*weather.Hours {
		t.Fatalf("%v, years %v", err, s.MonthYears)
	}
	lines := strings.SplitAfter(text, "\n")
	lines[12000] = lines[11999]
	_, err = Parse("made.csv", strings.NewReader(strings.Join(lines, "")))
	if want := "made.csv:12001: row of 05-15 20:00 after 05-15 20:00: times must rise"; err == nil || err.Error() != want {
		t.Errorf("%v, want %s", err, want)
	}
}

var defects = map[string]struct{ text, want string }{
	"empty":          {"", "made.csv: empty file"},
	"binary":         {"Source,\x00\n", "made.csv:1: binary content, not text"},
	"names only":     {names, "made.csv:1: no line of metadata values"},
	"no columns":     {names + values, "made.csv:2: no line of column names"},
	"other csv":      {"a,b\n1,2\nc\n", "made.csv:1: Latitude: not in the metadata; not an NSRDB PSM file"},
	"zone in words":  {strings.Replace(head, "0,12,0", "EST,12,0", 1), `made.csv:2: Time Zone: "EST" is not a number`},
	"north of pole":  {strings.Replace(head, "48.5", "148.5", 1), `made.csv:2: Latitude: "148.5" is outside -90 to 90`},
	"twice":          {strings.Replace(head, "Longitude", "Latitude", 1), "made.csv:1: Latitude: the name comes twice"},
	"furlong":        {strings.Replace(head, "c,mbar", "furlong,mbar", 1), `made.csv:2: Temperature Units: unknown unit "furlong", want C`},
	"no unit":        {strings.Replace(head, "GHI Units", "Units", 1), "made.csv:1: GHI Units: the metadata do not say the unit of the column"},
	"column twice":   {names + values + "Year,Month,Day,Hour,Minute,GHI,GHI\n", "made.csv:3: GHI: the column comes twice"},
	"no minute":      {names + values + "Year,Month,Day,Hour,GHI\n", "made.csv:3: Minute: no such column; not an NSRDB PSM file"},
	"no rows":        {head, "made.csv: fewer than two rows"},
	"short row":      {head + row1 + "2001,1,1,1,30,0,0\n" + row2, "made.csv:5: row has 7 fields, want 13 as in the line of column names"},
	"long row":       {head + strings.TrimSpace(row1) + ",1\n", "made.csv:4: row has 14 fields, want 13 as in the line of column names"},
	"cut row":        {head + row1 + "2001,1,1,1,30,0,", "made.csv:5: the file stops in the middle of a row, field 7 of 13"},
	"hour 24":        {head + "2001,1,1,24,0,0,0,0,5,4,7,1010,\n", "made.csv:4: Hour: 24 is outside 0 to 23"},
	"minute 60":      {head + "2001,1,1,2,60,0,0,0,5,4,7,1010,\n", "made.csv:4: Minute: 60 is outside 0 to 59"},
	"no leap year":   {head + "2001,2,29,2,0,0,0,0,5,4,7,1010,\n", "made.csv:4: Day: 2001 has no 29 February"},
	"year in words":  {head + "MMI,1,1,2,0,0,0,0,5,4,7,1010,\n", `made.csv:4: Year: "MMI" is not a whole number`},
	"twice the hour": {head + row1 + row1, "made.csv:5: row of 01-01 00:30 after 01-01 00:30: times must rise"},
	"seven minutes":  {head + row1 + strings.Replace(row1, "0,30", "0,37", 1), "made.csv:5: rows are 7 minutes apart, no even part of an hour"},
	"every 3 hours":  {head + row1 + strings.Replace(row1, "0,30", "3,30", 1), "made.csv:5: rows are 180 minutes apart, no even part of an hour"},
	"off the step":   {head + row1 + row2 + strings.Replace(row1, "0,30", "3,0", 1), "made.csv:6: row of 01-01 03:00 is no multiple of 60 minutes from the first"},
}

func TestDefects(t *testing.T) {
	for name, d := range defects {
		_, err := Parse("made.csv", strings.NewReader(d.text))
		var fileErr *weather.FileError
		if !errors.As(err, &fileErr) || err.Error() != d.want {
			t.Errorf("%s: %v, want %s", name, err, d.want)
		}
	}
}

func parseReal(t *testing.T, name string) (*series.Series, []byte) {
	t.Helper()
	b, err := os.ReadFile(realfiles.Path(t, "psm/"+name))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Parse(name, bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return s, b
}

// sinAltitude gives that of the sun at a stamp, moved by minutes.
func sinAltitude(s *series.Series, i int, minutes float64) float64 {
	d := time.Unix(s.DNI.Axis.Stamp[i], 0).UTC()
	year := d.Year()
	if y := s.MonthYears[d.Month()-1]; y != 0 {
		year = y
	}
	hour := float64(d.Hour()) + (float64(d.Minute())+minutes)/60 - s.Site.UTCOffset
	p := sun.NewPlace(sun.Angle(s.Site.Lat)*sun.Degree, sun.Angle(s.Site.Lon)*sun.Degree)
	return p.Sun(sun.JulianDate(year, int(d.Month()), d.Day(), hour)).Up
}

// closure gives the RMSE of GHI against DNI·sin(altitude) + DHI, the sun moved
// by minutes, over the hours with DNI above 150 W/m².
func closure(s *series.Series, minutes float64) float64 {
	sum, n := 0.0, 0.0
	for i, dni := range s.DNI.Values {
		if dni <= 150 {
			continue
		}
		miss := float64(dni)*max(0, sinAltitude(s, i, minutes)) + float64(s.DHI.Values[i]-s.GHI.Values[i])
		sum += miss * miss
		n++
	}
	return math.Sqrt(sum / n)
}

// The irradiance of the real files closes with the sun at the very stamp, each
// month's in its own year; their own zenith angles are those of package sun.
func TestRealYears(t *testing.T) {
	year, text := parseReal(t, "1090006_36.01_-78.94_2020.csv")
	typical, _ := parseReal(t, "1090006_36.01_-78.94_tmy-2020.csv")
	for name, s := range map[string]*series.Series{"2020": year, "typical": typical} {
		here := closure(s, 0)
		t.Logf("%s: closure %.2f W/m², %.2f and %.2f with the sun 15 min off", name, here, closure(s, -15), closure(s, 15))
		if here > 1.5 || closure(s, -15) < 3*here || closure(s, 15) < 3*here {
			t.Errorf("%s: closure %.2f W/m² at the stamp", name, here)
		}
		p := s.Site
		if p.ID != "1090006" || p.Lat != 36.01 || p.Lon != -78.94 || p.Elevation != 120 || p.UTCOffset != -5 || p.Country != "" ||
			!strings.HasPrefix(p.Source, "NSRDB PSM 3.2.0, 1090006_") || !s.Local || !s.Independent || s.BadCellCount != 0 {
			t.Errorf("%s: site %+v, local %v, independent %v, bad cells %v", name, p, s.Local, s.Independent, s.BadCells)
		}
		if a := s.GHI.Axis; len(a.Stamp) != weather.Hours || a.Step != 3600 || a.Stamp[0]%3600 != 1800 {
			t.Errorf("%s: %d rows, step %d, first %d", name, len(a.Stamp), a.Step, a.Stamp[0])
		}
	}
	distinct := map[int]bool{}
	for _, y := range typical.MonthYears {
		distinct[y] = true
	}
	if len(distinct) != 10 || typical.MonthYears[0] != 2002 || typical.MonthYears[11] != 2017 || year.MonthYears != [12]int{} {
		t.Errorf("years of the months: %v and %v", typical.MonthYears, year.MonthYears)
	}

	lines := strings.Split(string(text), "\n")
	sum, n := 0.0, 0.0
	for i := range year.DNI.Values {
		zenith, err := strconv.ParseFloat(strings.Split(lines[i+3], ",")[13], 64)
		if err != nil {
			t.Fatal(err)
		}
		if zenith < 80 {
			miss := math.Acos(sinAltitude(year, i, 0))*180/math.Pi - zenith
			sum += miss * miss
			n++
		}
	}
	rms := math.Sqrt(sum / n)
	t.Logf("zenith angles: %.4f° RMS over %g hours", rms, n)
	if !(rms < 0.045) || n < 3000 {
		t.Errorf("zenith angles: %.4f° RMS over %g hours", rms, n)
	}
}

// Half-hourly, without GHI, with the units of columns that it lacks.
func TestRealHalfHours(t *testing.T) {
	s, _ := parseReal(t, "509223_29.93_-104.02_2016.csv")
	a := s.DNI.Axis
	if len(a.Stamp) != 2*weather.Hours || a.Step != 1800 || a.Stamp[0] != unix(2016, 1, 1, 0, 0) || s.GHI.Axis != nil || s.Independent ||
		s.DewPoint.Axis != nil || s.RelHumidity.Axis == nil || s.Site.Elevation != 1214 || s.Site.UTCOffset != -6 {
		t.Errorf("%d rows, step %d, first %d, site %+v", len(a.Stamp), a.Step, a.Stamp[0], s.Site)
	}
	if s.Site.Source != "NSRDB PSM 3.0.1, 509223_29.93_-104.02_2016.csv" || s.BadCellCount != 0 {
		t.Errorf("source %q, bad cells %v", s.Site.Source, s.BadCells)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(head + row1 + row2))
	f.Add([]byte(head + row1 + strings.Replace(row2, "2001", "2004", 1)))
	for _, d := range defects {
		f.Add([]byte(d.text))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		s, err := Parse("fuzz.csv", bytes.NewReader(b))
		var fileErr *weather.FileError
		if err != nil && (!errors.As(err, &fileErr) || strings.ContainsAny(err.Error(), "\n\r")) {
			t.Errorf("error %q is no one-line FileError", err)
		}
		if err != nil {
			return
		}
		for _, c := range []series.Column{s.GHI, s.DNI, s.DHI, s.AirTemperature} {
			if c.Axis == nil {
				continue
			}
			if len(c.Values) != len(c.Axis.Stamp) {
				t.Fatalf("%d values on %d stamps", len(c.Values), len(c.Axis.Stamp))
			}
			for i, at := range c.Axis.Stamp[1:] {
				if d := at - c.Axis.Stamp[i]; d <= 0 || d%c.Axis.Step != 0 {
					t.Fatalf("stamps %d apart, step %d", d, c.Axis.Step)
				}
			}
		}
	})
}

func BenchmarkParse(b *testing.B) {
	x := []byte(made(30, func(int) int { return 2001 }))
	b.SetBytes(int64(len(x)))
	for b.Loop() {
		if _, err := Parse("made.csv", bytes.NewReader(x)); err != nil {
			b.Fatal(err)
		}
	}
}
