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
	// Simpson's rule over a bin; neighbouring bins share their edge. The edge
	// is looked at from just inside: at 0 and 180° the sun is on the horizon.
	const inside = 1e-9
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
			s2 := math.Sqrt(1 - (float64(j)+0.5)/S2Bins)
			b := h.beam(a, sun.Angle(lo+hi)/2, s2)
			table[(i*S2Bins+j)*stride+lane] = float32(b)
		}
		edge = next
	}
}
