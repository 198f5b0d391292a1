package power

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
	head = "-BEGIN HEADER-\r\n" +
		"NASA/POWER Source Native Resolution Hourly Data \r\n" +
		"Dates (month/day/year): 01/01/2025 through 12/31/2025 in LST\r\n" +
		"Location: Latitude  -48.5   Longitude 354.75 \r\n" +
		"Elevation from MERRA-2: Average for 0.5 x 0.625 degree lat/lon region = -1.5 meters\r\n" +
		"The value for missing source data that cannot be computed or is outside of the sources availability range: -999 \r\n" +
		"Parameter(s): \r\n" +
		"T2M                   MERRA-2 Temperature at 2 Meters (C) \r\n" +
		"PS                    MERRA-2 Surface Pressure (kPa) \r\n" +
		"QV2M                  MERRA-2 Specific Humidity at 2 Meters (g/kg) \r\n" +
		"WS2M                  MERRA-2 Wind Speed at 2 Meters (m/s) \r\n" +
		"ALLSKY_SFC_SW_DWN     CERES SYN1deg All Sky Surface Shortwave Downward Irradiance (MJ/hr) \r\n" +
		"CLRSKY_SFC_SW_DWN     CERES SYN1deg Clear Sky Surface Shortwave Downward Irradiance (furlong) \r\n" +
		"-END HEADER-\r\n"
	columnNames = "YEAR,MO,DY,HR,CLRSKY_SFC_SW_DWN,ALLSKY_SFC_SW_DWN,T2M,PS,QV2M,WS2M\n"
	row1        = "2025,1,1,0,9,1.8,7,101.3,8,4\n"
	row2        = "2025,1,1,1,9,0,-999,-999.0,8.5,0\n"

	bareName = "made_012d5S_045d25E_UTC.csv"
	bareHead = "YEAR,MO,DY,HR,ALLSKY_SFC_SW_DWN,T2M\n"
)

func unix(year, month, day, hour int) int64 {
	return time.Date(year, time.Month(month), day, hour, 0, 0, 0, time.UTC).Unix()
}

func TestColumns(t *testing.T) {
	s, err := Parse("x/made.csv", strings.NewReader(head+columnNames+row1+row2))
	if err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	for name, c := range map[string]struct {
		c           series.Column
		first, last float64
	}{
		"GHI": {s.GHI, 500, 0}, "temperature": {s.AirTemperature, 7, nan}, "pressure": {s.Pressure, 1013, nan},
		"specific humidity": {s.SpecificHumidity, 0.008, 0.0085}, "wind": {s.Wind, 4, 0},
	} {
		for i, want := range []float64{c.first, c.last} {
			if got := float64(c.c.Values[i]); !(math.Abs(got-want) <= 1e-4 || want != want && got != got) {
				t.Errorf("%s: %v, want %g and %g", name, c.c.Values, c.first, c.last)
			}
		}
	}
	a := s.GHI.Axis
	if a.Stamp[0] != unix(2025, 1, 1, 0) || a.Stamp[1] != a.Stamp[0]+3600 || a.Step != 3600 || a.From != 0 || a.Instant {
		t.Errorf("axis %+v", a)
	}
	if p := s.Site; p.ID != "48.5S_5.25W" || p.Name != "48.5° S, 5.25° W" || p.Lat != -48.5 || p.Lon != -5.25 || p.Elevation != -1.5 ||
		p.Kind != weather.KindStation || p.Source != "NASA POWER, made.csv" || len(p.Flags) != 0 || p.UTCOffset != 0 {
		t.Errorf("site %+v", p)
	}
	if !s.Local || s.WindHeight != 2 || s.Independent || s.DNI.Axis != nil || s.BadCellCount != 0 {
		t.Errorf("local %v, wind at %g m, bad cells %v", s.Local, s.WindHeight, s.BadCells)
	}
}

