package collector

import (
	"math"

	"stillrow/simulate/sun"
)

// Strain is what one profile angle of the sun does to films and neighbours,
// per unit of DNI and of s2, the length of the sun's vector in the section
// plane.
type Strain struct {
	Receiver float64    // irradiance on the receiver, mean over its width
	UV       float64    // the same with the mirror's ultraviolet reflectance
	Edge     [2]float64 // irradiance at the equatorward and the poleward edge, sun and mirror's spot
	Mirror   float64    // irradiance on the mirror, mean over its length
	Escapes  bool       // over 1 % of the mirror's beam leaves upwards or lands beyond the field's depth
}

// escaping is the share of the mirror's beam that counts as glare.
const escaping = 0.01

// Strain works out the strain at a profile angle. Edges take the nominal
// reflected ray, without blur: at the spot's middle the blur takes nothing.
func (h *Heater) Strain(psi sun.Angle, g Ground) Strain { return h.strain(psi, h.Factors(psi), g) }

// Strains works out the strain in the middle of every bin of the profile angle.
func (h *Heater) Strains(g Ground, use func(bin int, s Strain)) {
	q := newQuick(h.Section)
	for i := range PsiBins {
		psi := BinMiddle(i)
		use(i, h.strain(psi, q.Factors(psi), g))
	}
}

func (h *Heater) strain(psi sun.Angle, f Factors, g Ground) Strain {
	sin := math.Sin(float64(psi))
	if sin <= 0 {
		return Strain{}
	}
	s := Strain{
		Receiver: sin*f.Direct + h.rho*f.Fmir,
		UV:       sin*f.Direct + h.Mirror.UVReflectance*h.Mirror.Cleanliness*f.Fmir,
	}
	for i, x := range []float64{0, h.design.ReceiverWidth} {
		if h.sees(x, psi) {
			s.Edge[i] = sin
		}
		if f.Lit && h.inSpot(x, psi) {
			s.Edge[i] += h.rho * math.Abs(math.Sin(float64(f.Nominal)))
		}
	}
	if !f.Lit {
		return s
	}
	lo := h.litFrom(psi)
	lit := (h.design.MirrorLength - lo) / h.design.MirrorLength
	if lit <= 0 {
		return s
	}
	s.Mirror = math.Sin(h.beta+float64(psi)) * lit
	s.Escapes = h.escape(lo, float64(f.Nominal), g.FieldDepth) > escaping
	return s
}

// litFrom gives the slant from which on no other mirror shades mirror 0. All
// mirrors are parallel: only the row in front can shade.
func (s *Section) litFrom(psi sun.Angle) float64 {
	if s.rows == 0 {
		return 0
	}
	return max(0, s.design.MirrorLength-s.design.RowPitch*math.Sin(float64(psi))/math.Sin(s.beta+float64(psi)))
}

// sees says whether the receiver sees the sun at x, edges of shadows counting
// as light.
func (s *Section) sees(x float64, psi sun.Angle) bool {
	if s.noMirror {
		return true
	}
	cot := 1 / math.Tan(float64(psi))
	for k := -s.rows; k <= s.rows; k++ {
		f, t := s.foot(k), s.top(k)
		a, b := f.x+f.z*cot, t.x+t.z*cot
		if x > min(a, b) && x < max(a, b) {
			return false
		}
	}
	return true
}

// inSpot says whether the nominal reflected beam of mirror 0 reaches x.
func (s *Section) inSpot(x float64, psi sun.Angle) bool {
	sin, cos := math.Sincos(2*s.beta + float64(psi))
	if sin >= 0 {
		return false
	}
	a, b := s.at(s.litFrom(psi)), s.at(s.design.MirrorLength)
	xa, xb := a.x-a.z*cos/sin, b.x-b.z*cos/sin
	return x >= min(xa, xb) && x <= max(xa, xb)
}

// escape gives the share of the lit mirror's beam whose nominal ray passes all
// other mirrors and leaves upwards, or lands more than depth equatorward of
// the receiver; a NaN depth counts only the former.
func (s *Section) escape(lo, g0, depth float64) float64 {
	sin, cos := math.Sincos(g0)
	if sin < 0 && math.IsNaN(depth) {
		return 0
	}
	const steps = 100
	n := 0
	for i := range steps {
		from := s.at(lo + (s.design.MirrorLength-lo)*(float64(i)+0.5)/steps)
		_, t, _ := s.firstHit(from, g0, 0)
		switch {
		case sin < 0 && (t < -from.z/sin || from.x-from.z*cos/sin > -depth):
		case t < math.Inf(1):
		default:
			n++
		}
	}
	return float64(n) / steps
}

// DryStagnation gives the temperature at which a dry receiver that absorbs s
// W/m² loses as much: the greater root of its loss.
func (r *Receiver) DryStagnation(w Weather, s float64) float64 {
	fixed, slope := r.DryTerms(w)
	return w.AirTemperature + r.DryRise(s-fixed, slope)
}

// DryTerms gives what a receiver at air temperature loses, W/m², and the slope
// of its loss there, W/m²K.
func (r *Receiver) DryTerms(w Weather) (fixed, slope float64) {
	l := r.LossIn(w)
	return l.fixed, max(l.slope, smallestU)
}

// DryRise gives the rise above air temperature at which a loss of the slope b
// and c2 equals net W/m².
func (r *Receiver) DryRise(net, b float64) float64 {
	if r.C2 == 0 {
		return net / b
	}
	return (math.Sqrt(max(0, b*b+4*r.C2*net)) - b) / (2 * r.C2)
}
