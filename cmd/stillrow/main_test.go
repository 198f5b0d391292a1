package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
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

// Bad weather files: each is set aside with one line that names the file, and
// the line and field where there is one; alone it fails the run, beside a good
// one the good one is ranked and the status says so.
func TestBadWeather(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	year := epwYear(nil)
	lines := strings.SplitAfter(year, "\n")
	for _, tt := range []struct {
		name, text string
		want       []string // parts of the reason
	}{
		{"empty.epw", "", []string{"empty"}},
		{"binary.epw", "\x7fELF\x00\x01\x02" + strings.Repeat("\x00\xff", 500), nil},
		{"truncated.epw", strings.Join(lines[:4000], ""), []string{"incomplete"}},
		{"columns.epw", strings.Join(lines[:100], "") + "2010,1,5,1,0\n" + strings.Join(lines[101:], ""), []string{":101:"}},
		{"no-air.epw", epwYear(func(_ int, f []string) { f[6] = "99.9" }), []string{"air_temperature_c"}},
		{"no-sun.epw", epwYear(func(_ int, f []string) { f[13], f[14], f[15] = "9999", "9999", "9999" }), nil},
		{"latitude.epw", strings.Replace(year, "35.0,0.0,0.0", "135.0,0.0,0.0", 1), []string{":1:", "135"}},
	} {
		bad := write(t, filepath.Join(dir, tt.name), tt.text)
		out := filepath.Join(dir, "out-"+tt.name)
		r := stillrow(t, "screen", "--quiet", "--study", study, "--out", out, bad)
		if r.status != exitFailed {
			t.Errorf("%s alone: status %d, want %d\n%s", tt.name, r.status, exitFailed, r.stderr)
		}
		for _, part := range append(tt.want, tt.name) {
			if !strings.Contains(r.stderr, part) {
				t.Errorf("%s: the message lacks %q: %s", tt.name, part, r.stderr)
			}
		}
		if left := files(t, out); len(left) != 0 {
			t.Errorf("%s: a failed run left files: %v", tt.name, left)
		}
		r = stillrow(t, "screen", "--quiet", "--study", study, "--out", out, good, bad)
		if r.status != exitSetAside || !strings.Contains(r.stderr, tt.name) || !strings.Contains(r.stdout, "1 site, ") {
			t.Errorf("%s beside a good file: status %d\n%s\n%s", tt.name, r.status, r.stderr, r.stdout)
		}
		if n := strings.Count(strings.TrimSpace(r.stderr), "\n"); n != 0 {
			t.Errorf("%s: %d lines on stderr, want one: %s", tt.name, n+1, r.stderr)
		}
		var record runRecord
		if err := json.Unmarshal([]byte(files(t, out)["run.json"]), &record); err != nil || record.Counts.SetAside != 1 {
			t.Errorf("%s: run.json: %v, %+v", tt.name, err, record.Counts)
		}
	}
}

// Letters and impossible values cost a cell, not the file; the record says so.
func TestBadCells(t *testing.T) {
	dir := t.TempDir()
	path := write(t, filepath.Join(dir, "cells.epw"), epwYear(func(h int, f []string) {
		switch h {
		case 4380: // noon at the end of June
			f[13] = "abc"
		case 4404:
			f[14] = "5000"
		}
	}))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	out := filepath.Join(dir, "out")
	if r := stillrow(t, "screen", "--quiet", "--study", study, "--out", out, path); r.status != exitDone {
		t.Fatalf("status %d: %s", r.status, r.stderr)
	}
	text := files(t, out)["run.json"]
	for _, part := range []string{"cells.epw:4389", "abc", "5000"} {
		if !strings.Contains(text, part) {
			t.Errorf("run.json does not tell of %q", part)
		}
	}
}

