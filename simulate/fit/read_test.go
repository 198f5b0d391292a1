package fit

import (
	"io"
	"math"
	"strings"
	"testing"
)

const header = "beam_w_m2,diffuse_w_m2,incidence_deg,air_temperature_c,wind_speed_m_s,inlet_c,outlet_c,mass_flow_kg_s,receiver_area_m2\n"

func TestRead(t *testing.T) {
	const file = "\uFEFF# a comment, \"unbalanced\n" +
		"receiver_area_m2, time ,outlet_c,inlet_c,mass_flow_kg_s,wind_speed_m_s,air_temperature_c,incidence_deg,diffuse_w_m2,beam_w_m2,set,uncertainty_w_m2,sky_infrared_w_m2\r\n" +
		"3,noon,44.77,38,0.05,3.4,25.7,17,110,832,plain,8,350\r\n" +
		"# another\r\n\r\n" +
		" 3 ,,63.45, 60 ,5e-2,3.9,25,16,119,836,mirror,9,355\r\n"
	points, err := Read(strings.NewReader(file), "a.csv")
	if err != nil {
		t.Fatal(err)
	}
	want := []Point{
		{"a.csv", 3, "noon", Plain, 832, 110, 17, 25.7, 3.4, 38, 44.77, 0.05, 3, 350, 8},
		{"a.csv", 6, "", Mirror, 836, 119, 16, 25, 3.9, 60, 63.45, 0.05, 3, 355, 9},
	}
	if len(points) != 2 || points[0] != want[0] || points[1] != want[1] {
		t.Errorf("read %+v,\nwant %+v", points, want)
	}
}

func TestReadWithoutOptionalColumns(t *testing.T) {
	points, err := Read(strings.NewReader(header+"832,110,17,25.7,3.4,38,44.77,0.05,3"), "a.csv")
	if err != nil {
		t.Fatal(err)
	}
	if p := points[0]; p.Set != "" || !math.IsNaN(p.SkyInfrared) || !math.IsNaN(p.Uncertainty) {
		t.Errorf("%+v: what the file lacks must be NaN or empty", p)
	}
}

func TestReadNamesFileLineFieldAndValue(t *testing.T) {
	const good = "832,110,17,25.7,3.4,38,44.77,0.05,3\n"
	for _, tt := range []struct{ name, file, want string }{
		{"empty", "", "a.csv: empty"},
		{"comments only", "# one\n# two\n", "a.csv: empty"},
		{"header only", header, "a.csv: no test points below the header"},
		{"letters in a number", header + good + "832,110,17,25.7,3.4,38,44.7x,0.05,3\n", `a.csv:3: outlet_c: "44.7x" is not a number`},
		{"decimal comma", header + `832,110,17,"25,7",3.4,38,44.77,0.05,3`, `a.csv:2: air_temperature_c: "25,7" is not a number`},
		{"NaN", header + "NaN,110,17,25.7,3.4,38,44.77,0.05,3\n", `a.csv:2: beam_w_m2: "NaN" is not a number`},
		{"infinity", header + "832,+Inf,17,25.7,3.4,38,44.77,0.05,3\n", `a.csv:2: diffuse_w_m2: "+Inf" is not a number`},
		{"empty cell", header + "832,110,17,25.7,,38,44.77,0.05,3\n", "a.csv:2: wind_speed_m_s: empty"},
		{"negative area", header + "832,110,17,25.7,3.4,38,44.77,0.05,-3\n", "a.csv:2: receiver_area_m2 = -3, want above 0"},
		{"no flow", header + "832,110,17,25.7,3.4,38,44.77,0,3\n", "a.csv:2: mass_flow_kg_s = 0, want above 0"},
		{"negative beam", header + "-1,110,17,25.7,3.4,38,44.77,0.05,3\n", "a.csv:2: beam_w_m2 = -1, want from 0 to 1500"},
		{"grazing", header + "832,110,85,25.7,3.4,38,44.77,0.05,3\n", "a.csv:2: incidence_deg = 85, want from 0 to 80"},
		{"steam", header + "832,110,17,25.7,3.4,38,104,0.05,3\n", "a.csv:2: outlet_c = 104, want from 0 to 100"},
		{"kelvin", header + "832,110,17,298,3.4,38,44,0.05,3\n", "a.csv:2: air_temperature_c = 298, want from -60 to 60"},
		{"inlet and outlet exchanged", header + "832,110,17,25.7,3.4,24,18,0.05,3\n", "a.csv:2: outlet_c = 18 is below inlet_c = 24 though 942 W/m² shine"},
		{"flow in kg/h", header + "832,110,17,25.7,3.4,38,44.77,180,3\n", "a.csv:2: mass_flow_kg_s = 180 over receiver_area_m2 = 3 makes"},
		{"short line", header + "832,110,17\n", "a.csv:2: 3 fields, the header has 9"},
		{"open quote", header + "\"832,110\n", "a.csv:2: column"},
		{"unknown column", "wind_m_s," + header + "3," + good, `a.csv:1: header: unknown column "wind_m_s", want time, set, beam_w_m2`},
		{"doubled column", "beam_w_m2," + header + "3," + good, `a.csv:1: header: column "beam_w_m2" twice`},
		{"missing column", strings.Replace(header, "inlet_c,", "", 1), `a.csv:1: header: column "inlet_c" is missing`},
		{"semicolons", strings.ReplaceAll(header, ",", ";"), "a.csv:1: header: semicolons"},
		{"unknown set", "set," + header + "open," + good, `a.csv:2: set = "open", want plain or mirror`},
		{"set on some lines", "set," + header + "plain," + good + "," + good, "a.csv:3: set: empty"},
		{"exact data, zero uncertainty", "uncertainty_w_m2," + header + "0," + good, "a.csv:2: uncertainty_w_m2 = 0, want above 0"},
	} {
		points, err := Read(strings.NewReader(tt.file), "a.csv")
		if err == nil {
			t.Errorf("%s: read %+v, want %q", tt.name, points, tt.want)
			continue
		}
		if !strings.HasPrefix(err.Error(), tt.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s:\n got %q\nwant %q…", tt.name, err, tt.want)
		}
	}
}

