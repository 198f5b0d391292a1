// Package day gives the sun's way over a place in one day: quick enough for the
// hours of thousands of places, and within 0.003° of package sun.
package day

import (
	"math"

	"stillrow/simulate/sun"
)

// A Way is the sun's way over a place from one midnight of local standard time to
// the next. The sine of its altitude is a + b·cos ω of the hour angle; a, b and the
// pace of ω change so little in a day that they are drawn straight between two
// ephemerides, and a few hours beyond.
type Way struct {
	a, b, w, e0n       float64 // at the start
	aDay, bDay, e0nDay float64 // change in the day
	turn               float64 // hour angle run through in the day, about 2π
}

// Between draws the way from the ephemeris at a midnight to that a day later.
func Between(p sun.Place, start, end sun.Ephemeris) Way {
	a1, b1 := circle(p, start)
	a2, b2 := circle(p, end)
	e1, e2 := outside(start), outside(end)
	w := float64(p.HourAngle(start))
	return Way{
		a: a1, b: b1, w: w, e0n: e1,
		aDay: a2 - a1, bDay: b2 - b1, e0nDay: e2 - e1,
		turn: 2*math.Pi + math.Remainder(float64(p.HourAngle(end))-w, 2*math.Pi),
	}
}

// circle gives a and b at the declination of an ephemeris.
func circle(p sun.Place, e sun.Ephemeris) (a, b float64) {
	noon, midnight := p.Vector(e, 0).Up, p.Vector(e, math.Pi).Up
	return (noon + midnight) / 2, (noon - midnight) / 2
}

// outside gives the irradiance outside the atmosphere, normal to the sun.
func outside(e sun.Ephemeris) float64 { return sun.SolarConstant / (e.Distance * e.Distance) }

// E0n gives the irradiance outside the atmosphere, normal to the sun, W/m², at a
// time in days from the start.
func (d *Way) E0n(t float64) float64 { return d.e0n + d.e0nDay*t }

// At gives a, b and the hour angle ω, radians and maybe beyond a turn, at a time
// in days from the start.
func (d *Way) At(t float64) (a, b, w float64) {
	return d.a + d.aDay*t, d.b + d.bDay*t, d.w + d.turn*t
}

// Turn is the hour angle run through in the day, radians.
func (d *Way) Turn() float64 { return d.turn }

// Up fills up with the sines of the sun's altitude, 0 when it is down, from a
// time on at equal steps, both in days.
func (d *Way) Up(first, step float64, up []float64) {
	sinStep, cosStep := math.Sincos(d.turn * step)
	sinW, cosW := math.Sincos(d.w + d.turn*first)
	for i := range up {
		t := first + float64(i)*step
		up[i] = max(0, d.a+d.aDay*t+(d.b+d.bDay*t)*cosW)
		sinW, cosW = sinW*cosStep+cosW*sinStep, cosW*cosStep-sinW*sinStep
	}
}

// A Walk draws the ways of days in a row, each ephemeris worked out once.
type Walk struct {
	place sun.Place
	end   sun.Ephemeris
	until float64 // Julian date of end; 0 before the first day
}

// NewWalk takes the latitude and longitude of a place, degrees.
func NewWalk(lat, lon float64) *Walk {
	return &Walk{place: sun.NewPlace(sun.Angle(lat)*sun.Degree, sun.Angle(lon)*sun.Degree)}
}

// Day gives the way of the day that starts at a Julian date, UT.
func (w *Walk) Day(jd float64) Way {
	start := w.end
	if jd != w.until {
		start = sun.At(jd)
	}
	w.until = jd + 1
	w.end = sun.At(w.until)
	return Between(w.place, start, w.end)
}
