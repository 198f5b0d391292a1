package sheet

import (
	"math"
	"strings"
	"testing"

	"stillrow/simulate/collector"
	"stillrow/simulate/result"
	heavens "stillrow/simulate/sun"
)

// Noon altitude is 90° less the latitude's distance from the declination, any
// textbook of the sun; the hand values are written out.
func TestNoonSuns(t *testing.T) {
	for _, tt := range []struct {
		lat      float64
		altitude [3]float64 // June, equinox, December
		profile  [3]float64
	}{
		{36.75, [3]float64{76.69, 53.25, 29.81}, [3]float64{76.69, 53.25, 29.81}},
		{-34, [3]float64{32.56, 56, 79.44}, [3]float64{32.56, 56, 79.44}},
		// 10° N: in June the sun stands 13.44° beyond the zenith.
		{10, [3]float64{76.56, 80, 56.56}, [3]float64{103.44, 80, 56.56}},
		{-10, [3]float64{56.56, 80, 76.56}, [3]float64{56.56, 80, 103.44}},
		{70, [3]float64{43.44, 20, -3.44}, [3]float64{43.44, 20, -3.44}},
		{-70, [3]float64{-3.44, 20, 43.44}, [3]float64{-3.44, 20, 43.44}},
	} {
		for i, s := range suns(tt.lat, 0) {
			if math.Abs(s.altitude-tt.altitude[i]) > 1e-9 || math.Abs(s.profile-tt.profile[i]) > 1e-9 {
				t.Errorf("%g°: %s: altitude %g, profile %g, want %g and %g", tt.lat, s.name, s.altitude, s.profile, tt.altitude[i], tt.profile[i])
			}
			if s.up() != (tt.altitude[i] > 0) {
				t.Errorf("%g°: %s: up %v", tt.lat, s.name, s.up())
			}
		}
	}
	// A row turned by 60° sees a sun 30° high as tan ψ = tan 30°/cos 60°.
	want := math.Atan(math.Tan(30*math.Pi/180)/0.5) * 180 / math.Pi
	if got := suns(60, 60)[1]; math.Abs(got.profile-want) > 1e-9 || math.Abs(got.altitude-30) > 1e-9 {
		t.Errorf("turned by 60°: %g° at %g°, want %g°", got.profile, got.altitude, want)
	}
}

// The rays here know no blur. Beside the collector's optics, with the sun's own
// spread alone (2.33 mrad), spot and direction are the same.
func TestSpotAgainstCollector(t *testing.T) {
	lands := 0
	for _, d := range []result.Design{
		{ReceiverWidth: 1.2, MirrorLength: 1.6, MirrorTilt: 75, Setback: 0.05, RowPitch: 3.6},
		{ReceiverWidth: 1.2, MirrorLength: 1.6, MirrorTilt: 100, Setback: 0.05, RowPitch: 2},
		{ReceiverWidth: 1, MirrorLength: 2, MirrorTilt: 120, Setback: 0.2, Raise: 0.5},
		{ReceiverWidth: 2, MirrorLength: 0.5, MirrorTilt: 55, Raise: 0.1},
		{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 90, RowPitch: 1.4},
	} {
		s := Sheet{Design: d}
		section := collector.NewSection(collector.Design(d), collector.Mirror{Reflectance: 1, Cleanliness: 1})
		for psi := 2.0; psi < 130; psi += 3 {
			got, want := s.spotOf(psi), section.Reflect(heavens.Angle(psi)*heavens.Degree)
			if got.lit != want.Lit || math.Abs(got.direction-want.Nominal.Degrees()) > 1e-9 {
				t.Errorf("%+v at %g°: lit %v, direction %g; the collector says %v, %g", d, psi, got.lit, got.direction, want.Lit, want.Nominal.Degrees())
			}
			// Near grazing the blur carries light over the edges: up to σ·z/sin²g.
			blur := 2.33e-3 * d.MirrorLength / math.Pow(math.Sin(got.direction*math.Pi/180), 2) / d.ReceiverWidth
			if blur > 0.05 {
				continue
			}
			if math.Abs(got.gain-want.Fmir) > 0.002+blur {
				t.Errorf("%+v at %g°: %.4f on the receiver, the collector says %.4f", d, psi, got.gain, want.Fmir)
			}
			if got.onReceiver() {
				lands++
			}
		}
	}
	if lands < 50 {
		t.Errorf("only %d spots on a receiver: the comparison says little", lands)
	}
}

// An upright mirror of 1 m beside a receiver of 1.5 m, the sun 45° high: the ray
// on its top falls 1 m out from it, on 0.5 m; a 45° mirror sends an overhead
// sun level.
func TestSpotByHand(t *testing.T) {
	s := Sheet{Lat: 40, Rho: 0.8, Design: result.Design{ReceiverWidth: 1.5, MirrorLength: 1, MirrorTilt: 90}}
	p := s.spotOf(45)
	if math.Abs(p.onLow-0.5) > 1e-12 || math.Abs(p.onHigh-1.5) > 1e-12 || math.Abs(p.direction-225) > 1e-12 {
		t.Errorf("%+v", p)
	}
	// sin(90+45)·1 m over 1.5 m.
	if want := math.Sqrt2 / 2 / 1.5; math.Abs(p.gain-want) > 1e-12 {
		t.Errorf("gain %g, want %g", p.gain, want)
	}
	sun45 := suns(45, 0)[1]
	// 0.8·0.4714/sin 45° = 0.533.
	if says := s.says(&sun45, true); says != "45° high, lights 67 % of the receiver, direct light × 1.53" {
		t.Error(says)
	}
	s.Design.MirrorTilt = 45
	if p := s.spotOf(90); !p.lit || p.down || p.onReceiver() {
		t.Errorf("a sun overhead in a 45° mirror: %+v", p)
	}
	if p := s.spotOf(136); p.lit {
		t.Errorf("a sun behind the mirror: %+v", p)
	}
}

func TestWordsOfSuns(t *testing.T) {
	d := result.Design{ReceiverWidth: 1.2, MirrorLength: 1.6, MirrorTilt: 75, Setback: 0.05, RowPitch: 3.6}
	for _, tt := range []struct {
		lat  float64
		want []string
	}{
		{70, []string{"December solstice: sun below the horizon"}},
		{10, []string{"June solstice: sun 77° high in the north"}},
		{-10, []string{"December solstice: sun 77° high in the south", "June solstice: sun 57° high, spot from"}},
	} {
		s := Sheet{Lat: tt.lat, Design: d}
		for _, w := range tt.want {
			if got := s.saysSuns(); !strings.Contains(got, w) {
				t.Errorf("at %g°: %q lacks %q", tt.lat, got, w)
			}
		}
	}
}