func TestReadNamesEveryBadLine(t *testing.T) {
	bad := strings.Repeat("x,110,17,25.7,3.4,38,44.77,0.05,3\n", 25)
	_, err := Read(strings.NewReader(header+bad), "a.csv")
	if err == nil {
		t.Fatal("no error")
	}
	lines := strings.Split(err.Error(), "\n")
	if len(lines) != maxErrors+1 || !strings.HasPrefix(lines[9], "a.csv:11: beam_w_m2") || lines[10] != "a.csv: 15 more lines are wrong" {
		t.Errorf("%d lines: %q", len(lines), lines)
	}
}

// Hot water in the sun may lose more than it gains; and nights have no sun.
func TestReadAcceptsHonestLosses(t *testing.T) {
	file := header + "400,110,60,15,6,75,72.5,0.05,3\n0,0,0,12,2,60,55,0.05,3\n"
	if _, err := Read(strings.NewReader(file), "a.csv"); err != nil {
		t.Error(err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add(Template())
	f.Add(header + "832,110,17,25.7,3.4,38,44.77,0.05,3\n")
	f.Add("set," + header + "mirror,1e3,1,0,0,0,0,1e-300,1,1e-300\n")
	f.Fuzz(func(t *testing.T, s string) {
		points, err := Read(strings.NewReader(s), "a.csv")
		if (err == nil) != (len(points) > 0) {
			t.Fatalf("%d points with error %v", len(points), err)
		}
		if err != nil {
			return
		}
		r, err := Fit(points, Options{})
		if err != nil {
			return
		}
		for _, c := range r.Coefficients {
			if math.IsNaN(c.Value) || math.IsInf(c.StdErr, 0) || math.IsNaN(c.StdErr) {
				t.Errorf("%+v", c)
			}
		}
	})
}

// A file without an end, such as a line of a gigabyte, is read to a limit.
func TestReadTooLong(t *testing.T) {
	for _, head := range []string{"time,", header + "832,", header + "832,\""} {
		_, err := Read(io.MultiReader(strings.NewReader(head), digits{}), "a.csv")
		if want := "a.csv: over 33554432 bytes, want at most that of test points"; err == nil || err.Error() != want {
			t.Errorf("%v, want %s", err, want)
		}
	}
}

type digits struct{}

func (digits) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '7'
	}
	return len(p), nil
}