// Wrong words and studies: status 2 and one line for each fault, which names
// the file, line, column and key.
func TestBadWordsAndStudies(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	edit := func(old, new string) string {
		if !strings.Contains(testStudy, old) {
			t.Fatalf("the test study has no %q", old)
		}
		return strings.Replace(testStudy, old, new, 1)
	}
	for _, tt := range []struct {
		name, study string
		want        []string
	}{
		{"unknown key", edit("c1 = 7.0", "c1 = 7.0\nc9 = 1"), []string{":8:", "c9"}},
		{"two unknown keys", edit("[designs]", "colour = 1\n[designs]\nshape = 2"), []string{"colour", "shape"}},
		{"negative mirror", edit("[0, 1]", "[0, -1]"), []string{":14:", "mirror_length_m", "-1"}},
		{"tilt 200", edit("[70, 110]", "200"), []string{":15:", "mirror_tilt_deg", "200"}},
		{"no designs", edit("mirror_length_m = [0, 1]\nmirror_tilt_deg = [70, 110]\n", ""), []string{"no candidate designs"}},
		{"empty list", edit("[0, 1]", "[]"), []string{"no candidate designs"}},
		{"no table", strings.Replace(edit("mirror_length_m = [0, 1]\nmirror_tilt_deg = [70, 110]\n", ""), "[designs]\n", "", 1), []string{"no candidate designs"}},
		{"outlet below inlet", edit("inlet_c = 30", "inlet_c = 50"), []string{":18:", "inlet_c", "50"}},
		{"too many", edit("[70, 110]", "{ from = 1, to = 179, step = 0.0001 }"), []string{"mirror_tilt_deg", "1000000"}},
		{"infinite", edit("c1 = 7.0", "c1 = inf"), []string{":7:", "c1"}},
		{"ground without a pitch", testStudy + "[[cost.item]]\nname=\"land\"\nunit=\"ground_m2\"\nprice=1\nlife_years=20\n", []string{"cost.item[0].unit", "row_pitch_m"}},
		{"not TOML", "[study\n", []string{":1:"}},
		{"empty", "", []string{"empty"}},
	} {
		path := write(t, filepath.Join(dir, "bad.toml"), tt.study)
		r := stillrow(t, "screen", "--quiet", "--study", path, "--out", filepath.Join(dir, "out"), good)
		if r.status != exitUsage {
			t.Errorf("%s: status %d, want %d: %s", tt.name, r.status, exitUsage, r.stderr)
		}
		for _, part := range append(tt.want, "bad.toml") {
			if !strings.Contains(r.stderr, part) {
				t.Errorf("%s: the message lacks %q: %s", tt.name, part, r.stderr)
			}
		}
	}
	for _, args := range [][]string{
		{"sun", "--at", "95,10", "--time", "2026-06-21T12:00:00Z"},
		{"sun", "--at", "x", "--time", "2026-06-21T12:00:00Z"},
		{"sun", "--at", "35,10", "--time", "noon"},
		{"site", "--at", "95,10"},
		{"site", "--at", "35,-42", "--id", "x"},
		{"site", "--weather", filepath.Join(dir, "absent.epw")},
		{"optics", "--profile", "a,b"},
		{"optics", "--profile", "20", "--design", `{"mirror_tilt_deg":200}`},
		{"optics", "--profile", "20", "--design", `{"colour":1}`},
		{"cost", "--heat", "-5"},
		{"trace", "--at", "35,-42", "--hour", "9000"},
		{"screen", "--study", filepath.Join(dir, "absent.toml")},
		{"nothing"}, {"screen", "--nothing"},
	} {
		r := stillrow(t, args...)
		if r.status != exitUsage || strings.Count(strings.TrimSpace(r.stderr), "\n") != 0 || r.stderr == "" || r.stdout != "" {
			t.Errorf("%v: status %d, want %d and one line:\n%s%s", args, r.status, exitUsage, r.stderr, r.stdout)
		}
	}
	if r := stillrow(t, "screen", "--out", filepath.Join(dir, "out2"), filepath.Join(dir, "absent.epw")); r.status != exitFailed || !strings.Contains(r.stderr, "absent.epw") {
		t.Errorf("missing weather file: status %d: %s", r.status, r.stderr)
	}
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

// keys gives the keys of a JSON object, sorted.
func keys(t *testing.T, text string, path ...string) []string {
	t.Helper()
	var v any
	if err := json.Unmarshal([]byte(text), &v); err != nil {
		t.Fatalf("%v in %s", err, text)
	}
	for _, p := range path {
		if p == "0" {
			v = v.([]any)[0]
		} else {
			v = v.(map[string]any)[p]
		}
	}
	var list []string
	for k := range v.(map[string]any) {
		list = append(list, k)
	}
	slices.Sort(list)
	return list
}

func TestJSONForms(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	expect := func(name, text string, want string, path ...string) {
		t.Helper()
		got := strings.Join(keys(t, text, path...), " ")
		for _, k := range strings.Fields(want) {
			if !slices.Contains(strings.Fields(got), k) {
				t.Errorf("%s %v: no %s among %s", name, path, k, got)
			}
		}
	}
	r := stillrow(t, "optics", "--study", study, "--profile", "30", "--json")
	expect("optics", r.stdout, "design rows d_sky d_gnd")
	expect("optics", r.stdout, "profile_deg f_dir f_mir f_spill path_m reflected_deg", "rows", "0")
	expect("optics", r.stdout, "receiver_width_m mirror_length_m mirror_tilt_deg setback_m raise_m row_azimuth_deg", "design")
	r = stillrow(t, "cost", "--study", study, "--heat", "400", "--json")
	expect("cost", r.stdout, "lcoh_per_kwh pv_cost pv_heat_kwh cash_flow")
	expect("cost", r.stdout, "year cost heat_kwh", "cash_flow", "0")
	r = stillrow(t, "sun", "--at", "10,10", "--time", "2026-06-21T12:00:00Z", "--json")
	expect("sun", r.stdout, "altitude_deg azimuth_deg profile_deg")
	r = stillrow(t, "site", "--weather", good, "--study", study, "--json", "--all-designs")
	if r.status != exitDone {
		t.Fatal(r.stderr)
	}
	expect("site", r.stdout, "site results")
	expect("site", r.stdout, "design outlet_c use heat_kwh_m2 month_kwh_m2 lcoh_per_kwh gas_heat_per_kwh gas_ratio cautions", "results", "0")
	var all struct {
		Results []struct {
			Design map[string]float64 `json:"design"`
			Outlet float64            `json:"outlet_c"`
			Use    string             `json:"use"`
			Heat   float64            `json:"heat_kwh_m2"`
			Months []float64          `json:"month_kwh_m2"`
			LCOH   *float64           `json:"lcoh_per_kwh"`
		} `json:"results"`
	}
	if err := json.Unmarshal([]byte(r.stdout), &all); err != nil {
		t.Fatal(err)
	}
	if len(all.Results) != 4*2*2 {
		t.Fatalf("%d results, want 4 designs × 2 outlets × 2 uses", len(all.Results))
	}
	for i, res := range all.Results {
		sum := 0.0
		for m, q := range res.Months {
			if res.Use == "summer" && m >= 5 && m <= 7 {
				sum += q
			}
		}
		if res.Use == "summer" && math.Abs(sum-res.Heat) > 1e-6*sum {
			t.Errorf("result %d: heat %g, its months of the use add up to %g", i, res.Heat, sum)
		}
		if len(res.Months) != 12 || (res.LCOH == nil) != (res.Heat == 0) {
			t.Errorf("result %d: %+v", i, res)
		}
	}
	// Candidates are numbered through the product, the last name fastest.
	if d := all.Results[1].Design; d["mirror_length_m"] != 0 || d["mirror_tilt_deg"] != 110 {
		t.Errorf("second candidate %v, want length 0, tilt 110", d)
	}
}

// No heat in the months of a use: no cost, no ratio, no design.
func TestNoHeatIsNull(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), strings.Replace(testStudy, "c1 = 7.0", "c1 = 70.0", 1))
	r := stillrow(t, "site", "--weather", good, "--study", study, "--json")
	for _, part := range []string{`"design": null`, `"lcoh_per_kwh": null`, `"gas_ratio": null`, `"heat_kwh_m2": 0`} {
		if r.status != exitDone || !strings.Contains(r.stdout, part) {
			t.Errorf("status %d, no %s in %s%s", r.status, part, r.stderr, r.stdout)
		}
	}
}

