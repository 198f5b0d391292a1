package rank

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stillrow/simulate/result"
)

// tilted is a site where the designs of handOptions at tilts of 50, 60, 70 and
// 80° give 120 kWh/m² at their best tilt and 30 less for every 10° from it: 90 is
// a third dearer, 60 twice as dear.
func tilted(id string, lat float64, best float64) *result.Block {
	var heat []float64
	for tilt := 50.; tilt <= 80; tilt += 10 {
		heat = append(heat, max(0, 120-3*math.Abs(tilt-best)))
	}
	return flat(id, lat, heat...)
}

// Best tilts of 50, 60 and 70° at latitudes 11, 21 and −31 with one, two and one
// sites: the line is tilt = 39 + latitude, and nothing is dearer by it.
func TestTiltRuleOnALine(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(1, 50), mirror(1, 60), mirror(1, 70), mirror(1, 80)}, wholeYear)
	r := summarise(t, o, tilted("a", 11, 50), tilted("b", 20.5, 60), tilted("c", 21.5, 60), tilted("d", -31, 70)).Results[0].Tilt
	want := TiltRule{Outlet: 45, Use: "year", Bands: 3, Sites: 4, LatFrom: 11, LatTo: 31, AtEquator: 39, PerDegree: 1}
	if d := cmp.Diff(want, *r, cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

// Best tilts 50, 50 and 80° at 10, 20 and 30°: by hand, the mean is 60° at 20°
// and the slope (−10·(−10) + 10·20)/200 = 1.5, so the rule gives 45, 60 and 75°,
// off by 5, 10 and 5: √50 = 7.07. 45° is beyond the candidates and costs as 50°,
// nothing; 60° is a third dearer; 75° lies between 70° (a third) and 80°.
func TestTiltRuleOffALine(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(1, 50), mirror(1, 60), mirror(1, 70), mirror(1, 80), mirror(0, 0)}, wholeYear)
	block := func(id string, lat, best float64) *result.Block {
		b := tilted(id, lat, best)
		b.Heat = append(b.Heat, make([]float32, 12)...) // none without a mirror
		return b
	}
	s := summarise(t, o, block("a", 10, 50), block("b", 20, 50), block("c", 30, 80))
	third := 100. / 3
	want := TiltRule{Outlet: 45, Use: "year", Bands: 3, Sites: 3, LatFrom: 10, LatTo: 30, AtEquator: 30, PerDegree: 1.5,
		RMS: math.Sqrt(50), Worst: 10, MeanExtra: (third + third/2) / 3, WorstBand: third}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-5 })
	if d := cmp.Diff(want, *s.Results[0].Tilt, near); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
	fits := []TiltFit{{Tilt: 50, Rule: 45}, {Tilt: 50, Rule: 60, RuleExtra: third}, {Tilt: 80, Rule: 75, RuleExtra: third / 2}}
	for i, b := range s.Results[0].Bands {
		if d := cmp.Diff(fits[i], *b.Tilt, near); d != "" {
			t.Errorf("band %d, -want +got:\n%s", i, d)
		}
	}
	lines := readCSV(t, filepath.Join(o.Out, TiltsFile))
	if d := cmp.Diff([]string{"45", "year", "3", "3", "10.0000", "30.0000", "30.0000", "1.5000", "7.0711", "10.0000", "16.6667", "0.0000", "33.3333"}, lines[1]); d != "" {
		t.Errorf("tilts.csv, -want +got:\n%s", d)
	}
}

// With a free choice of length, one tilt for all is another thing than one
// design for all: 60° suits both sites, each with its own mirror.
func TestOneTiltIsNotOneDesign(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(1, 60), mirror(2, 60), mirror(1, 70), mirror(0, 60)}, wholeYear)
	// LCOH: a 14/1400, 18/1000, 14/1300; b 14/700, 18/1800, 14/1000; no mirror: 10/500 and 10/500.
	s := summarise(t, o, flat("a", 10, 140, 100, 130, 50), flat("b", 11, 70, 180, 100, 50))
	b := s.Results[0].Bands[0]
	if *b.DesignID != 2 || b.Tilt.Tilt != 60 || math.Abs(b.Tilt.MeanExtra) > 1e-5 {
		t.Errorf("design %d, tilt %+v; want design 2 and 60° at no extra cost", *b.DesignID, b.Tilt)
	}
}

func TestNoTiltWithoutMirrors(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
	s := summarise(t, o, flat("a", 10, 140))
	if r := s.Results[0]; r.Tilt != nil || r.Bands[0].Tilt != nil || len(readCSV(t, filepath.Join(o.Out, TiltsFile))) != 1 {
		t.Errorf("%+v", r)
	}
	// All sites in one latitude: the rule is level.
	o = handOptions(t, []result.Design{mirror(1, 50), mirror(1, 60), mirror(1, 70), mirror(1, 80)}, wholeYear)
	if r := summarise(t, o, tilted("a", 10, 60), tilted("b", -10.01, 70)).Results[0].Tilt; r.PerDegree != 0 || math.Abs(r.AtEquator-65) > 1e-9 {
		t.Errorf("%+v", r)
	}
}

// The summary gives the rule where three bands or more speak for it.
func TestTiltRuleInText(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(1, 50), mirror(1, 60), mirror(1, 70), mirror(1, 80)}, wholeYear)
	blocks := []*result.Block{tilted("a", 11, 50), tilted("b", 21, 60), tilted("c", -31, 70)}
	text := func(blocks ...*result.Block) string {
		s := summarise(t, o, blocks...)
		var b strings.Builder
		if err := s.WriteText(&b); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	if got := text(blocks...); !strings.Contains(got, "\nyear      45  39.0° + 1.00 φ    11 to 31    0.0    +0.0\n") {
		t.Errorf("no rule in\n%s", got)
	}
	if got := text(blocks[:2]...); strings.Contains(got, "rule of latitude") {
		t.Errorf("a rule through two bands:\n%s", got)
	}
}
