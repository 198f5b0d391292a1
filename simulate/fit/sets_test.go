package fit

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func TestJointFitFindsTheGain(t *testing.T) {
	for _, want := range []float64{1, 1.35, 1.9} {
		truth := film
		truth[gain] = want
		points := conditions(seeded(70), 60, true, false)
		measure(points, truth, 5, seeded(71))
		r := mustFit(t, points, Options{})
		g := mustHave(t, r, "mirror_gain")
		if math.Abs(g.Value-want) > 3*g.StdErr || g.StdErr > 0.02 {
			t.Errorf("gain %.4f ± %.4f, want %g", g.Value, g.StdErr, want)
		}
		if r.LossTest == nil || r.LossTest.Terms != 3 || r.LossTest.Freedom != 60-9 {
			t.Errorf("loss test %+v, want 3 terms and 51 degrees of freedom", r.LossTest)
		}
	}
}

// lossRejections counts how often the F-test finds the loss terms different
// when the mirror set's c1 is that of the plain set times factor.
func lossRejections(t *testing.T, factor float64, repetitions int) float64 {
	truth := film
	truth[gain] = 1.35
	truth[d1] = (factor - 1) * truth[c1]
	design, noise := conditions(seeded(72), 40, true, false), seeded(73)
	rejected := 0
	for range repetitions {
		points := slices.Clone(design)
		measure(points, truth, 5, noise)
		if mustFit(t, points, Options{}).LossTest.Differ {
			rejected++
		}
	}
	return float64(rejected) / float64(repetitions)
}

// The F-test must err in 5 of 100 cases when nothing differs (two points are
// four standard deviations of the count) and see a difference of 30 %.
func TestLossTestSizeAndPower(t *testing.T) {
	size := lossRejections(t, 1, 2000)
	power := lossRejections(t, 1.3, 200)
	t.Logf("size %.3f, power at 30 %% %.3f", size, power)
	if math.Abs(size-0.05) > 0.02 {
		t.Errorf("rejects %.1f %% of sound pairs, want 5 %%", 100*size)
	}
	if power < 0.95 {
		t.Errorf("sees a 30 %% difference in %.0f %% of cases only", 100*power)
	}
}

func TestLossDifferenceIsReported(t *testing.T) {
	truth := film
	truth[gain], truth[d1] = 1.35, 2.7
	points := conditions(seeded(74), 80, true, false)
	measure(points, truth, 3, seeded(75))
	l := mustFit(t, points, Options{}).LossTest
	if !l.Differ || len(l.Differences) != 3 {
		t.Fatalf("%+v", l)
	}
	c := l.Differences[0]
	if c.Name != "c1 mirror - plain" || math.Abs(c.Value-2.7) > 3*c.StdErr {
		t.Errorf("%s = %.2f ± %.2f, want 2.7", c.Name, c.Value, c.StdErr)
	}
}

func TestGainNeedsBeam(t *testing.T) {
	points := conditions(seeded(76), 40, true, false)
	for i := range points {
		if points[i].Set == Mirror {
			points[i].Beam = 0
		}
	}
	measure(points, film, 3, seeded(77))
	r := mustFit(t, points, Options{})
	if got := reasonFor(r, "mirror_gain"); !strings.Contains(got, "beam of the mirror set 0 to 0 W/m²") {
		t.Errorf("left out for %q", got)
	}
}

func TestMirrorAloneIsWarnedOf(t *testing.T) {
	truth := film
	truth[gain] = 1.35
	var points []Point
	for _, p := range conditions(seeded(78), 80, true, false) {
		if p.Set == Mirror {
			points = append(points, p)
		}
	}
	measure(points, truth, 3, seeded(79))
	r := mustFit(t, points, Options{})
	if _, ok := r.Coefficient("mirror_gain"); ok || !strings.Contains(strings.Join(r.Notes, "\n"), "every point has the mirror") {
		t.Errorf("notes %q", r.Notes)
	}
}