// The same inputs and study give the same bytes, whatever the workers, in one
// go or by stages, in every file but timing.json.
func TestSameBytes(t *testing.T) {
	dir := t.TempDir()
	stations := filepath.Join(dir, "stations")
	if err := os.Mkdir(stations, 0o755); err != nil {
		t.Fatal(err)
	}
	for i, shift := range []string{"35.0,0.0,0.0", "38.0,0.0,0.0", "41.0,0.0,0.0"} {
		write(t, filepath.Join(stations, fmt.Sprintf("s%d.epw", i)), strings.Replace(epwYear(nil), "35.0,0.0,0.0", shift, 1))
	}
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	out := func(name string) string { return filepath.Join(dir, name) }
	screen := func(name string, more ...string) map[string]string {
		args := append([]string{"screen", "--quiet", "--study", study, "--out", out(name)}, more...)
		if r := stillrow(t, append(args, stations)...); r.status != exitDone {
			t.Fatalf("%v: %s", args, r.stderr)
		}
		f := files(t, out(name))
		delete(f, "timing.json")
		return f
	}
	one, two := screen("one", "--workers", "1"), screen("two", "--workers", "2")
	for name, text := range one {
		if two[name] != text {
			t.Errorf("%s differs between 1 and 2 workers", name)
		}
	}
	if len(one) != len(two) || len(one) < 9 {
		t.Errorf("%d and %d files", len(one), len(two))
	}
	for name := range one {
		if strings.HasSuffix(name, ".part") {
			t.Errorf("left over: %s", name)
		}
	}
	for _, args := range [][]string{
		{"ingest", "--quiet", "--out", out("w"), stations},
		{"simulate", "--quiet", "--weather", out("w"), "--study", study, "--out", out("h")},
		{"rank", "--quiet", "--heat", out("h"), "--study", study, "--out", out("r")},
	} {
		if r := stillrow(t, args...); r.status != exitDone {
			t.Fatalf("%v: %s", args, r.stderr)
		}
	}
	staged := files(t, out("r"))
	for name, text := range one {
		if strings.HasPrefix(name, "map-") || name == "ranking.parquet" || name == "bands.csv" {
			if staged[name] != text {
				t.Errorf("%s differs between screen and the three stages", name)
			}
		}
	}
	kept := screen("one", "--keep-heat") // over the earlier run
	for _, name := range []string{"heat/heat.parquet", "heat/designs.parquet", "heat/sites.parquet"} {
		if kept[name] == "" {
			t.Errorf("--keep-heat wrote no %s", name)
		}
	}
	// Another study's maps do not stay beside the new ones.
	write(t, study, strings.Replace(testStudy, `name = "summer"`, `name = "harvest"`, 1))
	again := screen("one")
	if again["map-summer-40.geojson"] != "" || again["map-harvest-40.geojson"] == "" {
		t.Error("the map of a use that is gone is still there")
	}
}

// An interrupted run leaves no half file and what was there before.
func TestInterrupted(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	out := filepath.Join(dir, "out")
	if r := stillrow(t, "screen", "--quiet", "--study", study, "--out", out, good); r.status != exitDone {
		t.Fatal(r.stderr)
	}
	before := files(t, out)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var stdout, stderr bytes.Buffer
	status := run(ctx, []string{"screen", "--quiet", "--study", study, "--out", out, good}, &stdout, &stderr)
	if status != exitInterrupted {
		t.Errorf("status %d, want %d: %s", status, exitInterrupted, stderr.String())
	}
	after := files(t, out)
	for name, text := range before {
		if after[name] != text {
			t.Errorf("%s did not survive an interrupted run", name)
		}
	}
	if len(after) != len(before) {
		t.Errorf("%d files before, %d after", len(before), len(after))
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
