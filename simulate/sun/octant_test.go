package sun

import (
	"math"
	"testing"
)

// Octants are azimuths to the nearest 45°, north and south of the equator.
func TestOctant(t *testing.T) {
	for _, lat := range []Angle{40 * Degree, -40 * Degree} {
		p := NewPlace(lat, 0)
		for deg := 0.25; deg < 360; deg += .5 {
			sin, cos := math.Sincos(deg * math.Pi / 180)
			v := Vector{Equator: -cos * p.hemisphere, West: -sin}
			if az := p.Azimuth(v).Degrees(); math.Abs(az-deg) > 1e-9 {
				t.Fatalf("azimuth %g°, want %g°", az, deg)
			}
			if got, want := p.Octant(v), int(math.Mod(deg+22.5, 360)/45); got != want {
				t.Errorf("azimuth %g°: octant %d, want %d", deg, got, want)
			}
		}
	}
}
