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

// A Tabulator fills optical tables. It holds what all designs share with a
// receiver and may serve several goroutines.
type Tabulator struct {
	receiver *Receiver
	gain     []float64 // of each row: its entry for a receiver without a mirror that sees the sun with all its width
}

// NewTabulator makes one for a receiver.
func NewTabulator(r *Receiver) *Tabulator {
	t := &Tabulator{r, make([]float64, Rows)}
	for row := range t.gain {
		sin := math.Sin(float64(BinMiddle(row / S2Bins)))
		t.gain[row] = r.Kb.At(incidence(s2Bins[row%S2Bins]*sin)) * sin
	}
	return t
}

// Gain gives, for each row of the beam's table, what it holds for a receiver
// without a mirror that sees the sun with all its width.
func (t *Tabulator) Gain() []float64 { return t.gain }

// Tabulate fills entry lane of every row of beam, which has stride entries a
// row: absorbed beam, before η0b, per unit of beam and of s2; and of every bin
// of the profile angle in direct: the share of the receiver's width that sees
// the sun. What a row of beam holds beyond this share times Gain comes by the
// mirror, in proportion to its reflectance.
func (t *Tabulator) Tabulate(h *Heater, beam, direct []float32, stride, lane int) {
	q := newQuick(h.Section)
	// Simpson's rule over a bin; neighbouring bins share their edge.
	edge := q.Factors(inside)
	for i := range PsiBins {
		middle := BinMiddle(i)
		mid := q.Factors(middle)
		next := q.Factors(sun.Angle(float64(i+1)*psiBin - inside))
		a := mid
		a.Direct = (edge.Direct + 4*mid.Direct + next.Direct) / 6
		a.Fmir = (edge.Fmir + 4*mid.Fmir + next.Fmir) / 6
		if mid.Path == 0 {
			a.Path = max(edge.Path, next.Path)
		}
		direct[i*stride+lane] = float32(a.Direct)
		sin := math.Abs(math.Sin(float64(a.Nominal)))
		for j, s2 := range s2Bins {
			row := i*S2Bins + j
			b := t.gain[row] * a.Direct
			if a.Fmir > 0 {
				b += h.rho * t.receiver.Kb.At(incidence(s2*sin)) * a.Fmir * (1 - h.endLoss(a.Path, s2))
			}
			beam[row*stride+lane] = float32(b)
		}
		edge = next
	}
}

// s2Bins are the s2 that stand for the bins.
var s2Bins = func() (s [S2Bins]float64) {
	for j := range s {
		s[j] = binS2(j)
	}
	return s
}()

// binS2 gives the s2 that stands for a bin.
func binS2(j int) float64 { return math.Sqrt(1 - (float64(j)+0.5)/S2Bins) }
