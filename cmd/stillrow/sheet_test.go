package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"stillrow/simulate/collector"
)

// The sheet of a place of the demo answers what a builder asks, and both files
// are the same when written again.
func TestSheetOfTheDemo(t *testing.T) {
	dir := t.TempDir()
	args := []string{"site", "--at", "36.5,-42", "--out", dir, "--use", "cooling", "--outlet", "60", "--json", "--sheet"}
	r := stillrow(t, append(args, filepath.Join(dir, "one.html"))...)
	if r.status != exitDone || !strings.Contains(r.stderr, "one.html, ") || !strings.Contains(r.stderr, "cooling at 60 °C") {
		t.Fatalf("status %d: %s", r.status, r.stderr)
	}
	if r := stillrow(t, append(args, filepath.Join(dir, "two.html"))...); r.status != exitDone {
		t.Fatal(r.stderr)
	}
	got := files(t, dir)
	if len(got) != 4 || got["one.html"] != got["two.html"] || got["one.png"] != got["two.png"] {
		t.Errorf("%d files, the same: %v and %v", len(got), got["one.html"] == got["two.html"], got["one.png"] == got["two.png"])
	}
	if _, err := png.Decode(strings.NewReader(got["one.png"])); err != nil {
		t.Error(err)
	}
	page := got["one.html"]
	for _, want := range []string{
		"heat at 60 °C for cooling", "Beats gas here", "Best design found: mirror ", "on the north side", "To cut for 40 m of row", "40.40", "clear film on the water", "To buy for 40 m of row",
		"first cost of the row", "chance to beat gas", "P10–P90", "The pump must give this row", "from 50 to 60 °C", "Scald: water of 60 °C", "licensed practice decide",
		"mirror.reflectance 0.82", "book halvane.toml", "next best: ", "reflects 82 % when clean", "Hygiene: legionella", "Glare: ", "lasts, years", "kWh a year reach the user",
	} {
		if !strings.Contains(strings.ReplaceAll(page, "\u00a0", " "), want) {
			t.Errorf("the sheet lacks %q", want)
		}
	}
	// The costs on the page are those of the results.
	var site struct {
		Results []struct {
			Use    string
			Outlet float64 `json:"outlet_c"`
			LCOH   float64 `json:"lcoh_per_kwh"`
			Gas    float64 `json:"gas_heat_per_kwh"`
			Saving float64 `json:"saving_per_m2_year"`
		}
	}
	if err := json.Unmarshal([]byte(r.stdout), &site); err != nil {
		t.Fatal(err)
	}
	for _, res := range site.Results {
		if want := costOrNone(&res.LCOH) + " EUR/kWh, heat from gas " + costOrNone(&res.Gas); res.Use == "cooling" && res.Outlet == 60 && !strings.Contains(page, want) {
			t.Errorf("the sheet lacks %q", want)
		}
		// Saving and difference of cost together say the heat, over 48 m².
		if want := fmt.Sprintf("%.0f kWh a year reach the user", 48*res.Saving/(res.Gas-res.LCOH)); res.Use == "cooling" && res.Outlet == 60 && !strings.Contains(page, want) {
			t.Errorf("the sheet lacks %q", want)
		}
	}
	if strings.Contains(page, "frost_lock_c") {
		t.Error("a study's key among the words for a builder")
	}
}

