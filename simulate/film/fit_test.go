package film

import (
	"math"
	"strings"
	"testing"

	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

// Losses made of known coefficients give them back.
func TestLeastSquaresReturnsTruth(t *testing.T) {
	points, err := WorkingRange().points()
	if err != nil {
		t.Fatal(err)
	}
	want := [4]float64{5.5, 0.021, 1.25, 0.61}
	loss := make([]float64, len(points))
	for i, p := range points {
		loss[i] = want[0]*p.Rise + want[1]*p.Rise*p.Rise + want[2]*p.Wind*p.Rise + want[3]*p.Deficit
	}
	got, err := leastSquares(points, loss)
	if err != nil {
		t.Fatal(err)
	}
	for i := range want {
		near(t, "coefficient", got[i], want[i], 1e-10)
	}
}

// At the least squares no coefficient can be moved without raising the error.
func TestFitIsLeast(t *testing.T) {
	s, err := layers("film over air gap")
	if err != nil {
		t.Fatal(err)
	}
	points, err := WorkingRange().points()
	if err != nil {
		t.Fatal(err)
	}
	loss := make([]float64, len(points))
	for i, p := range points {
		loss[i] = p.loss(&s)
	}
	c, err := leastSquares(points, loss)
	if err != nil {
		t.Fatal(err)
	}
	least := report(points, loss, c).RMS
	for i := range c {
		for _, f := range []float64{0.99, 1.01} {
			moved := c
			moved[i] *= f
			if rms := report(points, loss, moved).RMS; !(rms > least) {
				t.Errorf("c%d × %g: error %g, not above %g", i+1, f, rms, least)
			}
		}
	}
}

// The report's errors are those a user of the receiver meets.
func TestReportIsOfTheReceiver(t *testing.T) {
	for _, name := range Names() {
		r, s, err := Preset(name)
		if err != nil {
			t.Fatal(err)
		}
		_, rep, err := s.Fit(WorkingRange())
		if err != nil {
			t.Fatal(err)
		}
		points, err := rep.Range.points()
		if err != nil {
			t.Fatal(err)
		}
		var squares, worst float64
		for _, p := range points {
			w := collector.Weather{
				AirTemperature: p.Air, Wind: p.Wind / r.WindFactor,
				SkyInfrared: black(p.Air) - p.Deficit, GHI: 800,
			}
			layers, _ := s.Loss(p.Air+p.Rise, p.Air, SkyTemperature(w.SkyInfrared), p.Wind)
			e := r.Loss(w, p.Air+p.Rise) - layers
			squares += e * e
			worst = max(worst, math.Abs(e))
		}
		near(t, name+": RMS", rep.RMS, math.Sqrt(squares/float64(len(points))), 1e-6)
		near(t, name+": worst", math.Abs(rep.Worst), worst, 1e-6)
		if rep.Points != len(points) || !(rep.RMS < 0.09*rep.Mean) {
			t.Errorf("%s: %d points, RMS %g of mean loss %g", name, rep.Points, rep.RMS, rep.Mean)
		}
		if rep.Cold < 0 || rep.Warm > 0 {
			t.Errorf("%s: mean error %g in the cold, %g in the warm: radiation grows with air temperature", name, rep.Cold, rep.Warm)
		}
	}
}

// A wet film's coefficients are those of its physics: c3 is Watmuff's 3.0, c4
// the emittance, and c1 at least wind at rest, foam and the linear radiation at
// the range's coldest air.
func TestWetFilmCoefficients(t *testing.T) {
	r, _, err := Preset("wet film")
	if err != nil {
		t.Fatal(err)
	}
	emittance := 1 - 0.07 - 0.55*0.55*0.04/(1-0.07*0.04)
	near(t, "c3", r.C3, 3.0, 1e-6)
	near(t, "c4", r.C4, emittance, 0.02)
	linear := func(air float64) float64 {
		return 2.8 + 0.70 + 4*emittance*stefan*math.Pow(air+kelvin, 3)
	}
	if r.C1 < linear(5) || r.C1 > linear(35) {
		t.Errorf("c1 = %g, want %g to %g", r.C1, linear(5), linear(35))
	}
	near(t, "Kb at 60°", r.Kb.At(60*sun.Degree), .9075/.9568, 1e-3)
	near(t, "Kd", r.Kd, .9051/.9568, 1e-3)
}

func TestPresets(t *testing.T) {
	var before collector.Receiver
	hot := collector.Weather{AirTemperature: 20, Wind: 3, SkyInfrared: 320}
	for i, name := range Names() {
		r, s, err := Preset(name)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if err := r.Validate(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if s.Name != name || len(s.Clear) != i+1 {
			t.Errorf("%s: stack %q of %d clear films", name, s.Name, len(s.Clear))
		}
		if r.FoamLimit != 75 || r.SofteningClear != 98 || r.SofteningBlack != 98 {
			t.Errorf("%s: limits %g, %g, %g", name, r.FoamLimit, r.SofteningClear, r.SofteningBlack)
		}
		if i > 0 && !(r.Loss(hot, 75) < before.Loss(hot, 75) && r.Eta0b < before.Eta0b && r.Kd < before.Kd && r.C5 > before.C5) {
			t.Errorf("%s: one film more must take light and keep heat", name)
		}
		// The modifier belongs to the receiver, not to the stack handed out.
		k := r.Kb.At(70 * sun.Degree)
		s.Clear[0].N = 1.2
		near(t, name+": Kb after the stack is changed", r.Kb.At(70*sun.Degree), k, 0)
		before = r
	}
	if _, _, err := Preset("glass"); err == nil || !strings.Contains(err.Error(), `"wet film"`) {
		t.Errorf("unknown preset: %v", err)
	}
}

// Eta0b of a wet film by hand: 0.9568·e^−0.02 passes a lossless film's two
// faces but for the light reflected twice, the film keeps what it absorbs, and
// black film and water keep 0.974 of what enters.
func TestWetFilmEta0b(t *testing.T) {
	r, s, err := Preset("wet film")
	if err != nil {
		t.Fatal(err)
	}
	into := .9568 * math.Exp(-.02)
	kept := .95 / (1 - .05*(1-.9051/1.777))
	near(t, "eta0b", r.Eta0b/s.Cleanliness, into*kept+.98*(1-math.Exp(-.02)), 1e-3)
}

// Polyethylene weighs 920 kg/m³ at 2300 J/kgK; half of the foam follows.
func TestHeatCapacity(t *testing.T) {
	r, _, err := Preset("wet film")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "c5", r.C5, 920*2300*(.18e-3+.20e-3)+20*1450*.05/2, 1e-9)
}

// At the dry temperatures the dry receiver loses what it takes up.
func TestDryStagnation(t *testing.T) {
	s, err := layers("film over air gap")
	if err != nil {
		t.Fatal(err)
	}
	r, rep, err := s.Fit(WorkingRange())
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range rep.Dry {
		loss, _ := s.DryLoss(d.Layers, 25, SkyTemperature(black(25)-90), 1)
		near(t, "loss by the layers", loss, r.Eta0b*d.Irradiance, 1e-3)
		w := collector.Weather{AirTemperature: 25, Wind: 1 / r.WindFactor, SkyInfrared: black(25) - 90}
		near(t, "loss by the coefficients", r.Loss(w, d.Coef), r.Eta0b*d.Irradiance, 1e-3)
	}
}

func TestFitRefuses(t *testing.T) {
	good, err := layers("film over air gap")
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name  string
		spoil func(*Stack, *Range)
		want  string
	}{
		{"no film", func(s *Stack, _ *Range) { s.Clear = nil }, "no clear film"},
		{"free water", func(s *Stack, _ *Range) { s.Clear = s.Clear[:1] }, "clear film 1: air gap over the water = 0.05"},
		{"two films touching", func(s *Stack, _ *Range) { s.Clear[0].Gap = 0 }, "clear film 1: air gap = 0"},
		{"long wave above 1", func(s *Stack, _ *Range) { s.Clear[1].Transmittance = 0.95 }, "clear film 2: long-wave transmittance + reflectance = 1.02"},
		{"NaN", func(s *Stack, _ *Range) { s.Foam.Thickness = math.NaN() }, "foam: thickness = NaN"},
		{"range upside down", func(_ *Stack, r *Range) { r.Wind = Span{3, 3} }, "range of wind = 3 to 3"},
		{"range boiling", func(_ *Stack, r *Range) { r.Rise = Span{100, 150} }, "above 100 °C"},
		{"range of one rise", func(_ *Stack, r *Range) { r.Rise = Span{49.999, 50} }, "does not tell c2"},
	} {
		s, r := good, WorkingRange()
		s.Clear = append([]Clear(nil), good.Clear...)
		tt.spoil(&s, &r)
		if _, _, err := s.Fit(r); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
		}
	}
}

func TestWriteText(t *testing.T) {
	_, s, err := Preset("film over air gap")
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := s.WriteText(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"air, 50 mm", "0.70 W/m²K to ground", "[receiver]", "iam = {table = [[0, 1.0000], [5, ", "[90, 0.0000]]}",
		"root mean square", "by the coefficients", "foam_limit_c = 75", "passes 98 °C, where the clear film softens",
		"Local codes and licensed practice",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	if strings.Contains(b.String(), "frost_lock_c") {
		t.Error("a frost lock that is not set is printed")
	}
}
