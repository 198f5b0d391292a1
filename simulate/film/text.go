package film

import (
	"fmt"
	"io"
	"math"

	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

// WriteText writes what the stack is made of, the coefficients fitted over
// WorkingRange as a [receiver] block of a study file, how well they fit, and
// the cautions. The error is that of Fit or of w.
func (s *Stack) WriteText(w io.Writer) error {
	r, rep, err := s.Fit(WorkingRange())
	if err != nil {
		return err
	}
	t := &text{w: w}
	t.layers(s)
	t.block(r)
	t.fit(rep)
	t.cautions(r, rep)
	return t.err
}

// A text remembers the first error of writing.
type text struct {
	w   io.Writer
	err error
}

func (t *text) printf(format string, args ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format, args...)
	}
}

func (t *text) layers(s *Stack) {
	t.printf("%s, from the sky down (assumed values; replace them by those of the film bought)\n", s.Name)
	for _, c := range s.Clear {
		t.printf("  %-38s index %.2f, absorbs %.1f %%; long wave: passes %.2f, reflects %.2f, emits %.2f\n",
			c.Name, c.N, 100*(1-math.Exp(-c.KL)), c.Transmittance, c.Reflectance, c.Emittance())
		if c.Gap > 0 {
			t.printf("  air, %.0f mm\n", 1000*c.Gap)
		}
	}
	t.printf("  water, %.0f mm\n", 1000*s.WaterDepth)
	t.printf("  %-38s absorbs %.2f; long wave, dry: emits %.2f\n", s.Black.Name, s.Black.Absorptance, s.Black.Emittance)
	t.printf("  %-38s %.0f mm, %.3f W/mK: %.2f W/m²K to ground as warm as the air\n",
		s.Foam.Name, 1000*s.Foam.Thickness, s.Foam.Conductivity, s.back())
	t.printf("  cleanliness %.2f; at normal incidence %.3f of the light passes clean films into the water\n",
		s.Cleanliness, s.Transmittance(0))
}

// tableStep is the spacing of the printed incidence angle modifiers, degrees.
const tableStep = 5

func (t *text) block(r collector.Receiver) {
	t.printf("\n[receiver]\neta0b = %.4f\niam = {table = [", r.Eta0b)
	for d := 0; d <= 90; d += tableStep {
		if d > 0 {
			t.printf(", ")
		}
		t.printf("[%d, %.4f]", d, r.Kb.At(sun.Angle(d)*sun.Degree))
	}
	t.printf("]}\nkd = %.4f\n", r.Kd)
	t.printf("c1 = %.3f       # W/m²K\nc2 = %.5f     # W/m²K²\nc3 = %.4f      # J/m³K\nc4 = %.4f\nc5 = %.0f        # J/m²K\nc6 = %g\n",
		r.C1, r.C2, r.C3, r.C4, r.C5, r.C6)
	t.printf("water_depth_m = %g\nwind_factor = %g\nnight = %q\n", r.WaterDepth, r.WindFactor, r.Night)
	for _, l := range []struct {
		name string
		v    float64
	}{
		{"frost_lock_c", r.FrostLock}, {"softening_black_c", r.SofteningBlack},
		{"softening_clear_c", r.SofteningClear}, {"foam_limit_c", r.FoamLimit},
	} {
		if !math.IsNaN(l.v) {
			t.printf("%s = %g\n", l.name, l.v)
		}
	}
}

func (t *text) fit(rep FitReport) {
	r, p := rep.Range, rep.At
	t.printf("\nc1 to c4 are a least-squares fit to the layers over %d points: water %g to %g K above the air and at most %d °C,\n"+
		"air %g to %g °C, wind at the receiver %g to %g m/s, sky %g to %g W/m² below the air's black radiation.\n",
		rep.Points, r.Rise.Low, r.Rise.High, Boiling, r.Air.Low, r.Air.High, r.Wind.Low, r.Wind.High, r.Deficit.Low, r.Deficit.High)
	t.printf("Error of the loss: %.1f W/m² root mean square, %.1f %% of the mean loss; mean %+.1f W/m² with air at %g °C, %+.1f at %g °C;\nlargest %+.1f W/m² with water %g K above air of %g °C, wind %g m/s, sky deficit %.0f W/m².\n",
		rep.RMS, 100*rep.RMS/rep.Mean, rep.Cold, r.Air.Low, rep.Warm, r.Air.High, rep.Worst, p.Rise, p.Air, p.Wind, p.Deficit)
	for _, d := range rep.Dry {
		t.printf("Dry, %g W/m² of sun at normal incidence, air %g °C, wind %g m/s: %.0f °C by the layers, %.0f °C by the coefficients.\n",
			d.Irradiance, dryPoint.Air, dryPoint.Wind, d.Layers, d.Coef)
	}
}

func (t *text) cautions(r collector.Receiver, rep FitReport) {
	t.printf("\nCaution. Values for screening, not for building. Water from 45 °C on scalds.\n")
	for _, l := range []struct {
		what  string
		limit float64
	}{
		{"black film softens", r.SofteningBlack}, {"clear film softens", r.SofteningClear}, {"foam is damaged", r.FoamLimit},
	} {
		for _, d := range rep.Dry {
			if d.Layers > l.limit {
				t.printf("A receiver left dry in %g W/m² of sun passes %g °C, where the %s: keep it wet, covered or vented.\n", d.Irradiance, l.limit, l.what)
				break
			}
		}
	}
	t.printf("Local codes and licensed practice come first.\n")
}
