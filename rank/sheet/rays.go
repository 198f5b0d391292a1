package sheet

import (
	"fmt"
	"math"
)

// obliquity of the ecliptic, degrees: the sun's declination at a solstice.
// Source: 23° 26′, any almanac.
const obliquity = 23.44

// A sun is that of one date at solar noon in the section plane, x poleward
// and z up.
type sun struct {
	name        string
	declination float64
	altitude    float64 // degrees; not above 0 in the polar night
	profile     float64 // degrees from the equatorward horizon; above 90 the sun stands poleward
}

// suns are those of the solstices and equinoxes at a latitude, for a row whose
// open side is turned by azimuth.
func suns(lat, azimuth float64) [3]sun {
	list := [3]sun{{name: "June solstice", declination: obliquity}, {name: "equinoxes"}, {name: "December solstice", declination: -obliquity}}
	for i := range list {
		s := &list[i]
		// From the equatorward horizon through the zenith; a northern place has
		// its equator in the south, where a greater declination is higher up.
		dec := s.declination
		if lat < 0 {
			dec = -dec
		}
		sin, cos := math.Sincos((90 - math.Abs(lat) + dec) * math.Pi / 180)
		s.altitude = math.Asin(max(-1, min(1, sin))) * 180 / math.Pi
		s.profile = math.Atan2(sin, cos*math.Cos(azimuth*math.Pi/180)) * 180 / math.Pi
	}
	return list
}

// up tells whether the sun stands above the horizon.
func (s *sun) up() bool { return s.altitude > 1e-9 }

// A point of the section plane, m.
type point struct{ x, z float64 }

// A spot is what the mirror does with the noon sun: parallel rays, no
// blur.
type spot struct {
	lit       bool    // the front sees the sun
	down      bool    // the reflected rays fall towards the ground
	direction float64 // of the reflected rays, degrees: 2·tilt + profile
	low, high point   // ends of the part of the mirror that no other mirror shades
	from, to  float64 // where the rays from low and high meet the ground, x in m
	onLow     float64 // the part of them that lies on the receiver, from the equatorward edge
	onHigh    float64 // not above onLow where none does
	gain      float64 // light on the receiver per its width and beam in the section plane, at reflectance 1
}

// onReceiver tells whether any of it lands on the receiver.
func (p *spot) onReceiver() bool { return p.onHigh > p.onLow }

// mirrorAt gives the point of the mirror at slant l.
func (s *Sheet) mirrorAt(l float64) point {
	sin, cos := math.Sincos(s.Design.MirrorTilt * math.Pi / 180)
	return point{s.Design.ReceiverWidth + s.Design.Setback + l*cos, s.Design.Raise + l*sin}
}

// spotOf reflects the sun at a profile angle in the mirror, and finds what of it
// lands on the receiver. That a mirror of the row in front could stand in the way
// of reflected rays, leaning back over this receiver, is left out.
func (s *Sheet) spotOf(profile float64) spot {
	d := &s.Design
	tilt, psi := d.MirrorTilt*math.Pi/180, profile*math.Pi/180
	p := spot{direction: 2*d.MirrorTilt + profile}
	if d.MirrorLength == 0 || math.Sin(psi) <= 0 || math.Sin(tilt+psi) <= 0 {
		return p
	}
	p.lit = true
	a, b := s.unshadedFrom(tilt, psi), d.MirrorLength
	if b <= a {
		return p
	}
	p.low, p.high = s.mirrorAt(a), s.mirrorAt(b)
	// The ray on the mirror runs along (cos ψ, −sin ψ); the mirror's normal takes
	// its part across away twice.
	nx, nz := -math.Sin(tilt), math.Cos(tilt)
	dx, dz := math.Cos(psi), -math.Sin(psi)
	across := dx*nx + dz*nz
	rx, rz := dx-2*across*nx, dz-2*across*nz
	if rz >= -1e-12 {
		return p
	}
	p.down = true
	land := func(at point) float64 { return at.x - at.z*rx/rz }
	p.from, p.to = land(p.low), land(p.high)
	lo, hi := min(p.from, p.to), max(p.from, p.to)
	p.onLow, p.onHigh = max(lo, 0), min(hi, d.ReceiverWidth)
	if hi > lo && p.onReceiver() {
		// Every length of the mirror sends as much as it stands across the rays.
		p.gain = math.Sin(tilt+psi) * (b - a) * (p.onHigh - p.onLow) / (hi - lo) / d.ReceiverWidth
	}
	return p
}

// unshadedFrom gives the slant from which on the mirror sees the sun past the
// mirror of the row in front; all are parallel, so the shadow begins at the foot.
func (s *Sheet) unshadedFrom(tilt, psi float64) float64 {
	d := &s.Design
	if d.RowPitch == 0 {
		return 0
	}
	// foot + l·u = foot in front + t·(cos ψ, −sin ψ), as far up as that mirror is long.
	return max(0, d.MirrorLength-d.RowPitch*math.Sin(psi)/math.Sin(tilt+psi))
}

// says puts sun and spot in words, in few where brief.
func (s *Sheet) says(n *sun, brief bool) string {
	if !n.up() {
		return "below the horizon"
	}
	text := fmt.Sprintf("%.0f° high", n.altitude)
	if n.profile > 90 {
		text += " in the " + s.poleward()
	}
	if !s.mirrored() {
		return text
	}
	p := s.spotOf(n.profile)
	switch {
	case !p.lit:
		return text + ", behind the mirror"
	case !p.down:
		return text + ", mirror's light leaves upwards"
	case !p.onReceiver():
		return text + ", spot beside the receiver"
	}
	share, times := 100*(p.onHigh-p.onLow)/s.Design.ReceiverWidth, 1+s.Rho*p.gain/math.Sin(n.profile*math.Pi/180)
	if brief {
		return fmt.Sprintf("%s, lights %.0f %% of the receiver, direct light × %.2f", text, share, times)
	}
	return fmt.Sprintf("%s, spot from %.2f to %.2f m of the receiver's width, %.0f %% of it; the receiver's direct light is %.2f times that without a mirror", text, p.onLow, p.onHigh, share, times)
}
