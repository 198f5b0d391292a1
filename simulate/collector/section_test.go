package collector

import (
	"math"
	"testing"

	"stillrow/simulate/sun"
)

// straight is a mirror without losses and almost without blur, for checks
// against geometry; lean is counted from the vertical, + over the receiver.
func straight(length, lean, raise, setback, pitch float64) *Section {
	s := NewSection(Design{ReceiverWidth: 1, MirrorLength: length, MirrorTilt: 90 + lean, Raise: raise, Setback: setback, RowPitch: pitch},
		Mirror{Reflectance: 1, Cleanliness: 1})
	s.sigma = 1e-7
	return s
}

// Closed-form gains of one flat mirror in the plane, reflected over direct
// beam on the receiver, verified by ray tracing with 400 000 rays. Source: the
// geometry of the law of reflection, worked independently of this code.
func TestMirrorGain(t *testing.T) {
	for _, tt := range []struct{ psi, lean, length, raise, setback, gain float64 }{
		{30, 0, 1, 0, 0, 1.00000},
		{45, 0, 1, 0, 0, 1.00000},
		{60, 0, 1, 0, 0, 0.57735},
		{30, 10, 1, 0, 0, 1.53209},
		{36.55, 15, 1, 0, 0, 1.04418},
		{36.55, 26.7, 2, 0, 0, 1.51160},
		{60, -10, 1, 0, 0, 0.74223},
		{60, 15, 1, 0, 0, 0.29886},
		{20, 20, 1.5, 0, 0, 2.53209},
		{75, 0, 2, 0, 0, 0.53590},
		{30, 0, 1, .3, .2, 0.68038},
		{45, 10, 1, .3, .2, 0.73412},
		{60, 0, 1, .3, .2, 0.55056},
		{60, -10, 1.5, .3, .2, 0.62531},
	} {
		r := straight(tt.length, tt.lean, tt.raise, tt.setback, 0).Reflect(sun.Angle(tt.psi) * sun.Degree)
		gain := r.Fmir / math.Sin(tt.psi*math.Pi/180)
		if math.Abs(gain-tt.gain) > 2e-5 {
			t.Errorf("ψ %g lean %g L %g r %g b %g: gain %.5f, want %.5f", tt.psi, tt.lean, tt.length, tt.raise, tt.setback, gain, tt.gain)
		}
	}
}

// Day totals of beam on the receiver with a mirror over those without, for
// extraterrestrial beam and L = W. Source as for TestMirrorGain; an
// independent Monte Carlo trace agrees within its noise of 1 %.
func TestMirrorDayTotals(t *testing.T) {
	leans := []float64{-20, -10, 0, 5, 10, 15, 20, 30}
	for _, tt := range []struct {
		lat, dec float64
		want     [8]float64
	}{
		{30, -23.45, [8]float64{1.0000, 1.3778, 2.0000, 2.2925, 2.4079, 2.3810, 2.2968, 2.0343}},
		{30, 0, [8]float64{1.3949, 1.7422, 1.5774, 1.4880, 1.3949, 1.2989, 1.2005, 1.0000}},
		{30, 23.45, [8]float64{1.2447, 1.0794, 0.9124, 0.8297, 0.7484, 0.6690, 0.5921, 0.4478}},
		{40, -23.45, [8]float64{1.0000, 1.1561, 2.0000, 2.4410, 2.8383, 3.0838, 3.0633, 2.7754}},
		{40, 0, [8]float64{1.2267, 1.6527, 1.8391, 1.7488, 1.6527, 1.5517, 1.4465, 1.2267}},
		{40, 23.45, [8]float64{1.3689, 1.2204, 1.0562, 0.9731, 0.8903, 0.8082, 0.7275, 0.5723}},
	} {
		for i, lean := range leans {
			s := straight(1, lean, 0, 0, 0)
			place := sun.NewPlace(sun.Angle(tt.lat)*sun.Degree, 0)
			e := sun.Ephemeris{Declination: sun.Angle(tt.dec) * sun.Degree, Distance: 1}
			var with, without float64
			for w := -180.0; w < 180; w += 0.25 {
				v := place.Vector(e, sun.Angle(w)*sun.Degree)
				if v.Up <= 0 {
					continue
				}
				sx, _, sz := v.Row(0)
				psi := sun.Profile(sx, sz)
				with += sz*s.Direct(psi) + math.Hypot(sx, sz)*s.Reflect(psi).Fmir
				without += sz
			}
			if got := with / without; math.Abs(got-tt.want[i]) > 0.003 {
				t.Errorf("lat %g dec %g lean %g: %.4f, want %.4f", tt.lat, tt.dec, lean, got, tt.want[i])
			}
		}
	}
}

// A row in front shades the receiver from −2.5997 to −0.8025 in a case worked
// by hand: latitude 40°, noon of the winter solstice, 19.75 % shaded.
func TestNeighbourShade(t *testing.T) {
	s := straight(1, 10, .2, 0, 3)
	got := s.Direct(26.55 * sun.Degree)
	if math.Abs(got-(1-.1975)) > 1e-4 {
		t.Errorf("Fdir = %.5f, want %.5f", got, 1-.1975)
	}
}

// View factors by Hottel's crossed strings; the receiver loses to a mirror of
// reflectance 0 just what the mirror fills of its view. Source: Hottel 1954;
// the first value is 1 − √½ in view-factor catalogues.
func TestDiffuseCrossedStrings(t *testing.T) {
	for _, tt := range []struct{ length, lean, raise, setback, pitch, filled float64 }{
		{1, 0, 0, 0, 0, .29289},
		{1, 15, 0, 0, 0, .39124},
		{1, 30, 0, 0, 0, .5},
		{1, -30, 0, 0, 0, .13397},
		{2, 0, 0, 0, 0, .38197},
		{.5, 0, 0, 0, 0, .19098},
		{1, 0, .3, .2, 0, .21125},
		{1, 10, .3, .2, 0, .25852},
	} {
		s := straight(tt.length, tt.lean, tt.raise, tt.setback, tt.pitch)
		s.rho = 0
		sky, _ := s.Diffuse()
		if got := 1 - sky; math.Abs(got-tt.filled) > 2e-4 {
			t.Errorf("L %g lean %g: mirror fills %.5f of the view, want %.5f", tt.length, tt.lean, got, tt.filled)
		}
	}
	// A perfect upright mirror alone under an even sky: the image completes
	// the hemisphere and nothing is lost.
	sky, ground := straight(1, 0, 0, 0, 0).Diffuse()
	if math.Abs(sky-1) > 1e-9 || ground != 0 {
		t.Errorf("upright perfect mirror: sky %.6f ground %.6f, want 1 and 0", sky, ground)
	}
	// An overhanging one shows the ground instead of sky, light is conserved.
	sky, ground = straight(1, 20, 0, 0, 0).Diffuse()
	if ground < 0.01 || sky+ground > 1+1e-9 {
		t.Errorf("overhanging mirror: sky %.6f ground %.6f", sky, ground)
	}
}

func BenchmarkReflect(b *testing.B) {
	s := NewSection(Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 100, RowPitch: 3}, Mirror{Reflectance: .85, Cleanliness: .95, SlopeError: 2, Scatter: 1})
	for i := range b.N {
		s.Reflect(sun.Angle(20+i%50) * sun.Degree)
	}
}

func BenchmarkDiffuse(b *testing.B) {
	s := NewSection(Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 100, RowPitch: 3}, Mirror{Reflectance: .85, Cleanliness: .95})
	for range b.N {
		s.Diffuse()
	}
}
