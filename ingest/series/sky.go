package series

import (
	"time"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// samples is how many instants of an hour's sunlit part stand for it.
const samples = 4

// A clearHour is what a cloudless sky gives in one hour of the year, means over
// the hour, W/m².
type clearHour struct{ normal, beam, diffuse float64 }

func (c clearHour) global() float64 { return c.beam + c.diffuse }
func (c clearHour) lit() bool       { return c.normal > 0 }

// A clearYear is every hour of a year without a leap day. The years differ so
// little in it that one serves all.
type clearYear []clearHour

// newClearYear takes local standard time offset h ahead of UTC.
func newClearYear(site *weather.Site, offset float64) clearYear {
	const year = 2001
	place := sun.NewPlace(sun.Angle(site.Lat)*sun.Degree, sun.Angle(site.Lon)*sun.Degree)
	start := sun.JulianDate(year, 1, 1, -offset)
	clear := make(clearYear, weather.Hours)
	var at [samples]sun.Vector
	h := 0
	for m, days := range weather.MonthDays {
		climate := sky.ClimateAt(site.Lat, m+1)
		for range 24 * days {
			lit, fraction, mid := place.Sunlit(at[:0], start+float64(h)/24, samples)
			e0n := sun.SolarConstant / (mid.Distance * mid.Distance)
			for _, v := range lit {
				beam, diffuse := sky.Hottel(v.Up, site.Elevation, climate)
				part := e0n * fraction / float64(len(lit))
				clear[h].normal += part * beam
				clear[h].beam += part * beam * v.Up
				clear[h].diffuse += part * diffuse * v.Up
			}
			h++
		}
	}
	return clear
}

// hour gives the sky of an hour of local time since 1970. A 29 February has that
// of the day before.
func (c clearYear) hour(hour int64) clearHour {
	t := time.Unix(hour*3600, 0).UTC()
	return c[hourOfYear(int(t.Month()), min(t.Day(), weather.MonthDays[t.Month()-1]), t.Hour())]
}

// hourOfYear counts from 0 in a year without a leap day; months and days from 1.
func hourOfYear(month, day, hour int) int {
	for _, n := range weather.MonthDays[:month-1] {
		day += n
	}
	return 24*(day-1) + hour
}
