package collector

import (
	"math"
	"slices"
)

// Diffuse gives the receiver's shares of isotropic light: sky is what comes
// straight from the sky plus reflectance times what comes from it by one
// reflection; ground is, at reflectance 1, what comes by one reflection from
// the ground between the receivers, which are black. Both are averages over
// the receiver's width; a single receiver without a mirror has sky 1, ground 0.
//
// For each place on the receiver the hemisphere is split wherever anything can
// change, so that the integral over directions is exact; over the width it is
// a midpoint rule, good to 1e-4.
func (s *Section) Diffuse() (sky, ground float64) {
	sky, _, ground = s.diffuse()
	return sky, ground
}

// diffuse is Diffuse with the part of sky that comes by reflection, at
// reflectance 1.
func (s *Section) diffuse() (sky, mirrored, ground float64) {
	if s.noMirror {
		return 1, 0, 0
	}
	const places = 96
	w := s.design.ReceiverWidth
	for i := range places {
		a, m, b := s.diffuseAt(w * (float64(i) + 0.5) / places)
		sky, mirrored, ground = sky+a, mirrored+m, ground+b
	}
	return sky / places, mirrored / places, ground / places
}

// diffuseAt integrates ½·cos φ·w over the angle φ from the vertical at the
// receiver's place x; the primitive is ½·sin φ.
func (s *Section) diffuseAt(x float64) (sky, mirrored, ground float64) {
	at := point{x, 0}
	angles := append(make([]float64, 0, 256), 0, math.Pi) // of directions from the x axis
	add := func(p point) {
		if g := math.Atan2(p.z-at.z, p.x-at.x); g > 0 && g < math.Pi {
			angles = append(angles, g)
		}
	}
	for k := -s.rows; k <= s.rows; k++ {
		add(s.foot(k))
		add(s.top(k))
	}
	// What is seen by way of mirror k stands where its image in mirror k is.
	for k := -s.rows; k <= s.rows; k++ {
		for j := -s.rows; j <= s.rows; j++ {
			x0 := float64(j) * s.design.RowPitch
			for _, p := range []point{s.foot(j), s.top(j), {x0, 0}, {x0 + s.design.ReceiverWidth, 0}} {
				add(s.image(p, k))
			}
		}
	}
	// A reflected ray is horizontal where the incoming one is at 2β or 2β − π.
	for _, g := range []float64{2 * s.beta, 2*s.beta - math.Pi} {
		if g > 0 && g < math.Pi {
			angles = append(angles, g)
		}
	}
	slices.Sort(angles)
	for i := 1; i < len(angles); i++ {
		lo, hi := angles[i-1], angles[i]
		if hi-lo < 1e-12 {
			continue
		}
		weight := (math.Cos(lo) - math.Cos(hi)) / 2
		switch s.ends(at, (lo+hi)/2) {
		case inSky:
			sky += weight
		case inSkyByMirror:
			sky += weight * s.rho
			mirrored += weight
		case onGroundByMirror:
			ground += weight
		}
	}
	return sky, mirrored, ground
}

// image gives the mirror image of p in the plane of mirror k.
func (s *Section) image(p point, k int) point {
	f := s.foot(k)
	// Distance along the normal (−sin β, cos β).
	d := -(p.x-f.x)*s.uz + (p.z-f.z)*s.ux
	return point{p.x + 2*d*s.uz, p.z - 2*d*s.ux}
}

// Ends of a ray followed backwards from the receiver.
type rayEnd int

const (
	lost rayEnd = iota
	inSky
	inSkyByMirror
	onGroundByMirror
)

// ends follows a ray upwards from a place on the receiver, through at most one
// reflection on the front of a mirror.
func (s *Section) ends(from point, g float64) rayEnd {
	k, t, front := s.firstHit(from, g, math.MinInt)
	if t == math.Inf(1) {
		return inSky
	}
	if !front {
		return lost
	}
	sin, cos := math.Sincos(g)
	hit := point{from.x + t*cos, from.z + t*sin}
	out := 2*s.beta - g
	sin, cos = math.Sincos(out)
	_, t, _ = s.firstHit(hit, out, k)
	switch {
	case t != math.Inf(1):
		return lost
	case sin >= 0:
		return inSkyByMirror
	}
	return s.landsOn(hit.x - hit.z*cos/sin)
}

// landsOn says whether a reflected ray that meets z = 0 at x ends on ground.
func (s *Section) landsOn(x float64) rayEnd {
	if s.design.RowPitch > 0 {
		x -= math.Floor(x/s.design.RowPitch) * s.design.RowPitch
	}
	if x >= 0 && x <= s.design.ReceiverWidth {
		return lost
	}
	return onGroundByMirror
}

// firstHit gives the nearest mirror in direction g, above the ground, the
// distance to it, +Inf when there is none, and whether its front is met. The
// mirror without, on which the ray starts, is passed over.
func (s *Section) firstHit(from point, g float64, without int) (row int, t float64, front bool) {
	sin, cos := math.Sincos(g)
	across := cos*s.uz - sin*s.ux // cross(ray, u)
	t = math.Inf(1)
	if math.Abs(across) < 1e-14 {
		return 0, t, false
	}
	for k := -s.rows; k <= s.rows; k++ {
		if k == without {
			continue
		}
		f := s.foot(k)
		dx, dz := f.x-from.x, f.z-from.z
		along := (dx*s.uz - dz*s.ux) / across // to the mirror's line
		l := (dx*sin - dz*cos) / across       // slant where it is met
		if along > 1e-12 && along < t && l >= 0 && l <= s.design.MirrorLength {
			row, t = k, along
		}
	}
	// Front: the ray runs against the normal (−sin β, cos β).
	return row, t, -cos*s.uz+sin*s.ux < 0
}
