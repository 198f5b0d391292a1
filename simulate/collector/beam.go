package collector

import (
	"math"
	"slices"

	"stillrow/simulate/sun"
)

// A Reflection is what the mirror of row 0 sends to the ground at one profile
// angle of the sun.
type Reflection struct {
	// Fmir is the light landing on the row's own receiver, per unit of the
	// beam's irradiance in the section plane and of the receiver's width, at
	// reflectance 1.
	Fmir float64
	// Path is the mean length in the section plane of the rays that land, m;
	// 0 when none do.
	Path float64
	// Spill is the same as Fmir for the receivers of other rows; it is
	// reported and left out of the heat, and exactly 0 for raise 0.
	Spill float64
	// Nominal is the direction of the central reflected ray, 2β+ψ; it points
	// down between 180° and 360°. The mirror is lit where Lit is true.
	Nominal sun.Angle
	Lit     bool
}

// edgeSteps are the offsets from a receiver's edge, in standard deviations of
// the blurred beam, at which the integral along the mirror is split.
var edgeSteps = [...]float64{-5, -3, -1.5, 0, 1.5, 3, 5}

// Reflect integrates along the lit part of the mirror of row 0 that no other
// mirror shades. Every point sends a Gaussian of directions; what counts is
// its measure over the directions in which the point sees the receiver past
// the other mirrors, never behind the mirror's own plane. Error under 1e-5.
func (s *Section) Reflect(psi sun.Angle) Reflection {
	r := s.reflect(psi)
	if lo := s.litFrom(psi); r.Lit && lo < s.design.MirrorLength && s.rows > 0 && s.design.Raise > 0 {
		cosIn := math.Sin(s.beta + float64(psi))
		r.Spill = s.spill(lo, s.design.MirrorLength, float64(r.Nominal)) * cosIn / s.design.ReceiverWidth
	}
	return r
}

// reflect is Reflect but for Spill.
func (s *Section) reflect(psi sun.Angle) Reflection {
	r := Reflection{Nominal: s.Nominal(psi)}
	sinP := math.Sin(float64(psi))
	cosIn := math.Sin(s.beta + float64(psi)) // cosine of the incidence in the plane
	if s.noMirror || sinP <= 0 || cosIn <= 0 {
		return r
	}
	r.Lit = true
	length := s.design.MirrorLength
	lo := s.litFrom(psi)
	if lo >= length {
		return r
	}
	g0 := float64(r.Nominal)
	cuts := s.splits(lo, length, g0)
	var own, path float64
	for i := 1; i < len(cuts); i++ {
		half, mid := (cuts[i]-cuts[i-1])/2, (cuts[i]+cuts[i-1])/2
		for j, x := range gauss6.x {
			w := gauss6.w[j] * half
			p, d := s.landing(mid+half*x, g0, 0)
			own += w * p
			path += w * d
		}
	}
	w := s.design.ReceiverWidth
	r.Fmir = cosIn * own / w
	if own > 0 {
		r.Path = path / own
	}
	return r
}

// splits gives the slants between lo and hi where the integrand bends: where
// the blurred beam passes an edge of the receiver or of a mirror in the way.
func (s *Section) splits(lo, hi, g0 float64) []float64 {
	cuts := append(make([]float64, 0, 40), lo, hi)
	edges := []point{{0, 0}, {s.design.ReceiverWidth, 0}}
	for k := -1; k >= -s.rows; k-- {
		edges = append(edges, s.foot(k), s.top(k))
	}
	for _, e := range edges {
		for _, n := range edgeSteps {
			sin, cos := math.Sincos(g0 + n*s.sigma)
			// The ray along (cos, sin) that ends at e leaves the mirror at l:
			// cross(e − foot, ray) = l·cross(u, ray).
			across := s.ux*sin - s.uz*cos
			if math.Abs(across) < 1e-9 {
				continue
			}
			l := ((e.x-s.footX)*sin - (e.z-s.design.Raise)*cos) / across
			if l > lo && l < hi {
				cuts = append(cuts, l)
			}
		}
	}
	slices.Sort(cuts)
	return cuts
}

// spill integrates what lands on the receivers of the other rows: mostly of
// those in front, and for a strong overhang of those behind, under the foot.
func (s *Section) spill(lo, hi, g0 float64) float64 {
	const steps = 400
	h := (hi - lo) / steps
	var sum float64
	for k := -s.rows; k <= s.rows; k++ {
		if k == 0 {
			continue
		}
		for i := range steps {
			p, _ := s.landing(lo+(float64(i)+0.5)*h, g0, k)
			sum += p * h
		}
	}
	return sum
}

// landing gives the measure of the Gaussian about g0 of the directions in
// which the mirror point at slant l sees the receiver of row k, and that
// measure weighted with the path's length.
func (s *Section) landing(l, g0 float64, k int) (measure, path float64) {
	from := s.at(l)
	x0 := float64(k) * s.design.RowPitch
	seen := span{
		2*math.Pi + math.Atan2(-from.z, x0-from.x),
		min(2*math.Pi+math.Atan2(-from.z, x0+s.design.ReceiverWidth-from.x), s.beta+math.Pi),
	}
	reach := span{max(seen.lo, g0-6*s.sigma), min(seen.hi, g0+6*s.sigma)}
	if reach.hi <= reach.lo {
		return 0, 0
	}
	if s.rows == 0 {
		return s.bell(reach, g0, from.z)
	}
	open := []span{reach}
	for j := -1; j >= -s.rows; j-- {
		a, b := s.sight(from, s.foot(j)), s.sight(from, s.top(j))
		open = cut(open, span{min(a, b), max(a, b)})
	}
	for _, o := range open {
		m, p := s.bell(o, g0, from.z)
		measure, path = measure+m, path+p
	}
	return measure, path
}

// sight gives the direction from one point to another on the front side of
// mirror 0, between β and β+π.
func (s *Section) sight(from, to point) float64 {
	g := math.Atan2(to.z-from.z, to.x-from.x)
	if g < s.beta {
		g += 2 * math.Pi
	}
	return g
}

// bell gives the Gaussian measure of a span of directions about g0, and the
// same weighted with the length z/|sin g| of a ray that falls from height z.
func (s *Section) bell(g span, g0, z float64) (measure, path float64) {
	measure = normal((g.hi-g0)/s.sigma) - normal((g.lo-g0)/s.sigma)
	if measure <= 0 {
		return 0, 0
	}
	// Six points of the truncated bell carry the mean path well enough: the
	// path varies little over the beam's spread.
	half, mid := (g.hi-g.lo)/2, (g.hi+g.lo)/2
	var top, bottom float64
	for i, x := range gauss6.x {
		d := mid + half*x
		n := (d - g0) / s.sigma
		w := gauss6.w[i] * math.Exp(-n*n/2)
		top += w * z / math.Abs(math.Sin(d))
		bottom += w
	}
	return measure, measure * top / bottom
}

// normal is the distribution function of the standard normal.
func normal(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }

// gauss6 is the six-point Gauss-Legendre rule on −1…1.
// Source: Abramowitz and Stegun 1964, table 25.4.
var gauss6 = struct{ x, w [6]float64 }{
	x: [6]float64{-0.932469514203152, -0.661209386466265, -0.238619186083197, 0.238619186083197, 0.661209386466265, 0.932469514203152},
	w: [6]float64{0.171324492379170, 0.360761573048139, 0.467913934572691, 0.467913934572691, 0.360761573048139, 0.171324492379170},
}
