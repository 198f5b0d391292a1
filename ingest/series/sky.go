package series

import (
	"math"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// samples is how many instants of an hour its clear sky is the mean of.
const samples = 6

// A clearHour is what a cloudless sky gives in one hour of the year, means over
// the hour, W/m².
type clearHour struct{ normal, beam, diffuse float64 }

func (c *clearHour) global() float64 { return c.beam + c.diffuse }
func (c *clearHour) lit() bool       { return c.normal > 0 }

// A shape is one part of a clear sky's irradiance.
type shape func(*clearHour) float64

func normal(c *clearHour) float64  { return c.normal }
func beam(c *clearHour) float64    { return c.beam }
func diffuse(c *clearHour) float64 { return c.diffuse }

// A clearYear is every hour of a year without a leap day, in local standard time.
// The years differ so little in it that one serves all.
type clearYear []clearHour

// newClearYear works out a sky at the place and in the zone of a site. The sun's
// declination, distance and hour angle run straight from midnight to midnight,
// which is within 0.001° of the sun.
func newClearYear(site *weather.Site) clearYear {
	const year = 2001
	const step = 1.0 / (24 * samples) // day
	place := sun.NewPlace(sun.Angle(site.Lat)*sun.Degree, sun.Angle(site.Lon)*sun.Degree)
	clear := make(clearYear, weather.Hours)
	jd := sun.JulianDate(year, 1, 1, -site.UTCOffset)
	end := newMidnight(place, jd)
	for m, days := range weather.MonthDays {
		climate := sky.ClimateAt(site.Lat, m+1)
		for d := range days {
			start := end
			jd++
			end = newMidnight(place, jd)
			turn := 2*math.Pi + math.Remainder(end.w-start.w, 2*math.Pi) // of the hour angle in a day
			sinW, cosW := math.Sincos(start.w + turn*step/2)
			sinStep, cosStep := math.Sincos(turn * step)
			at := monthStart[m] + 24*d
			for i := range 24 * samples {
				t := (float64(i) + 0.5) * step
				if up := start.a + (end.a-start.a)*t + (start.b+(end.b-start.b)*t)*cosW; up > 0 {
					clear[at+i/samples].add(up, (start.e0n+(end.e0n-start.e0n)*t)/samples, site.Elevation, climate)
				}
				sinW, cosW = sinW*cosStep+cosW*sinStep, cosW*cosStep-sinW*sinStep
			}
		}
	}
	return clear
}

// add adds an instant with the sine of the altitude up > 0; e0n is its part of
// the mean irradiance outside the atmosphere, normal to the sun.
func (c *clearHour) add(up, e0n, elevation float64, climate sky.Climate) {
	beam, diffuse := sky.Hottel(up, elevation, climate)
	c.normal += e0n * beam
	c.beam += e0n * beam * up
	c.diffuse += e0n * diffuse * up
}

// A midnight is the sun at the beginning of a day: the sine of its altitude over
// the place is a + b·cos w of its hour angle w.
type midnight struct {
	a, b, w float64
	e0n     float64 // irradiance outside the atmosphere, normal to the sun, W/m²
}

func newMidnight(p sun.Place, jd float64) midnight {
	e := sun.At(jd)
	high, low := p.Vector(e, 0).Up, p.Vector(e, math.Pi).Up
	return midnight{
		a: (high + low) / 2, b: (high - low) / 2,
		w: float64(p.HourAngle(e)), e0n: sun.SolarConstant / (e.Distance * e.Distance),
	}
}
