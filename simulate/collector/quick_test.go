package collector

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stillrow/simulate/sun"
)

// dense is Section.Reflect's integral by fifty times as many points.
func (s *Section) dense(psi sun.Angle) float64 {
	lo, g0 := s.litFrom(psi), float64(s.Nominal(psi))
	cosIn := math.Sin(s.beta + float64(psi))
	if s.noMirror || math.Sin(float64(psi)) <= 0 || cosIn <= 0 || lo >= s.design.MirrorLength {
		return 0
	}
	cuts := s.splits(lo, s.design.MirrorLength, g0)
	var sum float64
	for i := 1; i < len(cuts); i++ {
		const parts = 50
		half := (cuts[i] - cuts[i-1]) / 2 / parts
		for part := range parts {
			mid := cuts[i-1] + (2*float64(part)+1)*half
			for j, x := range gauss6.x {
				p, _ := s.landing(mid+half*x, g0, 0)
				sum += gauss6.w[j] * half * p
			}
		}
	}
	return cosIn * sum / s.design.ReceiverWidth
}

// The quick factors are those by the error function to 1e-6, whatever the
// design, the errors of the mirror and the sun.
func TestQuickFactors(t *testing.T) {
	worst, worstPath := 0.0, 0.0
	rapid.Check(t, func(t *rapid.T) {
		d := Design{
			ReceiverWidth: rapid.Float64Range(.3, 3).Draw(t, "width"), MirrorLength: rapid.Float64Range(.1, 4).Draw(t, "length"),
			MirrorTilt: rapid.Float64Range(5, 175).Draw(t, "tilt"),
			Setback:    rapid.SampledFrom([]float64{0, 0, .3}).Draw(t, "setback"), Raise: rapid.SampledFrom([]float64{0, 0, .4}).Draw(t, "raise"),
			RowLength: rapid.SampledFrom([]float64{0, 0, 20}).Draw(t, "row length"),
		}
		if rapid.Bool().Draw(t, "field") {
			d.RowPitch = d.ReceiverWidth + d.Setback + rapid.Float64Range(.05, 4).Draw(t, "gap")
		}
		m := Mirror{Reflectance: .9, Cleanliness: 1, SlopeError: rapid.SampledFrom([]float64{0, 2, 5, 9.9, 60}).Draw(t, "slope error")}
		s := NewSection(d, m)
		q := newQuick(s)
		psi := sun.Angle(rapid.Float64Range(.1, 179.9).Draw(t, "sun")) * sun.Degree
		got, want := q.Factors(psi), s.Factors(psi)
		got.Spill = 0
		want.Spill = 0
		if got == want {
			return // the long way
		}
		err := math.Abs(got.Fmir - s.dense(psi))
		if worst = max(worst, err); err > 1e-6 {
			t.Fatalf("%+v, %+v, sun at %g°: Fmir %.8f, by the error function %.8f (%.8f)", d, m, psi.Degrees(), got.Fmir, s.dense(psi), want.Fmir)
		}
		if got.Direct != want.Direct || got.Nominal != want.Nominal || got.Lit != want.Lit {
			t.Fatalf("%+v, sun at %g°: %+v, want %+v", d, psi.Degrees(), got, want)
		}
		// What is lost at the ends is this much times the sun's slant.
		if d.RowLength > 0 {
			err := math.Abs(got.Path-want.Path) * want.Fmir / d.RowLength
			if worstPath = max(worstPath, err); err > 1e-6 {
				t.Fatalf("%+v, %+v, sun at %g°: path %.6f m, want %.6f with Fmir %.6f", d, m, psi.Degrees(), got.Path, want.Path, want.Fmir)
			}
		}
	})
	t.Logf("Fmir off by %.1e at worst, loss at the ends by %.1e", worst, worstPath)
}
