// Package sun gives the position of the sun: unrefracted, topocentric, for any
// instant of 1950 to 2050 within 0.01°.
//
// Two azimuth conventions meet here and nowhere else. Position.Azimuth runs
// clockwise from north. A Vector has its axes on the site: towards the equator
// (south where the latitude is 0 or more, else north), towards west, and up.
package sun

import "math"

// An Angle is in radians; degrees exist in files and flags only.
type Angle float64

// Degree converts: 30*Degree is 30°.
const Degree Angle = math.Pi / 180

// Degrees gives the angle in degrees.
func (a Angle) Degrees() float64 { return float64(a) * (180 / math.Pi) }

// SolarConstant is the total solar irradiance at one astronomical unit, W/m².
// Source: Kopp and Lean 2011, Geophys. Res. Lett. 38, L01706 (1360.8, rounded).
const SolarConstant = 1361.0

// parallax is the earth's mean radius over the astronomical unit: how far an
// observer on the ground stands from the centre the ephemeris refers to.
const parallax = 6371.01 / 149597870.7

// An Ephemeris is the sun seen from the earth's centre at one instant.
type Ephemeris struct {
	Declination Angle
	HourAngle   Angle   // at Greenwich, −π…π, 0 at the upper transit, + in the afternoon
	Distance    float64 // astronomical units
}

// JulianDate gives the Julian date of a day of the Gregorian calendar at the
// given hour UT, which may lie outside 0…24.
// Source: Meeus, Astronomical Algorithms, 2nd ed. 1998, eq. 7.1.
func JulianDate(year, month, day int, hourUT float64) float64 {
	y, m := year, month
	if m <= 2 {
		y--
		m += 12
	}
	a := floorDiv(y, 100)
	b := 2 - a + floorDiv(a, 4)
	return math.Floor(365.25*float64(y+4716)) + math.Floor(30.6001*float64(m+1)) +
		float64(day+b) - 1524.5 + hourUT/24
}

func floorDiv(a, b int) int { return int(math.Floor(float64(a) / float64(b))) }

// At computes the ephemeris for a Julian date in UT.
// Source: Meeus, Astronomical Algorithms, 2nd ed. 1998, chapter 25, low
// accuracy (0.01°), with nutation in its two leading terms and chapter 12 for
// sidereal time. Terrestrial time runs ahead of UT by about a minute within
// the range, which moves the sun by under 0.001°; it is taken as 60 s.
func At(jd float64) Ephemeris {
	const deltaT = 60.0 / 86400
	t := (jd + deltaT - 2451545) / 36525
	l0 := 280.46646 + t*(36000.76983+t*0.0003032)
	m := rad(357.52911 + t*(35999.05029-t*0.0001537))
	e := 0.016708634 - t*(0.000042037+t*0.0000001267)
	c := (1.914602-t*(0.004817+t*0.000014))*math.Sin(m) +
		(0.019993-t*0.000101)*math.Sin(2*m) + 0.000289*math.Sin(3*m)
	omega := rad(125.04 - 1934.136*t)
	nutation := -0.00478 * math.Sin(omega) // in longitude, degrees
	lambda := rad(l0 + c - 0.00569 + nutation)
	eps := rad(23.439291 - t*0.0130042 + 0.00256*math.Cos(omega))
	sinL, cosL := math.Sincos(lambda)
	sinE, cosE := math.Sincos(eps)
	ra := math.Atan2(cosE*sinL, cosL)

	d := jd - 2451545
	gmst := 280.46061837 + 360.98564736629*d + nutation*cosE // apparent, degrees
	h := rad(gmst) - ra
	return Ephemeris{
		Declination: Angle(math.Asin(sinE * sinL)),
		HourAngle:   Angle(math.Remainder(h, 2*math.Pi)),
		Distance:    1.000001018 * (1 - e*e) / (1 + e*math.Cos(m+rad(c))),
	}
}

func rad(deg float64) float64 { return math.Remainder(deg, 360) * (math.Pi / 180) }

// A Vector is the unit vector towards the sun in the axes of a site.
type Vector struct {
	Equator float64 // towards the equator; towards south at latitude 0
	West    float64
	Up      float64 // sine of the altitude
}

