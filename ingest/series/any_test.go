package series

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"stillrow/ingest/weather"
)

// Whatever the axis, with gaps and missing values, a series gives whole columns
// or an error; what the sun does not drive, and its hours and parts of them, stay
// within the values given.
func TestAnySeries(t *testing.T) {
	steps := []int64{600, 900, 1800, 3600, 2 * 3600, 3 * 3600, 4 * 3600, 6 * 3600}
	served := 0
	rapid.Check(t, func(t *rapid.T) {
		step := rapid.SampledFrom(steps).Draw(t, "step")
		late := rapid.SampledFrom([]int64{0, 0, 0, 300, 1800, 3500}).Draw(t, "late")
		start := stamp(rapid.IntRange(2014, 2016).Draw(t, "year"), rapid.SampledFrom([]int{1, 1, 2}).Draw(t, "month"), 1, 0, 0)
		whole := even(start+late, start+rapid.OneOf(rapid.Int64Range(1, 400), rapid.Int64Range(365, 800)).Draw(t, "days")*daySeconds+late, step, rapid.Bool().Draw(t, "noleap"))
		a := &Axis{Step: step, Instant: rapid.Bool().Draw(t, "instant")}
		if !a.Instant {
			a.From = -step * rapid.Int64Range(0, 2).Draw(t, "from") / 2
		}
		gap := rapid.IntRange(0, len(whole.Stamp)-1).Draw(t, "gap")
		size := rapid.IntRange(0, 60).Draw(t, "size")
		a.Stamp = append(a.Stamp, whole.Stamp[:gap+1]...)
		a.Stamp = append(a.Stamp, whole.Stamp[min(gap+1+size, len(whole.Stamp)):]...)
		hole := rapid.IntRange(2, 3000).Draw(t, "hole")
		s := at(float64(rapid.IntRange(-180, 180).Draw(t, "lon")), a, func(s int64) float64 { return 100 + float64(s/600%7) })
		for i := hole; i < len(a.Stamp); i += hole {
			s.GHI.Values[i] = float32(math.NaN()) // of the temperature too
		}
		r, err := s.Raw(Options{})
		if err != nil {
			return
		}
		served++
		for _, v := range [][]float64{r.GHI, r.AirTemperature} {
			if len(v) != weather.Hours {
				t.Fatalf("%d hours", len(v))
			}
		}
		for h := range weather.Hours {
			if x := r.AirTemperature[h]; x < 100-1e-9 || x > 106+1e-9 {
				t.Fatalf("hour %d: %v °C", h, x)
			}
			if x := r.GHI[h]; step <= 3600 && (x < 100-1e-9 || x > 106+1e-9) || x < 0 {
				t.Fatalf("hour %d: %v W/m²", h, x)
			}
		}
	})
	if served < 5 {
		t.Errorf("%d series gave a year", served)
	}
}
