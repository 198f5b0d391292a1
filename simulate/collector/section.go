package collector

import (
	"math"

	"stillrow/simulate/sun"
)

// neighbours is how many rows of the endless field are looked at on each side.
const neighbours = 3

// A Section is a design drawn in its plane, ready for optics: it gives the
// shares of light that reach the receiver of row 0.
type Section struct {
	design   Design
	rho      float64
	sigma    float64 // rad
	beta     float64 // mirror tilt, rad
	ux, uz   float64 // along the mirror, from foot to top
	footX    float64
	rows     int // neighbours on each side; 0 for a single row
	noMirror bool
}

// NewSection takes a valid design and mirror.
func NewSection(d Design, m Mirror) *Section {
	s := &Section{design: d, rho: m.Rho(), sigma: m.Spread(), beta: d.MirrorTilt * float64(sun.Degree)}
	s.uz, s.ux = math.Sincos(s.beta)
	s.footX = d.ReceiverWidth + d.Setback
	s.noMirror = d.MirrorLength == 0
	if d.RowPitch > 0 {
		s.rows = neighbours
	}
	return s
}

// Design gives the design the section was drawn from.
func (s *Section) Design() Design { return s.design }

// Nominal gives the direction of the central reflected ray, 2β + ψ.
func (s *Section) Nominal(psi sun.Angle) sun.Angle { return sun.Angle(2*s.beta) + psi }

// A point of the section plane, m.
type point struct{ x, z float64 }

// foot and top give the ends of the mirror of row k.
func (s *Section) foot(k int) point {
	return point{s.footX + float64(k)*s.design.RowPitch, s.design.Raise}
}

func (s *Section) top(k int) point {
	f := s.foot(k)
	return point{f.x + s.design.MirrorLength*s.ux, f.z + s.design.MirrorLength*s.uz}
}

// at gives the point of mirror 0 at slant l.
func (s *Section) at(l float64) point {
	return point{s.footX + l*s.ux, s.design.Raise + l*s.uz}
}

// A span is an interval of lengths or angles, empty unless hi > lo.
type span struct{ lo, hi float64 }

// cut takes the span c out of the spans and returns what is left, in order.
func cut(spans []span, c span) []span {
	if c.hi <= c.lo {
		return spans
	}
	var left []span
	for _, s := range spans {
		if c.hi <= s.lo || c.lo >= s.hi {
			left = append(left, s)
			continue
		}
		if c.lo > s.lo {
			left = append(left, span{s.lo, c.lo})
		}
		if c.hi < s.hi {
			left = append(left, span{c.hi, s.hi})
		}
	}
	return left
}

// Direct gives the fraction of the receiver's width that sees the sun at
// profile angle psi, with the hard shadows of every mirror; 0 unless the sun
// is above the horizon.
func (s *Section) Direct(psi sun.Angle) float64 {
	sin, cos := math.Sincos(float64(psi))
	if sin <= 0 {
		return 0
	}
	w := s.design.ReceiverWidth
	if s.noMirror {
		return 1
	}
	// Shadows are equal and lie a pitch apart, the most equatorward first.
	var sum, from float64
	for k := -s.rows; k <= s.rows; k++ {
		f, t := s.foot(k), s.top(k)
		a, b := f.x+f.z*cos/sin, t.x+t.z*cos/sin
		lo, hi := max(min(a, b), 0), min(max(a, b), w)
		if hi <= lo {
			continue
		}
		if lo > from {
			sum += lo - from
		}
		from = max(from, hi)
	}
	return (sum + max(0, w-from)) / w
}
