package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/ipc"

	"stillrow/ingest/weather"
)

// traced gives the number on the last line of a trace that begins with name.
func traced(t *testing.T, text, name string) float64 {
	t.Helper()
	v := math.NaN()
	for _, line := range strings.Split(text, "\n") {
		if rest, ok := strings.CutPrefix(line, "  "+name+"  "); ok {
			v, _ = strconv.ParseFloat(strings.Fields(rest)[0], 64)
		}
	}
	if math.IsNaN(v) {
		t.Fatalf("no %q in\n%s", name, text)
	}
	return v
}

// The steps of a traced hour are those of the design asked for, and its energy
// adds up to the digits printed.
func TestTrace(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	for _, tt := range []struct{ design, describes string }{
		{`{"mirror_length_m":0,"receiver_width_m":1.3}`, "receiver 1.3 m wide, no mirror"},
		{`{"mirror_length_m":1.2}`, "receiver 1 m wide, mirror 1.2 m at 70°"},
	} {
		// Hour 4284 is noon at the end of June.
		r := stillrow(t, "trace", "--weather", good, "--study", study, "--hour", "4284", "--outlet", "60", "--design", tt.design)
		if r.status != exitDone || !strings.Contains(r.stdout, tt.describes+"; outlet 60 °C, inlet 30 °C") || !strings.Contains(r.stdout, "06-28T12:00") {
			t.Fatalf("status %d: %s%s", r.status, r.stderr, r.stdout)
		}
		got := func(name string) float64 { return traced(t, r.stdout, name) }
		in, out := got("absorbed"), got("lost")+got("stored")+got("heat delivered")
		if in < 100 || math.Abs(in-out) > 0.02 {
			t.Errorf("%s: %g Wh/m² absorbed, %g accounted for", tt.describes, in, out)
		}
		if in != got("absorbed S") || got("GHI") != math.Round(got("GHI")) {
			t.Errorf("%s: an hour of %g W/m² absorbs %g Wh/m²", tt.describes, got("absorbed S"), in)
		}
		if heat, run := got("heat delivered"), got("heat in the run"); math.Abs(heat-run) > 0.01*heat {
			t.Errorf("%s: %g Wh/m² in double precision, %g in the run", tt.describes, heat, run)
		}
	}
	night := stillrow(t, "trace", "--weather", good, "--study", study, "--hour", "0")
	if night.status != exitDone || !strings.Contains(night.stdout, "the sun is down all hour") {
		t.Errorf("at midnight: status %d: %s%s", night.status, night.stderr, night.stdout)
	}
}

// The hours that --hourly writes add up to the year that --json gives.
func TestHourly(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	study := write(t, filepath.Join(dir, "study.toml"), testStudy)
	file := filepath.Join(dir, "hours.csv")
	r := stillrow(t, "site", "--quiet", "--weather", good, "--study", study, "--design", `{"mirror_tilt_deg":80,"mirror_length_m":1}`, "--json", "--hourly", file, "--outlet", "60")
	year := decode[struct{ Results []heatResult }](t, r)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil || len(rows) != weather.Hours+1 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	column := make(map[string]int)
	for i, name := range rows[0] {
		column[name] = i
	}
	var heat float64
	for _, row := range rows[1:] {
		q, err := strconv.ParseFloat(row[column["heat_wh_m2"]], 64)
		if err != nil {
			t.Fatal(err)
		}
		heat += q / 1000
	}
	for _, res := range year.Results {
		if res.Outlet != 60 {
			continue
		}
		var want float64
		for _, q := range res.Months {
			want += q
		}
		// The hours carry exact optics, the year tabulated ones.
		if want < 10 || math.Abs(heat-want) > 0.005*want {
			t.Errorf("%g kWh/m² by the hours, %g by the months", heat, want)
		}
	}
}

// The template of test points can be fitted as it stands, and what the fit
// prints for a study is one.
func TestFit(t *testing.T) {
	dir := t.TempDir()
	points := write(t, filepath.Join(dir, "points.csv"), stillrow(t, "example", "fit").stdout)
	r := stillrow(t, "fit", points)
	_, block, ok := strings.Cut(r.stdout, "[receiver]")
	if r.status != exitDone || !ok {
		t.Fatalf("status %d: %s%s", r.status, r.stderr, r.stdout)
	}
	study := write(t, filepath.Join(dir, "fitted.toml"), "[designs]\nmirror_length_m = 1\n[receiver]"+block+"c5 = 5000.0\n")
	if r := stillrow(t, "cost", "--heat", "300", "--study", study); r.status != exitDone {
		t.Errorf("the fitted receiver is refused: %s", r.stderr)
	}
	held := decode[struct {
		Held []struct {
			Name  string
			Value float64
		}
		Coefficients []struct{ Name string }
	}](t, stillrow(t, "fit", points, "--hold", "b0=0.1", "--json"))
	if len(held.Held) != 1 || held.Held[0].Name != "b0" || held.Held[0].Value != 0.1 || len(held.Coefficients) == 0 {
		t.Errorf("held %+v", held)
	}
	if r := stillrow(t, "fit", write(t, filepath.Join(dir, "bad.csv"), "time,beam_w_m2\n1,x\n")); r.status != exitFailed || !strings.Contains(r.stderr, "bad.csv:1:") {
		t.Errorf("bad points: status %d: %s", r.status, r.stderr)
	}
}

// The Arrow stream holds a record batch for each site of the table.
func TestArrowStream(t *testing.T) {
	dir := t.TempDir()
	good := write(t, filepath.Join(dir, "good.epw"), epwYear(nil))
	out := filepath.Join(dir, "w")
	if r := stillrow(t, "ingest", "--quiet", "--arrow", "--out", out, good); r.status != exitDone || !strings.Contains(r.stdout, "\n1 site, 0 set aside\n") {
		t.Fatalf("status %d: %s%s", r.status, r.stderr, r.stdout)
	}
	f, err := os.Open(filepath.Join(out, arrowFile))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	stream, err := ipc.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Release()
	batches := 0
	for stream.Next() {
		if n := stream.Record().NumRows(); n != weather.Hours {
			t.Errorf("%d rows, want %d", n, weather.Hours)
		}
		batches++
	}
	if batches != 1 || stream.Err() != nil {
		t.Errorf("%d record batches, %v", batches, stream.Err())
	}
	var record runRecord
	if err := json.Unmarshal([]byte(files(t, out)["run.json"]), &record); err != nil || len(record.Files) != 3 {
		t.Errorf("run.json lists %v, %v", record.Files, err)
	}
}
