package climate

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// longTable gives 2 × 2 places half a degree apart, 40° north, with a clearness
// of a half; edit changes its lines, the header being the first.
func longTable(header string, edit func(lines []string) []string) string {
	lines := []string{header}
	for _, lat := range []float64{40, 40.5} {
		ghi := aboveAir(lat)
		for _, lon := range []float64{-45, -44.5} {
			for m := range 12 {
				lines = append(lines, fmt.Sprintf("%g,%g,%d,%.2f,%d", lat, lon, m+1, ghi[m]/2, 5+m))
			}
		}
	}
	if edit != nil {
		lines = edit(lines)
	}
	return strings.Join(lines, "\n") + "\n"
}

const longHeader = "lat,lon,month,ghi_w_m2,air_temperature_c"

func TestReadMonthly(t *testing.T) {
	for name, text := range map[string]string{
		"commas":     longTable(longHeader, nil),
		"semicolons": strings.ReplaceAll(longTable("# made, by hand\n"+longHeader, nil), ",", ";"),
		"tabs, CRLF": strings.ReplaceAll(strings.ReplaceAll("\ufeff"+longTable(longHeader, nil), ",", "\t"), "\n", "\r\n"),
		"any order": longTable(longHeader, func(lines []string) []string {
			slices.Sort(lines[1:])
			return lines
		}),
		"months by name": longTable(longHeader, func(lines []string) []string {
			for i := range lines {
				lines[i] = strings.Replace(strings.Replace(lines[i], ",1,", ",January,", 1), ",12,", ",DEC,", 1)
			}
			return lines
		}),
		"longitudes to 360": strings.ReplaceAll(strings.ReplaceAll(longTable(longHeader, nil), ",-45,", ",315,"), ",-44.5,", ",315.5,"),
	} {
		cells, err := ReadMonthly(strings.NewReader(text), "m.csv")
		if err != nil || len(cells) != 4 {
			t.Errorf("%s: %d cells, %v", name, len(cells), err)
			continue
		}
		c := cells[slices.IndexFunc(cells, func(c Cell) bool { return c.ID == "n40.5w44.5" })]
		if c.Lat != 40.5 || c.Lon != -44.5 || c.CellDeg != 0.5 || c.CellLonDeg != 0 ||
			math.Abs(c.GHI[6]-aboveAir(40.5)[6]/2) > 0.01 || c.AirTemperature[11] != 16 || !math.IsNaN(c.Wind[3]) {
			t.Errorf("%s: %+v", name, c)
		}
	}
}

// One irradiance, 100 W/m² in July, in each unit of the header.
func TestMonthlyUnits(t *testing.T) {
	for column, v := range map[string]float64{
		"ghi_w_m2": 100, "ghi_kwh_m2_day": 2.4, "ghi_mj_m2_day": 8.64, "ghi_kj_m2_day": 8640,
		"ghi_kwh_m2_month": 2.4 * 31, "ghi_mj_m2_month": 8.64 * 31,
	} {
		var b strings.Builder
		fmt.Fprintf(&b, "lat,lon,month,%s,air_temperature_k,wind_speed_m_s,relative_humidity_percent,site_id,name,country,elevation_m,cell_deg\n", column)
		for m, n := range weather.MonthDays {
			scale := 1.0
			if strings.HasSuffix(column, "month") {
				scale = float64(n) / 31
			}
			fmt.Fprintf(&b, "10,20,%d,%g,293.15,3,60,x,Ixtal,Halvane,12,0.1\n", m+1, 2*v*scale)
		}
		cells, err := ReadMonthly(strings.NewReader(b.String()), "m.csv")
		if err != nil {
			t.Errorf("%s: %v", column, err)
			continue
		}
		c := cells[0]
		for m := range 12 {
			if math.Abs(c.GHI[m]-200) > 1e-9 || math.Abs(c.AirTemperature[m]-20) > 1e-9 {
				t.Errorf("%s: %v W/m², %v °C", column, c.GHI, c.AirTemperature)
			}
		}
		if c.ID != "x" || c.Name != "Ixtal" || c.Country != "Halvane" || c.Elevation != 12 || c.CellDeg != 0.1 || c.Wind[3] != 3 || c.RelHumidity[3] != 60 {
			t.Errorf("%+v", c)
		}
	}
}

func TestSpacing(t *testing.T) {
	at := func(p ...float64) (list []place) {
		for i := 0; i < len(p); i += 2 {
			list = append(list, place{cell: Cell{Lat: p[i], Lon: p[i+1]}})
		}
		return list
	}
	for _, tt := range []struct {
		name        string
		list        []place
		north, east float64
	}{
		{"one", at(1, 2), 0, 0},
		{"a row", at(1, 2, 1, 3, 1, 4), 0, 0},
		{"a square", at(1, 2, 1, 3, 2, 2, 2, 3), 1, 0},
		{"longer steps east", at(10, 5, 14, 5, 10, 10, 14, 10), 4, 5},
		{"a gap in the grid", at(0, 0, 0, 1, 1, 0, 1, 1, 3, 0, 3, 1), 1, 0},
		{"thirds, rounded", at(0, 0, 0.3333, 0, 0.6667, 0, 1, 0, 0, 0.3333, 0, 0.6667), 0.3333, 0},
		{"scattered", at(40.1, 5.3, 41.7, 5.9, 42.2, 7.4), 0, 0},
		{"two apart", at(40, 5, 41, 6), 0, 0},
	} {
		if north, east := spacing(tt.list); math.Abs(north-tt.north) > 1e-9 || math.Abs(east-tt.east) > 1e-9 {
			t.Errorf("%s: %v and %v, want %v and %v", tt.name, north, east, tt.north, tt.east)
		}
	}
}

