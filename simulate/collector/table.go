package collector

import (
	"math"

	"stillrow/simulate/sun"
)

// The optical table has bins of the profile angle and of 1 − s2², s2 being the
// length of the sun's vector in the section plane. A bin's factors are averages
// over profile angles, so that edges of the light cross it without a step; s2
// itself is taken out of the table, and its bins are narrowest near 1, where
// the light is, so that the middle of a bin stands for it well.
const (
	PsiBins = 720 // of 0.25°
	S2Bins  = 64
	Rows    = PsiBins * S2Bins
)

const psiBin = math.Pi / PsiBins

// inside is how far from its edges a bin is looked at: at 0 and 180° the sun is
// on the horizon.
const inside = 1e-9

// Row gives the table's row for a profile angle above 0 and an s2.
func Row(psi sun.Angle, s2 float64) int {
	j := min(S2Bins-1, max(0, int((1-s2*s2)*S2Bins)))
	return Bin(psi)*S2Bins + j
}

// Bin gives the bin of a profile angle above 0.
func Bin(psi sun.Angle) int { return min(PsiBins-1, max(0, int(float64(psi)/psiBin))) }

// BinMiddle gives the profile angle in the middle of a bin.
func BinMiddle(i int) sun.Angle { return sun.Angle((float64(i) + 0.5) * psiBin) }

// Tabulate fills entry lane of every row of table, which has stride entries a
// row: absorbed beam, before η0b, per unit of beam and of s2.
func (h *Heater) Tabulate(table []float32, stride, lane int) {
	// Simpson's rule over a bin; neighbouring bins share their edge.
	edge := h.Factors(inside)
	for i := range PsiBins {
		lo, hi := float64(i)*psiBin, float64(i+1)*psiBin
		mid := h.Factors(sun.Angle(lo+hi) / 2)
		next := h.Factors(sun.Angle(hi - inside))
		a := mid
		a.Direct = (edge.Direct + 4*mid.Direct + next.Direct) / 6
		a.Fmir = (edge.Fmir + 4*mid.Fmir + next.Fmir) / 6
		if mid.Path == 0 {
			a.Path = max(edge.Path, next.Path)
		}
		for j := range S2Bins {
			b := h.beam(a, sun.Angle(lo+hi)/2, binS2(j))
			table[(i*S2Bins+j)*stride+lane] = float32(b)
		}
		edge = next
	}
}

// TabulateDirect fills entry lane of every bin of the profile angle with the
// share of the receiver's width that sees the sun, averaged as Tabulate does;
// table has stride entries a bin. What a row of the beam's table holds beyond
// this share times DirectGain comes by the mirror, in proportion to its
// reflectance.
func (s *Section) TabulateDirect(table []float32, stride, lane int) {
	edge := s.Direct(inside)
	for i := range PsiBins {
		lo, hi := float64(i)*psiBin, float64(i+1)*psiBin
		next := s.Direct(sun.Angle(hi - inside))
		table[i*stride+lane] = float32((edge + 4*s.Direct(sun.Angle(lo+hi)/2) + next) / 6)
		edge = next
	}
}

// DirectGain gives what a row of the beam's table holds for a receiver that
// sees the sun with all its width and has no mirror.
func (r *Receiver) DirectGain(row int) float64 {
	sin := math.Sin(float64(BinMiddle(row / S2Bins)))
	return r.Kb.At(incidence(binS2(row%S2Bins)*sin)) * sin
}

// binS2 gives the s2 that stands for a bin.
func binS2(j int) float64 { return math.Sqrt(1 - (float64(j)+0.5)/S2Bins) }
