package main

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A done is what a command line came to.
type done struct {
	status         int
	stdout, stderr string
}

func stillrow(t *testing.T, args ...string) done {
	t.Helper()
	var out, err bytes.Buffer
	status := run(context.Background(), args, &out, &err)
	return done{status, out.String(), err.String()}
}

// epwYear is a year of invented weather as an EPW file: a clear sky over
// 35° N 0° E whose GHI, DNI and DHI close; change may spoil a row, given its
// hour of the year and its 35 fields.
func epwYear(change func(h int, fields []string)) string {
	var b strings.Builder
	b.WriteString("LOCATION,Testholm,-,HLV,invented,999999,35.0,0.0,0.0,100.0\n")
	for _, l := range []string{"DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0", "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,", "COMMENTS 2,", "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"} {
		b.WriteString(l + "\n")
	}
	h := 0
	for m, days := range []int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31} {
		for d := 1; d <= days; d++ {
			for clock := 1; clock <= 24; clock++ {
				dec := 23.45 * math.Pi / 180 * math.Sin(2*math.Pi*float64(284+h/24+1)/365)
				w := (float64(clock) - 12.5) * math.Pi / 12
				up := math.Sin(35*math.Pi/180)*math.Sin(dec) + math.Cos(35*math.Pi/180)*math.Cos(dec)*math.Cos(w)
				ghi, dni, dhi := 0.0, 0.0, 0.0
				if up > 0.05 {
					dni = 900 * math.Exp(-0.1/up)
					dhi = 80 * math.Sqrt(up)
					ghi = dni*up + dhi
				}
				air := 18 + 8*math.Sin(2*math.Pi*(float64(h)/8760-0.3)) + 5*math.Sin(2*math.Pi*float64(clock-9)/24)
				f := make([]string, 35)
				for i := range f {
					f[i] = "0"
				}
				copy(f, []string{"2010", fmt.Sprint(m + 1), fmt.Sprint(d), fmt.Sprint(clock), "0", "?",
					fmt.Sprintf("%.1f", air), fmt.Sprintf("%.1f", air-8), "55", "100000", "0", "0",
					fmt.Sprintf("%.0f", 290+3*air), fmt.Sprintf("%.0f", ghi), fmt.Sprintf("%.0f", dni), fmt.Sprintf("%.0f", dhi)})
				f[21] = fmt.Sprintf("%.1f", 2+math.Mod(float64(h)*0.37, 3))
				f[30] = "0"
				if change != nil {
					change(h, f)
				}
				b.WriteString(strings.Join(f, ",") + "\n")
				h++
			}
		}
	}
	return b.String()
}

const testStudy = `[study]
name = "test"
currency = "EUR"
[receiver]
eta0b = 0.85
iam = { b0 = 0.1 }
c1 = 7.0
c2 = 0.02
c3 = 1.0
c4 = 0.5
c5 = 5000.0
water_depth_m = 0.04
[designs]
mirror_length_m = [0, 1]
mirror_tilt_deg = [70, 110]
[heat]
outlet_c = [40, 60]
inlet_c = 30
[[use]]
name = "summer"
months = [6, 7, 8]
[[use]]
name = "winter"
season = "heating"
threshold = 10
`

func write(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// files lists a folder with the content of everything in it.
func files(t *testing.T, dir string) map[string]string {
	t.Helper()
	list := make(map[string]string)
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		list[filepath.ToSlash(rel)] = string(text)
		return err
	})
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return list
}

// Negative and listed values after a flag work with and without the sign.
func TestValuesAfterFlags(t *testing.T) {
	one := stillrow(t, "sun", "--json", "--at", "-33.9,151.2", "--time", "2026-06-21T02:00:00Z")
	two := stillrow(t, "sun", "--json", "--at=-33.9,151.2", "--time=2026-06-21T02:00:00Z")
	if one.status != exitDone || one != two {
		t.Errorf("%+v\n%+v", one, two)
	}
	if !strings.Contains(one.stdout, `"azimuth_deg": 359`) { // the sun stands in the north
		t.Errorf("sun over Sydney at noon: %s", one.stdout)
	}
	one = stillrow(t, "optics", "--json", "--profile", "20,30", "--design", `{"mirror_length_m":1}`)
	two = stillrow(t, "optics", "--json", "--profile=20,30", `--design={"mirror_length_m":1}`)
	if one.status != exitDone || one != two || strings.Count(one.stdout, "profile_deg") != 2 {
		t.Errorf("%+v\n%+v", one, two)
	}
}

func TestHelpHasAnExample(t *testing.T) {
	for _, c := range []string{"screen", "ingest", "simulate", "rank", "site", "optics", "sun", "cost", "fit", "trace", "example"} {
		r := stillrow(t, c, "--help")
		if r.status != exitDone || !strings.Contains(r.stdout, "Example: stillrow "+c) {
			t.Errorf("%s --help: status %d, no worked example:\n%s", c, r.status, r.stdout)
		}
	}
	if r := stillrow(t, "--version"); r.status != exitDone || !strings.Contains(r.stdout, version) {
		t.Errorf("--version: %+v", r)
	}
	// What example study prints is a study.
	r := stillrow(t, "example", "study")
	path := write(t, filepath.Join(t.TempDir(), "example.toml"), r.stdout)
	if r := stillrow(t, "cost", "--heat", "100", "--study", path); r.status != exitDone {
		t.Errorf("the example study is refused: %s", r.stderr)
	}
}
