package collector

import (
	"math"

	"stillrow/simulate/sun"
)

// smallestUp keeps the circumsolar light finite near the horizon: the sine of
// 5°. Source: Hay and Davies 1980 as commonly limited.
const smallestUp = 0.0872

// A Ray is the beam at one instant, seen by a row.
type Ray struct {
	Psi   sun.Angle // profile angle
	S2    float64   // length of the sun's unit vector in the section plane, 0…1
	Along float64   // its component along the row, + towards west
	Up    float64   // its component upwards
	DNI   float64   // W/m² counted for this instant: beam and circumsolar, over the number of instants
}

// A Light is the light of an hour as a row of one azimuth receives it.
type Light struct {
	Rays      []Ray   // none with the sun down
	Isotropic float64 // W/m² on the horizontal, without the circumsolar part
	Ground    float64 // W/m² sent up by the ground
	Ai        float64 // anisotropy index of the hour
}

// LightOf resolves an hour's irradiance: ghi, dni and dhi are means over the
// whole hour, fraction its sunlit part, at the sun at instants of that part
// and distance the earth's, in astronomical units. With the sun down beam
// counts 0. rays is reused.
// Source: Hay and Davies 1980 for the circumsolar part.
func LightOf(rays []Ray, ghi, dni, dhi, fraction, distance float64, at []sun.Vector, azimuth sun.Angle, g Ground) Light {
	l := Light{Rays: rays[:0]}
	front := sun.Facing(azimuth)
	for _, v := range at {
		sx, sy, sz := front.Row(v)
		l.Rays = append(l.Rays, Ray{Psi: sun.Profile(sx, sz), S2: math.Sqrt(sx*sx + sz*sz), Along: sy, Up: sz})
	}
	l.Shine(ghi, dni, dhi, fraction, distance, g)
	return l
}

// Shine gives the same sun another irradiance.
func (l *Light) Shine(ghi, dni, dhi, fraction, distance float64, g Ground) {
	l.Spread(ghi, dni, dhi, fraction, distance, g)
	n := 1 / float64(len(l.Rays))
	for i := range l.Rays {
		l.Rays[i].DNI = n * (dni + l.Ai*dhi/max(l.Rays[i].Up, smallestUp))
	}
}

// Spread is Shine but for the rays: the isotropic light, that of the ground, and
// the anisotropy index, 0 in an hour without a sunlit fraction.
func (l *Light) Spread(ghi, dni, dhi, fraction, distance float64, g Ground) {
	l.Isotropic, l.Ground, l.Ai = dhi, g.Albedo*ghi, 0
	if fraction > 0 {
		l.Ai = min(1, max(0, dni/fraction/(sun.SolarConstant/(distance*distance))))
		l.Isotropic = (1 - l.Ai) * dhi
	}
}

// Scale writes what weights of rays, each in proportion to its DNI, become when
// an hour of dni and dhi with the sun at at has them multiplied by a number:
// its light, which is l, becomes that of to.
func (l *Light) Scale(dst, weights []float32, at []sun.Vector, dni, dhi, by float64, to *Light) {
	for i, v := range at {
		up := max(v.Up, smallestUp)
		dst[i] = 0
		if was := dni*up + l.Ai*dhi; was > 0 {
			dst[i] = float32(float64(weights[i]) * by * (dni*up + to.Ai*dhi) / was)
		}
	}
}

// A Heater is a design with its receiver and mirror: the optics that do not
// change from hour to hour.
type Heater struct {
	*Section
	Receiver    *Receiver
	Mirror      Mirror
	Sky, Ground float64 // diffuse shares, see Section.Diffuse
	Mirrored    float64 // the part of Sky that comes by the mirrors, at reflectance 1
}

// NewHeater works out the diffuse shares of a design.
func NewHeater(d Design, r *Receiver, m Mirror) *Heater {
	h := &Heater{Section: NewSection(d, m), Receiver: r, Mirror: m}
	h.Sky, h.Mirrored, h.Ground = h.diffuse()
	return h
}

// Factors are what a section does with the beam at one profile angle.
type Factors struct {
	Direct float64 // fraction of the receiver's width that sees the sun
	Reflection
}

// Factors gives the section's factors at a profile angle.
func (s *Section) Factors(psi sun.Angle) Factors { return Factors{s.Direct(psi), s.Reflect(psi)} }

// beam gives what the receiver absorbs, before η0b, of a beam of 1 W/m²,
// divided by s2: (Kb·sz·Fdir + ρ·Kb·s2·Fmir·(1 − end loss))/s2.
func (h *Heater) beam(f Factors, psi sun.Angle, s2 float64) float64 {
	sin := math.Sin(float64(psi))
	if sin <= 0 {
		return 0
	}
	b := 0.0
	if f.Direct > 0 {
		b = h.Receiver.Kb.At(incidence(s2*sin)) * sin * f.Direct
	}
	if f.Fmir > 0 {
		cos := s2 * math.Abs(math.Sin(float64(f.Nominal)))
		b += h.rho * h.Receiver.Kb.At(incidence(cos)) * f.Fmir * (1 - h.endLoss(f.Path, s2))
	}
	return b
}

func incidence(cos float64) sun.Angle { return sun.Angle(math.Acos(min(1, max(0, cos)))) }

// endLoss is the share of the reflected beam that lands past the row's end.
func (h *Heater) endLoss(path, s2 float64) float64 {
	if h.design.RowLength == 0 {
		return 0
	}
	if s2 == 0 {
		return 1
	}
	sy := math.Sqrt(max(0, 1-s2*s2))
	return min(1, path*sy/(s2*h.design.RowLength))
}

// Absorbed gives the light the receiver absorbs in an hour, W/m².
func (h *Heater) Absorbed(l Light) float64 { return h.AbsorbedBy(l, h.Factors) }

// AbsorbedBy is Absorbed with the section's factors looked up elsewhere.
func (h *Heater) AbsorbedBy(l Light, factors func(psi sun.Angle) Factors) float64 {
	var beam float64
	for _, r := range l.Rays {
		beam += r.DNI * r.S2 * h.beam(factors(r.Psi), r.Psi, r.S2)
	}
	return h.Receiver.Eta0b * (beam + h.Receiver.Kd*(h.Sky*l.Isotropic+h.Ground*h.rho*l.Ground))
}
