package climate

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
)

// tableText gives a table of two cells; edit changes its lines, the header
// being the first, each split into fields.
func tableText(edit func(lines [][]string)) string {
	header := []string{"site_id", "name", "country", "lat", "lon", "elevation_m", "cell_deg"}
	ghi, mild := aboveAir(40), [12]float64{5, 6, 8, 11, 14, 18, 20, 20, 17, 13, 9, 6}
	lines := [][]string{
		header,
		{"a", "first", "Halvane", "40", "-45", "120", "0.5"},
		{"b", "second, east", "Halvane", "40", "-44.5", "3", "0.5"},
	}
	for _, col := range []struct {
		name  string
		value func(m int) float64
	}{
		{"ghi_w_m2", func(m int) float64 { return 0.5 * ghi[m] }},
		{"air_temperature_c", func(m int) float64 { return mild[m] }},
		{"wind_speed_m_s", func(m int) float64 { return 6 }},
		{"relative_humidity_percent", func(m int) float64 { return 70 }},
	} {
		for m := range 12 {
			lines[0] = append(lines[0], fmt.Sprintf("%s_%02d", col.name, m+1))
			for i := 1; i < len(lines); i++ {
				lines[i] = append(lines[i], fmt.Sprintf("%.1f", col.value(m)))
			}
		}
	}
	if edit != nil {
		edit(lines)
	}
	var b strings.Builder
	b.WriteString("# invented\n")
	for _, fields := range lines {
		for i, f := range fields {
			if i > 0 {
				b.WriteByte(',')
			}
			if strings.Contains(f, ",") {
				f = `"` + f + `"`
			}
			b.WriteString(f)
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func TestRead(t *testing.T) {
	for name, text := range map[string]string{
		"plain": tableText(nil),
		"mark of byte order, CRLF, spaces": "\ufeff" + strings.ReplaceAll(
			strings.ReplaceAll(tableText(nil), "\n", "\r\n"), ",40,", ", 40 ,"),
		"columns the other way round": tableText(func(lines [][]string) {
			for _, fields := range lines {
				slices.Reverse(fields)
			}
		}),
	} {
		cells, err := Read(strings.NewReader(text), "t.csv")
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(cells) != 2 {
			t.Errorf("%s: %d cells, want 2", name, len(cells))
			continue
		}
		c := cells[1]
		if c.ID != "b" || c.Name != "second, east" || c.Country != "Halvane" || c.Source != "monthly means, t.csv" ||
			c.Lat != 40 || c.Lon != -44.5 || c.Elevation != 3 || c.CellDeg != 0.5 {
			t.Errorf("%s: %+v", name, c)
		}
		if c.AirTemperature[5] != 18 || c.Wind[11] != 6 || c.RelHumidity[0] != 70 || math.Abs(c.GHI[6]-0.5*aboveAir(40)[6]) > 0.05 {
			t.Errorf("%s: months %v %v %v %v", name, c.GHI, c.AirTemperature, c.Wind, c.RelHumidity)
		}
	}
}

// Wind, humidity, name, country and cell_deg may be left out.
func TestReadOptional(t *testing.T) {
	text := tableText(func(lines [][]string) {
		for i, fields := range lines {
			lines[i] = append([]string{fields[0]}, fields[3:6]...)
			lines[i] = append(lines[i], fields[7:31]...)
		}
	})
	cells, err := Read(strings.NewReader(text), "t.csv")
	if err != nil {
		t.Fatal(err)
	}
	raw := cells[0].Raw()
	if raw.Wind != nil || raw.DewPoint != nil {
		t.Error("columns of wind or dew point made from nothing")
	}
	if raw.Site.Kind != weather.KindStation || raw.Site.CellDeg != 0 {
		t.Errorf("kind %q, cell %v°: without cell_deg a place is a point", raw.Site.Kind, raw.Site.CellDeg)
	}
}

// Lines are counted with the comment: the header is line 2, cell a line 3.
func TestReadErrors(t *testing.T) {
	set := func(line, field int, to string) func([][]string) {
		return func(lines [][]string) { lines[line][field] = to }
	}
	const ghi01, temperature02, wind03 = 7, 20, 33
	for _, tt := range []struct {
		name  string
		text  string
		cells int // that survive
		want  string
	}{
		{"empty", "", 0, "t.csv: no line of column names"},
		{"comments only", "# nothing\n", 0, "t.csv: no line of column names"},
		{"no data", strings.SplitAfterN(tableText(nil), "\n", 3)[0] + strings.SplitAfterN(tableText(nil), "\n", 3)[1], 0, "t.csv: no line of data"},
		{"misspelt column", tableText(set(0, wind03, "wind_speed_ms_03")), 0, "t.csv:2: wind_speed_m_s_03: column missing"},
		{"column too many", tableText(set(0, 1, "remark")), 0, "t.csv:2: remark: unknown column"},
		{"column twice", tableText(set(0, 1, "lat")), 0, "t.csv:2: lat: column given twice"},
		{"no latitude", tableText(set(0, 3, "name2")), 0, "t.csv:2: lat: column missing"},
		{"no id", tableText(set(0, 0, "id")), 0, "t.csv:2: site_id: column missing"},
		{"quote in the header", `a"b,c` + "\n", 0, `t.csv:1: bare " in non-quoted-field`},
		{"not a number", tableText(set(1, temperature02, "6,5")), 1, `t.csv:3: air_temperature_c_02: "6,5": not a number`},
		{"NaN", tableText(set(1, temperature02, "NaN")), 1, `t.csv:3: air_temperature_c_02: "NaN": not a number`},
		{"empty cell", tableText(set(2, wind03, "")), 1, `t.csv:4: wind_speed_m_s_03: "": no data`},
		{"no id given", tableText(set(2, 0, " ")), 1, `t.csv:4: site_id: "": no data`},
		{"id twice", tableText(set(2, 0, "a")), 1, `t.csv:4: site_id: "a": already on line 3`},
		{"latitude", tableText(set(1, 3, "140")), 1, `t.csv:3: lat: "140": 140, want -90 to 90`},
		{"kelvin", tableText(set(1, temperature02, "279")), 1, `t.csv:3: air_temperature_c_02: "279": 279, want -80 to 60`},
		{"kWh a day for W/m²", tableText(set(2, ghi01, "2.1")), 1,
			`t.csv:4: ghi_w_m2_01: "2.1": 2.1 W/m² is 0.01 of the 178 above the air at this latitude, want 0.05 to 0.84`},
		{"brighter than any sky", tableText(set(2, ghi01, "160")), 1,
			`t.csv:4: ghi_w_m2_01: "160": 160 W/m² is 0.90 of the 178 above the air at this latitude, want 0.05 to 0.84`},
		{"field too many", tableText(func(lines [][]string) { lines[1] = append(lines[1], "7") }), 1,
			"t.csv:3: 56 fields, the line of column names has 55"},
		{"quote", strings.Replace(tableText(nil), "first", `fi"rst`, 1), 1, `t.csv:3: bare " in non-quoted-field`},
	} {
		cells, err := Read(strings.NewReader(tt.text), "t.csv")
		if err == nil || err.Error() != tt.want {
			t.Errorf("%s: error\n%v, want\n%v", tt.name, err, tt.want)
		}
		if len(cells) != tt.cells {
			t.Errorf("%s: %d cells survive, want %d", tt.name, len(cells), tt.cells)
		}
	}
}

// The first bad lines are told in full, the rest by number; nothing good is
// lost, and a broken stream ends with what was read.
func TestReadManyBadLines(t *testing.T) {
	text := tableText(nil)
	lines := strings.SplitAfter(text, "\n")
	for i := range 30 {
		bad := strings.Replace(lines[2], "a,first", fmt.Sprintf("bad%d,first", i), 1)
		text += strings.Replace(bad, ",40,", ",400,", 1)
	}
	cells, err := Read(strings.NewReader(text), "t.csv")
	if len(cells) != 2 {
		t.Errorf("%d cells, want 2", len(cells))
	}
	var cell *weather.CellError
	if !errors.As(err, &cell) || cell.Line != 5 || cell.Column != "lat" {
		t.Errorf("first error %+v, want lat on line 5", cell)
	}
	if n := strings.Count(err.Error(), "\n") + 1; n != 21 || !strings.HasSuffix(err.Error(), "t.csv: 10 more lines cannot be used") {
		t.Errorf("%d lines of errors, the last: …%s", n, err.Error()[max(0, len(err.Error())-60):])
	}

	broken := errors.New("disk gone")
	cells, err = Read(&failing{strings.NewReader(tableText(nil)), broken}, "t.csv")
	if !errors.Is(err, broken) || len(cells) != 2 {
		t.Errorf("broken stream: %d cells, error %v", len(cells), err)
	}
}

// A failing reader gives an error where the text ends.
type failing struct {
	*strings.Reader
	err error
}

func (f *failing) Read(p []byte) (int, error) {
	n, err := f.Reader.Read(p)
	if err != nil {
		err = f.err
	}
	return n, err
}

func FuzzRead(f *testing.F) {
	f.Add(tableText(nil))
	f.Add(tableText(func(lines [][]string) { lines[1][20] = "x" }))
	f.Fuzz(func(t *testing.T, text string) {
		cells := frugal(t, text, Read)
		for i := range cells {
			if err := cells[i].Validate(); err != nil {
				t.Errorf("cell %d is not valid: %v", i, err)
			}
		}
	})
}