// A Place is a latitude with its sine and cosine ready, and a longitude.
type Place struct {
	sinLat, cosLat float64
	hemisphere     float64 // +1 where the equator lies to the south
	lon            Angle
}

// NewPlace takes latitude (north +) and longitude (east +).
func NewPlace(lat, lon Angle) Place {
	s, c := math.Sincos(float64(lat))
	p := Place{sinLat: s, cosLat: c, hemisphere: 1, lon: lon}
	if lat < 0 {
		p.hemisphere = -1
	}
	return p
}

// Vector gives the direction to the sun's centre at hour angle ω (0 at local
// noon, + in the afternoon) with the declination of e, parallax included.
func (p Place) Vector(e Ephemeris, hourAngle Angle) Vector {
	sinD, cosD := math.Sincos(float64(e.Declination))
	return p.vector(sinD, cosD, newTurn(float64(hourAngle)), e.Distance)
}

// vector is Vector by sines and cosines.
func (p Place) vector(sinD, cosD float64, w turn, distance float64) Vector {
	south := cosD*w.cos*p.sinLat - sinD*p.cosLat
	up := sinD*p.sinLat + cosD*w.cos*p.cosLat - parallax/distance
	west := cosD * w.sin
	n := 1 / math.Sqrt(south*south+west*west+up*up)
	return Vector{Equator: south * n * p.hemisphere, West: west * n, Up: up * n}
}

// HourAngle gives the local hour angle for the ephemeris, −π…π.
func (p Place) HourAngle(e Ephemeris) Angle {
	return Angle(math.Remainder(float64(e.HourAngle+p.lon), 2*math.Pi))
}

// Sun gives the direction to the sun at a Julian date in UT.
func (p Place) Sun(jd float64) Vector {
	e := At(jd)
	return p.Vector(e, p.HourAngle(e))
}

// Altitude gives the angle above the horizon, unrefracted.
func (v Vector) Altitude() Angle {
	return Angle(math.Atan2(v.Up, math.Hypot(v.Equator, v.West)))
}

// Azimuth gives the azimuth clockwise from north, 0…2π, of a vector at p.
func (p Place) Azimuth(v Vector) Angle {
	a := math.Atan2(-v.West, -v.Equator*p.hemisphere)
	if a < 0 {
		a += 2 * math.Pi
	}
	return Angle(a)
}

// Octant gives the eighth of the compass that the azimuth of a vector at p is
// nearest to: 0 is north, 1 north-east, and so on clockwise.
func (p Place) Octant(v Vector) int {
	const tan = 0.41421356237309503 // of 22.5°
	north, east := -v.Equator*p.hemisphere, -v.West
	switch n, e := math.Abs(north), math.Abs(east); {
	case e <= tan*n && north >= 0:
		return 0
	case e <= tan*n:
		return 4
	case n <= tan*e && east >= 0:
		return 2
	case n <= tan*e:
		return 6
	case north > 0 && east > 0:
		return 1
	case east > 0:
		return 3
	case north < 0:
		return 5
	}
	return 7
}

// Row turns the vector into the axes of a row whose equatorward normal is
// turned by azimuth from the meridian, + towards west: x poleward, y along the
// row, z up, as the section is drawn.
func (v Vector) Row(azimuth Angle) (sx, sy, sz float64) { return Facing(azimuth).Row(v) }

// A Front is the way a row faces, with sine and cosine ready.
type Front struct{ sin, cos float64 }

// Facing gives the front of a row whose equatorward normal is turned by azimuth.
func Facing(azimuth Angle) Front {
	s, c := math.Sincos(float64(azimuth))
	return Front{s, c}
}

// Row is Vector.Row.
func (f Front) Row(v Vector) (sx, sy, sz float64) {
	return -(v.Equator*f.cos + v.West*f.sin), v.West*f.cos - v.Equator*f.sin, v.Up
}

// Vector is the inverse of Row.
func (f Front) Vector(x, y, z float64) Vector {
	return Vector{Equator: -x*f.cos - y*f.sin, West: y*f.cos - x*f.sin, Up: z}
}

// Profile gives the profile angle of a sun direction in row axes, −π…π: 0 at
// the equatorward horizon, π/2 overhead, more with the sun poleward.
func Profile(sx, sz float64) Angle { return Angle(math.Atan2(sz, -sx)) }
