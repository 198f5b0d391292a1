package fit

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// golden compares with a file of testdata; on a mismatch the .got beside it
// shows what came.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != got {
		os.WriteFile(path+".got", []byte(got), 0o644)
		t.Errorf("%s differs, see %s.got", path, path)
	}
}

func fitTemplate(t *testing.T) *Result {
	t.Helper()
	points, err := Read(strings.NewReader(Template()), "template.csv")
	if err != nil {
		t.Fatal(err)
	}
	return mustFit(t, points, Options{})
}

// noisy is a two-set test with an outlier, an uncertainty and a sky column.
func noisy(t *testing.T) *Result {
	points := conditions(seeded(80), 60, true, true)
	for i := range points {
		points[i].File, points[i].Time = "halvane.csv", "14 June"
		points[i].Uncertainty = 6 + float64(i%3)
	}
	truth := film
	truth[gain], truth[c4] = 1.35, 0.4
	measure(points, truth, 1, seeded(81))
	points[24].Outlet += 0.9
	return mustFit(t, points, Options{})
}

// The template says which receiver its points come from; the fit must find it.
func TestTemplateFits(t *testing.T) {
	r := fitTemplate(t)
	for name, want := range map[string]float64{"eta0b": 0.82, "b0": 0.10, "c1": 9, "c2": 0.06, "c3": 2.5, "mirror_gain": 1.35} {
		if c := mustHave(t, r, name); relative(c.Value, want) > 0.02 {
			t.Errorf("%s = %.4f, the template's receiver has %g", name, c.Value, want)
		}
	}
	if r.RMS > 0.5 || len(r.Dropped) > 0 || len(r.Outliers()) > 0 || r.LossTest.Differ {
		t.Errorf("RMS %.2f W/m², left out %v, outliers %v, loss test %+v", r.RMS, r.Dropped, r.Outliers(), r.LossTest)
	}
	for _, c := range columns {
		if !strings.Contains(Template(), c.name) {
			t.Errorf("the template does not explain %s", c.name)
		}
	}
}

func TestReports(t *testing.T) {
	for name, r := range map[string]*Result{"template.txt": fitTemplate(t), "noisy.txt": noisy(t)} {
		var b bytes.Buffer
		if err := r.WriteText(&b); err != nil {
			t.Fatal(err)
		}
		golden(t, name, b.String()+"\n"+r.StudyBlock())
	}
}

func TestStudyBlockIsTOML(t *testing.T) {
	points := conditions(seeded(82), 40, false, false)
	for i := range points {
		points[i].WindSpeed = 2
	}
	measure(points, film, 3, seeded(83))
	r := mustFit(t, points, Options{Hold: map[string]float64{"b0": 0.1, "kd": 0.9}})
	var got struct {
		Receiver struct {
			Eta0b, Kd, C1, C2, C3, C4 *float64
			IAM                       struct{ B0 *float64 }
		}
	}
	d := toml.NewDecoder(strings.NewReader(r.StudyBlock())).DisallowUnknownFields()
	if err := d.Decode(&got); err != nil {
		t.Fatalf("%v in\n%s", err, r.StudyBlock())
	}
	v := got.Receiver
	for name, x := range map[string]*float64{"eta0b": v.Eta0b, "c1": v.C1} {
		c := mustHave(t, r, name)
		if x == nil || math.Abs(*x-c.Value) > 0.05*c.StdErr {
			t.Errorf("%s = %v, fitted %g ± %g", name, x, c.Value, c.StdErr)
		}
	}
	for name, x := range map[string][2]float64{"b0": {*v.IAM.B0, 0.1}, "kd": {*v.Kd, 0.9}, "c3": {*v.C3, 0}, "c4": {*v.C4, 0}} {
		if x[0] != x[1] {
			t.Errorf("%s = %g, want %g", name, x[0], x[1])
		}
	}
	if !strings.Contains(r.StudyBlock(), "left out: ") {
		t.Errorf("no reason for what is left out:\n%s", r.StudyBlock())
	}
}

func TestResultIsJSON(t *testing.T) {
	exact := conditions(seeded(84), 30, false, false)
	measure(exact, film, 0, seeded(85))
	for _, r := range []*Result{noisy(t), mustFit(t, exact, Options{})} {
		b, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err) // an infinite or undefined number
		}
		var back Result
		if err := json.Unmarshal(b, &back); err != nil {
			t.Fatal(err)
		}
		if len(back.Residuals) != r.Points || back.StdDev != r.StdDev {
			t.Errorf("came back as %+v", back)
		}
	}
}

