package series

import (
	"stillrow/ingest/day"
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

// newClearYear works out a sky at the place and in the zone of a site.
func newClearYear(site *weather.Site) clearYear {
	const year = 2001
	const step = 1.0 / (24 * samples) // day
	clear := make(clearYear, weather.Hours)
	walk := day.NewWalk(site.Lat, site.Lon)
	start := sun.JulianDate(year, 1, 1, -site.UTCOffset)
	var up [24 * samples]float64
	h := 0
	for m, days := range weather.MonthDays {
		climate := sky.ClimateAt(site.Lat, m+1)
		for range days {
			way := walk.Day(start + float64(h/24))
			way.Up(step/2, step, up[:])
			e0n := way.E0n(0.5) / samples
			for i, u := range up {
				if u > 0 {
					clear[h+i/samples].add(u, e0n, site.Elevation, climate)
				}
			}
			h += 24
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