func TestReadMonthlyErrors(t *testing.T) {
	set := func(line int, old, to string) string {
		return longTable(longHeader, func(lines []string) []string {
			lines[line] = strings.Replace(lines[line], old, to, 1)
			return lines
		})
	}
	const all = "site_id, name, country, lat, lon, elevation_m, cell_deg, month, ghi_w_m2, ghi_kwh_m2_day, ghi_mj_m2_day, ghi_kj_m2_day, ghi_kwh_m2_month, ghi_mj_m2_month, air_temperature_c, air_temperature_k, wind_speed_m_s, relative_humidity_percent"
	for _, tt := range []struct {
		name  string
		text  string
		cells int // that survive
		want  string
	}{
		{"empty", "", 0, "m.csv: no line of column names"},
		{"no data", longHeader + "\n", 0, "m.csv: no line of data"},
		{"unknown column", set(0, "ghi_w_m2", "ghi_furlong"), 0, "m.csv:1: ghi_furlong: unknown column, want " + all},
		{"column twice", set(0, "lon", "lat"), 0, "m.csv:1: lat: column given twice"},
		{"no longitude", set(0, "lon,", "name,"), 0, "m.csv:1: lon: column missing"},
		{"no month", set(0, "month", "name"), 0, "m.csv:1: month: column missing"},
		{"two irradiances", set(0, "air_temperature_c", "ghi_mj_m2_day"), 0, "m.csv:1: ghi_mj_m2_day: given beside ghi_w_m2"},
		{"no irradiance", set(0, "ghi_w_m2", "wind_speed_m_s"), 0, "m.csv:1: ghi_w_m2: column missing (or ghi_kwh_m2_day, ghi_mj_m2_day, ghi_kj_m2_day, ghi_kwh_m2_month, ghi_mj_m2_month)"},
		{"no temperature", set(0, "air_temperature_c", "wind_speed_m_s"), 0, "m.csv:1: air_temperature_c: column missing (or air_temperature_k)"},
		{"month 13", set(3, ",3,", ",13,"), 3, `m.csv:4: month: "13": want 1 to 12 or a name such as jan`},
		{"month twice", set(3, ",3,", ",2,"), 3, `m.csv:4: month: "2": already on line 3 for this place`},
		{"months missing", longTable(longHeader, func(lines []string) []string { return slices.Delete(lines, 14, 16) }), 3,
			"m.csv:14: month: 2, 3 missing for the place at 40, -44.5, which begins here"},
		{"not a number", set(5, ",9", ",mild"), 3, `m.csv:6: air_temperature_c: "mild": not a number`},
		{"empty", set(5, ",9", ","), 3, `m.csv:6: air_temperature_c: "": no data`},
		{"kelvin", set(5, ",9", ",282"), 3, `m.csv:6: air_temperature_c: 282, want -80 to 60`},
		{"kWh a day for W/m²", longTable(longHeader, func(lines []string) []string {
			lines[7] = "40,-45,7,6.5,11"
			return lines
		}), 3, "m.csv:8: ghi_w_m2: 6.5 W/m² is 0.01 of the 468 above the air at this latitude, want 0.05 to 0.84"},
		{"field too many", set(5, ",9", ",9,9"), 3, "m.csv:6: 6 fields, the line of column names has 5\nm.csv:2: month: 5 missing for the place at 40, -45, which begins here"},
		{"latitude", set(5, "40,", "140,"), 3, "m.csv:6: lat: \"140\": 140, want -90 to 90\nm.csv:2: month: 5 missing for the place at 40, -45, which begins here"},
	} {
		cells, err := ReadMonthly(strings.NewReader(tt.text), "m.csv")
		if err == nil || err.Error() != tt.want {
			t.Errorf("%s: error\n%v, want\n%v", tt.name, err, tt.want)
		}
		if len(cells) != tt.cells {
			t.Errorf("%s: %d cells survive, want %d", tt.name, len(cells), tt.cells)
		}
	}
	// Ids, heights and cells must be the same in all lines of a place.
	for name, to := range map[string]string{
		`m.csv:3: site_id: "b": "a" on line 2 of the same place`:   "40,-45,2,100,5,b,7",
		`m.csv:3: site_id: "a": on line 2 of another place`:        "41,-45,2,100,5,a,7",
		`m.csv:3: elevation_m: "8": 7 on line 2 of the same place`: "40,-45,2,100,5,a,8",
	} {
		_, err := ReadMonthly(strings.NewReader(longHeader+",site_id,elevation_m\n40,-45,1,100,5,a,7\n"+to+"\n"), "m.csv")
		if err == nil || strings.Split(err.Error(), "\n")[0] != name {
			t.Errorf("%v, want %s", err, name)
		}
	}
}

func FuzzReadMonthly(f *testing.F) {
	f.Add(longTable(longHeader, nil))
	f.Add("lat;lon;month;ghi_kwh_m2_day;air_temperature_k;site_id\n1;2;jan;5;290;x\n")
	f.Fuzz(func(t *testing.T, text string) {
		cells := frugal(t, text, ReadMonthly)
		for i := range cells {
			if err := cells[i].Validate(); err != nil {
				t.Errorf("cell %d is not valid: %v", i, err)
			}
		}
	})
}

func BenchmarkReadMonthly(b *testing.B) {
	var text strings.Builder
	text.WriteString(longHeader + "\n")
	for i := range 10000 {
		for m := range 12 {
			fmt.Fprintf(&text, "%g,%g,%d,%.2f,%d\n", float64(i/100)/10, float64(i%100)/10, m+1, 220.0, 20)
		}
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if cells, err := ReadMonthly(strings.NewReader(text.String()), "m.csv"); err != nil || len(cells) != 10000 {
			b.Fatal(len(cells), err)
		}
	}
}