// All three irradiances, the wind at 10 m before that at 2 m, whatever the order
// of the columns; the time standard turned to UTC.
func TestAllColumns(t *testing.T) {
	more := strings.NewReplacer(" in LST", " in UTC", "-END", "ALLSKY_SFC_SW_DNI  CERES Direct (Wh/m^2)\nALLSKY_SFC_SW_DIFF  CERES Diffuse (W m-2)\n"+
		"ALLSKY_SFC_LW_DWN  CERES Longwave (W/m^2)\nWS10M  Wind (m/s)\nRH2M Humidity (%)\nCLOUD_AMT Cloud (%)\nT2MDEW Dew (C)\n-END").Replace(head)
	s, err := Parse("made.csv", strings.NewReader(more+
		"WS2M,WS10M,HR,DY,MO,YEAR,ALLSKY_SFC_SW_DNI,ALLSKY_SFC_SW_DIFF,ALLSKY_SFC_LW_DWN,RH2M,CLOUD_AMT,T2MDEW\n2,5,13,3,2,2024,600,80,310,55,40,3\n"))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		c    series.Column
		want float32
	}{"DNI": {s.DNI, 600}, "DHI": {s.DHI, 80}, "sky": {s.SkyInfrared, 310}, "wind": {s.Wind, 5}, "humidity": {s.RelHumidity, 55},
		"cloud": {s.TotalCloud, 4}, "dew point": {s.DewPoint, 3}} {
		if c.c.Values[0] != c.want {
			t.Errorf("%s: %v, want %g", name, c.c.Values, c.want)
		}
	}
	if s.WindHeight != 10 || s.Local || s.GHI.Axis != nil || s.DNI.Axis.Stamp[0] != unix(2024, 2, 3, 13) {
		t.Errorf("wind at %g m, local %v, stamp %d", s.WindHeight, s.Local, s.DNI.Axis.Stamp[0])
	}
}

// A file without its header: place and time standard from its name, units held
// to the sun.
func TestStripped(t *testing.T) {
	day := func(factor float64) string {
		var b strings.Builder
		b.WriteString(bareHead)
		for h := range 24 {
			// A clear day of the tropics at 45° E, which is 3 h from UTC.
			fmt.Fprintf(&b, "2021,1,1,%d,%.3f,25\n", h, factor*max(0, 900*math.Cos(float64(h-9)*math.Pi/12)))
		}
		return b.String()
	}
	s, err := Parse("x/"+bareName, strings.NewReader(day(1)))
	if err != nil {
		t.Fatal(err)
	}
	if p := s.Site; p.Lat != -12.5 || p.Lon != 45.25 || p.Elevation != 0 || s.Local ||
		strings.Join(p.Flags, " ") != UnitsAssumed+" "+ElevationUnknown || s.GHI.Values[9] != 900 {
		t.Errorf("site %+v, local %v, noon %g", p, s.Local, s.GHI.Values[9])
	}
	s, err = Parse("made_012d5N_172d25W_LST.csv", strings.NewReader(bareHead+"2021,1,1,0,-999,25\n"))
	if err != nil || s.Site.Lat != 12.5 || s.Site.Lon != -172.25 || !s.Local || s.Site.UTCOffset != -11 {
		t.Errorf("west: %v, %+v", err, s)
	}
	for unit, factor := range map[string]float64{"MJ/hr": 0.0036, "kWh/m2": 0.001} {
		_, err := Parse(bareName, strings.NewReader(day(factor)))
		if err == nil || !strings.HasPrefix(err.Error(), bareName+":1: ALLSKY_SFC_SW_DWN: the header with the units is gone, and taken as W/m²") {
			t.Errorf("%s: %v", unit, err)
		}
	}
}