// A study whose candidates all have a mirror is compared with its receiver alone
// all the same; films that are not named are not made up.
func TestSheetWithoutBareCandidate(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	both := write(t, filepath.Join(dir, "both.toml"), testStudy)
	mirrors := write(t, filepath.Join(dir, "mirrors.toml"), strings.Replace(testStudy, "[0, 1]", "1", 1))
	bars := func(study string) string {
		file := filepath.Join(dir, filepath.Base(study)+".html")
		r := stillrow(t, "site", "--quiet", "--weather", good, "--study", study, "--design", `{"mirror_length_m":1,"mirror_tilt_deg":70}`, "--outlet", "60", "--row-m", "25", "--sheet", file)
		if r.status != exitDone || r.stderr != "" {
			t.Fatalf("status %d: %s", r.status, r.stderr)
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(string(text), "clear film, each layer") || !strings.Contains(string(text), "25.25") {
			t.Errorf("%s: no cut list of 25 m for unnamed films", study)
		}
		_, text2, _ := strings.Cut(string(text), "Bars of this design")
		label, _, _ := strings.Cut(text2, `"`)
		return label
	}
	one, two := bars(both), bars(mirrors)
	if one != two || !strings.Contains(one, " with the mirror, ") || strings.Contains(one, ", 0 without") {
		t.Errorf("%q\n%q", one, two)
	}
}

// --hourly obeys --use and --outlet as --sheet does.
func TestHourlyOfAUse(t *testing.T) {
	dir := t.TempDir()
	hours := func(use string) string {
		file := filepath.Join(dir, use+".csv")
		r := stillrow(t, "site", "--at", "36.5,-42", "--out", dir, "--use", use, "--outlet", "60", "--hourly", file)
		if r.status != exitDone {
			t.Fatal(r.stderr)
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if rows, err := csv.NewReader(strings.NewReader(string(text))).ReadAll(); err != nil || len(rows) != 8761 {
			t.Errorf("%d rows, %v", len(rows), err)
		}
		_, note, _ := strings.Cut(r.stderr, use+".csv: ")
		return note
	}
	// Summer and winter have different best tilts.
	if a, b := hours("cooling"), hours("greenhouse"); a == b || a == "" || b == "" {
		t.Errorf("cooling %q, greenhouse %q", a, b)
	}
}

// The flow on the sheet carries the greatest hour of the use's months that
// --hourly writes, and names the year's where that is greater.
func TestFlowOfTheBestHour(t *testing.T) {
	dir := t.TempDir()
	page, hours := filepath.Join(dir, "page.html"), filepath.Join(dir, "hours.csv")
	for _, tt := range []struct {
		use    string
		months string // two digits each
	}{{"cooling", "05 06 07 08 09"}, {"greenhouse", "11 12 01 02 03"}} {
		r := stillrow(t, "site", "--at", "36.5,-42", "--out", dir, "--use", tt.use, "--outlet", "60", "--hourly", hours, "--row-m", "10", "--sheet", page)
		if r.status != exitDone {
			t.Fatal(r.stderr)
		}
		got := files(t, dir)
		rows, err := csv.NewReader(strings.NewReader(got["hours.csv"])).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		type best struct {
			heat float64
			hour string
		}
		var within, year best
		for _, row := range rows[1:] {
			q, err := strconv.ParseFloat(row[len(row)-1], 64)
			if err != nil {
				continue
			}
			if q > year.heat {
				year = best{q, row[0]}
			}
			if q > within.heat && strings.Contains(tt.months, row[0][:2]) {
				within = best{q, row[0]}
			}
		}
		// 10 m of row 1.2 m wide; 60 °C from 50 °C; 4182 J/kgK.
		flow := func(b best) (string, string) {
			clock, err := time.Parse("01-02T15:04", b.hour)
			if err != nil || b.heat < 100 {
				t.Fatalf("%g Wh/m² at %q", b.heat, b.hour)
			}
			return fmt.Sprintf("%.0f kg/h", b.heat*3600*12/(4182*10)), clock.Format("15:04 on 2 January")
		}
		kg, at := flow(within)
		if !strings.Contains(got["page.html"], "must give this row "+kg) || !strings.Contains(got["page.html"], "from "+at+" local standard time") {
			t.Errorf("%s: the sheet lacks %s or %s", tt.use, kg, at)
		}
		kg, at = flow(year)
		if want := "If it runs all year, the best hour is from " + at + ": " + kg; strings.Contains(got["page.html"], want) != (year.heat > within.heat) {
			t.Errorf("%s: %q, %v against %v", tt.use, want, year, within)
		}
		if tt.use == "greenhouse" && year.heat <= within.heat {
			t.Error("the best hour of the year lies in winter: the case shows nothing")
		}
	}
}

// Faults of the words name what there is; where nothing can be built no file
// appears.
func TestSheetRefusals(t *testing.T) {
	dir := t.TempDir()
	hot := write(t, filepath.Join(dir, "hot.toml"), "[designs]\nmirror_length_m = 1\n[heat]\noutlet_c = 97\n[receiver]\nsoftening_clear_c = 60.0\n[[use]]\nname = \"steam\"\nmonths = [6]\n")
	page := filepath.Join(dir, "page.html")
	for _, tt := range []struct {
		status int
		says   string
		args   []string
	}{
		{exitUsage, "--use=heat: the study has the uses cooling, greenhouse, wash water", []string{"--sheet", page, "--use", "heat"}},
		{exitUsage, "--outlet=61: the study has the outlets [35 45 60 75]", []string{"--sheet", page, "--outlet", "61"}},
		{exitUsage, "--use goes with", []string{"--use", "cooling"}},
		{exitUsage, "--outlet goes with", []string{"--outlet", "60"}},
		{exitUsage, "--row-m goes with", []string{"--row-m", "10"}},
		{exitUsage, "want 1 to 1000 m", []string{"--sheet", page, "--row-m", "0.5"}},
		{exitUsage, "want 1 to 1000 m", []string{"--sheet", page, "--row-m", "NaN"}},
		{exitUsage, "ends in .html", []string{"--sheet", filepath.Join(dir, "page.pdf")}},
		{exitUsage, "ends in .html", []string{"--sheet", filepath.Join(dir, ".html")}},
		{exitFailed, "--sheet: no design to build here: steam at 97 °C: ", []string{"--sheet", page, "--study", hot}},
	} {
		r := stillrow(t, append([]string{"site", "--at", "36.5,-42", "--out", dir}, tt.args...)...)
		if r.status != tt.status || !strings.Contains(r.stderr, tt.says) {
			t.Errorf("%v: status %d: %s", tt.args, r.status, r.stderr)
		}
	}
	if got := files(t, dir); len(got) != 1 {
		t.Errorf("%d files beside the study", len(got)-1)
	}
}

// Of several cautions on one topic the heaviest stands, the general one last;
// of none, none.
func TestWorstCautions(t *testing.T) {
	got := worst([]caution{{"", "general", 0}, {"Wind", "breeze", 1}, {"Wind", "gale", 9}, {"Fire", "fire", 0}})
	text := ""
	for _, c := range got {
		text += c.text + ";"
	}
	if text != "fire;gale;general;" || worst(nil) != nil {
		t.Errorf("%s %v", text, worst(nil))
	}
}

// A builder reads dangers to life first and no key of a study; hygiene and, with
// a mirror, glare are told whatever the hours.
func TestCautionsForABuilder(t *testing.T) {
	r := &siteReport{}
	res := &siteResult{Design: &collector.Design{MirrorLength: 1}, cautions: []caution{
		{"Frost, freezing", "set a_key", 20}, {"", "general", 0}, {"Dry receiver", "Dry.", 99}, {"Scald", "Scald.", 60},
	}}
	topics := func() (list string) {
		for _, c := range r.buildCautions(res) {
			first, _, _ := strings.Cut(c, " ")
			list += strings.TrimRight(first, ":.") + ";"
		}
		return list
	}
	if got := topics(); got != "Scald;Hygiene;Glare;Dry;Frost;general;" {
		t.Error(got)
	}
	text := strings.Join(r.buildCautions(res), " ")
	if strings.Contains(text, "a_key") || !strings.Contains(text, "about 20 h") || !strings.Contains(text, "left dry all year") {
		t.Error(text)
	}
	res.Design.MirrorLength = 0
	if got := topics(); strings.Contains(got, "Glare") {
		t.Errorf("no mirror: %s", got)
	}
}