// Correlations must agree with what the estimates do over repeated tests.
func TestCorrelationIsThatOfTheEstimates(t *testing.T) {
	design, noise := conditions(seeded(86), 40, false, false), seeded(87)
	var x, y []float64
	var stated float64
	for range 800 {
		points := slices.Clone(design)
		measure(points, film, 4, noise)
		r := mustFit(t, points, Options{})
		a, b := mustHave(t, r, "c1"), mustHave(t, r, "c2")
		x, y = append(x, a.Value), append(y, b.Value)
		stated = r.Correlation[2][3]
	}
	mx, my := mean(x), mean(y)
	var xx, yy, xy float64
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		yy += (y[i] - my) * (y[i] - my)
		xy += (x[i] - mx) * (y[i] - my)
	}
	if got := xy / math.Sqrt(xx*yy); math.Abs(got-stated) > 0.05 {
		t.Errorf("c1 and c2 correlate at %.3f over the repetitions, stated %.3f", got, stated)
	}
}

func mean(x []float64) (m float64) {
	for _, v := range x {
		m += v / float64(len(x))
	}
	return m
}

// picture draws to a PNG, keeps a copy where FIT_PICTURES says, and counts how
// many pixels have each of our inks.
func picture(t *testing.T, name string, draw func(io.Writer) error) (image.Rectangle, map[[3]uint8]int) {
	t.Helper()
	var b bytes.Buffer
	if err := draw(&b); err != nil {
		t.Fatal(err)
	}
	if dir := os.Getenv("FIT_PICTURES"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	var again bytes.Buffer
	if err := draw(&again); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("%s: drawn twice, the bytes differ (%v)", name, err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	ink := map[[3]uint8]int{}
	for y := range img.Bounds().Dy() {
		for x := range img.Bounds().Dx() {
			r, g, b, _ := img.At(x, y).RGBA()
			ink[[3]uint8{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)}]++
		}
	}
	return img.Bounds(), ink
}

func TestPlot(t *testing.T) {
	first, other, alarm := [3]uint8{0x1d, 0x3f, 0x5e}, [3]uint8{0xd0, 0x7c, 0x2a}, [3]uint8{0xa8, 0x1c, 0x32}
	size, ink := picture(t, "noisy.png", noisy(t).Plot)
	if size.Dx() < 1800 || size.Dy() < 800 {
		t.Errorf("size %v", size)
	}
	if ink[first] < 3000 || ink[other] < 2000 || ink[alarm] == 0 {
		t.Errorf("plain %d, mirror %d, outlier %d pixels", ink[first], ink[other], ink[alarm])
	}
	points := conditions(seeded(88), 25, false, false)
	measure(points, film, 5, seeded(89))
	_, ink = picture(t, "one-set.png", mustFit(t, points, Options{}).Plot)
	if ink[first] < 1500 || ink[other] > 0 || ink[alarm] > 0 {
		t.Errorf("one set: plain %d, mirror %d, outlier %d pixels", ink[first], ink[other], ink[alarm])
	}
}

func halvaneDay() Day {
	d := Day{Title: "Halvane trial bed, 14 June, outlet 45 °C"}
	for h := range 24 {
		q := max(0, 520*math.Sin(math.Pi*(float64(h)-6)/12)-60)
		d.Hours = append(d.Hours, fmt.Sprintf("%02d:00", h))
		d.Modelled = append(d.Modelled, q)
		d.Measured = append(d.Measured, q*(1+0.1*math.Sin(3*float64(h))))
	}
	d.Measured[10] = math.NaN()
	return d
}

func TestPlotDay(t *testing.T) {
	d := halvaneDay()
	_, ink := picture(t, "day.png", func(w io.Writer) error { return PlotDay(w, d) })
	if bars, line := ink[[3]uint8{0xe6, 0xbd, 0x8e}], ink[[3]uint8{0x1d, 0x3f, 0x5e}]; bars < 40000 || line < 3000 {
		t.Errorf("bars %d, line %d pixels", bars, line)
	}
	measured, modelled := d.Sums()
	var want float64
	for i, q := range d.Modelled {
		if i != 10 {
			want += q / 1000
		}
	}
	if math.Abs(modelled-want) > 1e-12 || math.IsNaN(measured) {
		t.Errorf("sums %g and %g, the latter should be %g", measured, modelled, want)
	}
}

func TestPlotDayRefuses(t *testing.T) {
	for name, change := range map[string]func(*Day){
		"empty":       func(d *Day) { *d = Day{} },
		"too short":   func(d *Day) { d.Measured = d.Measured[1:] },
		"model NaN":   func(d *Day) { d.Modelled[3] = math.NaN() },
		"measured ∞":  func(d *Day) { d.Measured[3] = math.Inf(1) },
		"labels gone": func(d *Day) { d.Hours = nil },
	} {
		d := halvaneDay()
		change(&d)
		if err := PlotDay(io.Discard, d); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	d := halvaneDay()
	for i := range d.Measured {
		d.Measured[i], d.Modelled[i] = math.NaN(), 0
	}
	if err := PlotDay(io.Discard, d); err != nil {
		t.Errorf("a day without measurements or heat: %v", err)
	}
}