var defects = map[string]struct{ name, text, want string }{
	"empty":           {"made.csv", "", ": empty file"},
	"binary":          {"made.csv", "-BEGIN\x00\n", ":1: binary content, not text"},
	"other":           {"made.csv", "a,b\n", ":1: neither a header nor column names; not a NASA POWER table"},
	"endless header":  {"made.csv", strings.TrimSuffix(head, "-END HEADER-\r\n"), ":13: no line -END HEADER-"},
	"no columns":      {"made.csv", head, ":14: no line of column names"},
	"no location":     {"made.csv", strings.Replace(head, "Location", "Station", 1), ":14: Location: not in the header"},
	"empty location":  {"made.csv", strings.Replace(head, "Location: Latitude  -48.5   Longitude 354.75 ", "Location", 1), ":4: Latitude: no data"},
	"south of pole":   {"made.csv", strings.Replace(head, "-48.5", "-148.5", 1), `:4: Latitude: "-148.5" is outside -90 to 90`},
	"height in words": {"made.csv", strings.Replace(head, "-1.5 m", "high m", 1), `:5: Elevation: "high" is not a number`},
	"no dates":        {"made.csv", strings.Replace(head, "Dates", "Days", 1), ":14: Dates: the header does not say whether times are UTC or LST"},
	"moon time":       {"made.csv", strings.Replace(head, "in LST", "in LUNAR", 1), `:3: Dates: time standard "LUNAR", want UTC or LST`},
	"code among data": {"made.csv", strings.Replace(head, "range: -999", "range: 0", 1), `:6: value for missing data: "0", want -999 or lower`},
	"furlong":         {"made.csv", strings.Replace(head, "MJ/hr", "furlong", 1) + columnNames, `:12: ALLSKY_SFC_SW_DWN: unknown unit "furlong", want W/m2`},
	"no unit":         {"made.csv", strings.Replace(head, "Pressure (kPa)", "Pressure", 1) + columnNames, ":15: PS: the header does not say the unit of the column"},
	"days":            {"made.csv", head + "YEAR,MO,DY,T2M\n", ":15: a NASA POWER table of days; hourly values are needed"},
	"days of year":    {"made.csv", head + "YEAR,DOY,T2M\n", ":15: a NASA POWER table of days; hourly values are needed"},
	"months":          {"made.csv", head + "PARAMETER,YEAR,JAN,FEB,MAR,APR,MAY,JUN,JUL,AUG,SEP,OCT,NOV,DEC,ANN\n", ":15: a NASA POWER table of months; hourly values are needed"},
	"region":          {"made.csv", head + "LAT,LON,YEAR,MO,DY,T2M\n", ":15: a NASA POWER table of a region; hourly tables of points are read"},
	"no year":         {"made.csv", head + "MO,DY,HR,T2M\n", ":15: YEAR: no such column; not a NASA POWER hourly table"},
	"twice":           {"made.csv", head + "YEAR,MO,DY,HR,T2M,T2M\n", ":15: T2M: the column comes twice"},
	"no rows":         {"made.csv", head + columnNames, ":15: no rows after the column names"},
	"short row":       {"made.csv", head + columnNames + "2025,1,1,0\n" + row2, ":16: row has 4 fields, want 10 as in the line of column names"},
	"long row":        {"made.csv", head + columnNames + "2025,1,1,0,9,1.8,7,101.3,8,4,1\n", ":16: row has 11 fields, want 10 as in the line of column names"},
	"cut row":         {"made.csv", head + columnNames + row1 + "2025,1,1,1,9", ":17: the file stops in the middle of a row, field 5 of 10"},
	"hour 24":         {"made.csv", head + columnNames + strings.Replace(row1, "1,0,", "1,24,", 1), ":16: HR: 24 is outside 0 to 23"},
	"no leap year":    {"made.csv", head + columnNames + strings.Replace(row1, "1,1,", "2,29,", 1), ":16: DY: 2025 has no 29 February"},
	"month in words":  {"made.csv", head + columnNames + strings.Replace(row1, "1,1,", "Jan,1,", 1), `:16: MO: "Jan" is not a whole number`},
	"hour twice":      {"made.csv", head + columnNames + row1 + row1, ":17: row of 2025-01-01 00:00 after 2025-01-01 00:00: times must rise"},
	"renamed":         {"sydney.csv", bareHead, ":1: the header is gone, and the file name does not say place and time standard as in POWER_Point_Hourly_20250101_20251231_050d85N_004d35E_UTC.csv"},
	"name off earth":  {"made_112d5S_045d25E_UTC.csv", bareHead, `:1: latitude in the file name: "112.5" is outside -90 to 90`},
}

func TestDefects(t *testing.T) {
	for name, d := range defects {
		_, err := Parse(d.name, strings.NewReader(d.text))
		var fileErr *weather.FileError
		if !errors.As(err, &fileErr) || err.Error() != d.name+d.want {
			t.Errorf("%s: %v, want %s%s", name, err, d.name, d.want)
		}
	}
}

func TestBadCells(t *testing.T) {
	s, err := Parse("made.csv", strings.NewReader(head+columnNames+row1+"2025,1,1,1,x,9.9,7o,,8,N/A\n"))
	if err != nil {
		t.Fatal(err)
	}
	want := []string{
		`made.csv:17: ALLSKY_SFC_SW_DWN: "9.9": impossible, outside -0.0144 to 7.974; taken as missing`,
		`made.csv:17: T2M: "7o": not a number; taken as missing`,
		`made.csv:17: WS2M: "N/A": not a number; taken as missing`,
	}
	if s.BadCellCount != 3 {
		t.Fatalf("%d bad cells %v", s.BadCellCount, s.BadCells)
	}
	for i := range want {
		if s.BadCells[i].Error() != want[i] {
			t.Errorf("got  %v\nwant %s", s.BadCells[i], want[i])
		}
	}
}

func parseReal(t *testing.T, name string) (*series.Series, []byte) {
	t.Helper()
	b, err := os.ReadFile(realfiles.Path(t, "power/"+name))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Parse(name, bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return s, b
}

const (
	brussels    = "POWER_Point_Hourly_20250101_20251231_050d85N_004d35E_UTC.csv"
	sydney      = "POWER_Point_Hourly_20210101_20220228_033d8678S_151d2073E_LST.csv"
	philippines = "nasa_power_philippines_2025.csv"
	oneMonth    = "POWER_Point_Hourly_20250517_20250618_048d33N_025d93E_LST.csv"
)

func TestRealFiles(t *testing.T) {
	for _, c := range []struct {
		file             string
		rows             int
		ghi              float64 // kWh/m² and year, as found by an independent reading
		lat, lon, height float64
		local            bool
		zone, wind       float64
	}{
		{brussels, 8760, 1204, 50.8503, 4.3517, 36.84, false, 0, 10},
		{philippines, 8760, 1871, 11, 123, 104.72, false, 0, 0},
		{oneMonth, 33 * 24, 0, 48.329, 25.93, 323.83, true, 2, 2},
		{sydney, 10176, 0, -33.8678, 151.2073, 0, true, 10, 0},
	} {
		s, _ := parseReal(t, c.file)
		if p := s.Site; len(s.GHI.Axis.Stamp) != c.rows || p.Lat != c.lat || p.Lon != c.lon || p.Elevation != c.height ||
			s.Local != c.local || p.UTCOffset != c.zone || s.WindHeight != c.wind || s.BadCellCount != 0 || s.DNI.Axis != nil {
			t.Errorf("%s: %d rows, local %v, wind at %g m, bad cells %v, site %+v", c.file, len(s.GHI.Axis.Stamp), s.Local, s.WindHeight, s.BadCells, p)
		}
		if c.ghi == 0 {
			continue
		}
		sum := 0.0
		for _, v := range s.GHI.Values {
			sum += float64(v) / 1000
		}
		if math.Abs(sum-c.ghi) > 0.5 {
			t.Errorf("%s: GHI %.1f kWh/m², want %g", c.file, sum, c.ghi)
		}
	}
}

// The centre of the hour that the irradiance stands for lies half an hour after
// the stamp: GHI is most in step with a sun shifted by that.
func TestRealCentre(t *testing.T) {
	for _, file := range []string{brussels, philippines, oneMonth, sydney} {
		s, _ := parseReal(t, file)
		best, where := 0.0, 0
		for minutes := -60; minutes <= 120; minutes += 10 {
			xy, xx, yy := 0.0, 0.0, 0.0
			for i, v := range s.GHI.Values {
				if v != v {
					continue
				}
				x := max(0, sinAltitude(s, i, float64(minutes)))
				xy, xx, yy = xy+x*float64(v), xx+x*x, yy+float64(v)*float64(v)
			}
			if r := xy / math.Sqrt(xx*yy); r > best {
				best, where = r, minutes
			}
		}
		t.Logf("%s: best centre %+d min", file, where)
		if where < 20 || where > 40 {
			t.Errorf("%s: best centre %+d min after the stamp, want about 30", file, where)
		}
	}
}

// sinAltitude gives that of the sun some minutes after a stamp.
func sinAltitude(s *series.Series, i int, minutes float64) float64 {
	d := time.Unix(s.GHI.Axis.Stamp[i], 0).UTC()
	p := sun.NewPlace(sun.Angle(s.Site.Lat)*sun.Degree, sun.Angle(s.Site.Lon)*sun.Degree)
	return p.Sun(sun.JulianDate(d.Year(), int(d.Month()), d.Day(), float64(d.Hour())+minutes/60-s.Site.UTCOffset)).Up
}

// The data set's own zenith angles prove that LST is whole hours from UTC and
// that stamps start the hour.
func TestRealZenith(t *testing.T) {
	s, text := parseReal(t, sydney)
	lines := strings.Split(string(text), "\n")
	rms := func(minutes float64) (float64, int) {
		sum, n := 0.0, 0
		for i := range s.GHI.Values {
			zenith, err := strconv.ParseFloat(strings.Split(lines[i+1], ",")[11], 64)
			if err != nil {
				t.Fatal(err)
			}
			if zenith >= 0 && zenith < 80 {
				miss := math.Acos(sinAltitude(s, i, minutes))*180/math.Pi - zenith
				sum += miss * miss
				n++
			}
		}
		return math.Sqrt(sum / float64(n)), n
	}
	middle, n := rms(30)
	before, _ := rms(25)
	after, _ := rms(35)
	t.Logf("zenith angles: %.3f° RMS over %d hours, %.3f° and %.3f° five minutes off", middle, n, before, after)
	if n < 3000 || middle > 0.3 || before < 2*middle || after < 2*middle {
		t.Errorf("zenith angles: %.3f° RMS over %d hours, %.3f° and %.3f° five minutes off", middle, n, before, after)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(head+columnNames+row1+row2), "made.csv")
	f.Add([]byte(bareHead+"2021,1,1,9,900,25\n"), bareName)
	for _, d := range defects {
		f.Add([]byte(d.text), d.name)
	}
	f.Fuzz(func(t *testing.T, b []byte, name string) {
		s, err := Parse(name, bytes.NewReader(b))
		var fileErr *weather.FileError
		if err != nil {
			if !errors.As(err, &fileErr) || strings.ContainsAny(strings.TrimPrefix(err.Error(), name), "\n\r") {
				t.Errorf("error %q is no one-line FileError", err)
			}
			return
		}
		if !(math.Abs(s.Site.Lat) <= 90 && math.Abs(s.Site.Lon) <= 180) {
			t.Errorf("site %+v", s.Site)
		}
		for _, c := range []series.Column{s.GHI, s.DNI, s.DHI, s.AirTemperature, s.Wind} {
			if c.Axis != nil && len(c.Values) != len(c.Axis.Stamp) {
				t.Fatalf("%d values on %d stamps", len(c.Values), len(c.Axis.Stamp))
			}
		}
	})
}
