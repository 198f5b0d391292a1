package series

import (
	"math"

	"stillrow/simulate/sun"
)

// Noon tells how far the irradiance of the days centres from solar noon, in
// minutes, later positive, under the three readings of a stamp: it begins its
// interval, is in its middle, or ends it. Days count by their energy. Stamps are
// UTC, or standard time of the longitude's whole hour where local is set; lat
// and lon are degrees. The result is not ok when less than ten days have sun
// enough.
func Noon(global Column, lat, lon float64, local bool) (minutes [3]float64, ok bool) {
	const (
		day      = 86400
		leastDay = 500 // W/m² summed over a day's hours
	)
	a := global.Axis
	place := sun.NewPlace(sun.Angle(lat)*sun.Degree, sun.Angle(lon)*sun.Degree)
	offset := int64(math.Round(lon/15)) * 3600 // of local time
	toLocal := offset
	if local {
		toLocal = 0
	}
	var energy, moment, total, shifted float64
	days := 0
	today, first := int64(math.MinInt64), int64(0)
	end := func() {
		if energy*float64(a.Step)/3600 < leastDay {
			return
		}
		// The hour angle at clock noon is how long ago noon was.
		jd := float64(today*day+day/2-offset)/day + 2440587.5
		noon := day/2 - float64(place.HourAngle(sun.At(jd)))/(2*math.Pi)*day
		total += energy
		shifted += energy * (moment/energy - noon)
		days++
	}
	for i, s := range a.Stamp {
		d := floorDiv(s+toLocal, day)
		if d != today {
			if today != math.MinInt64 {
				end()
			}
			today, first, energy, moment = d, d*day, 0, 0
		}
		if v := float64(global.Values[i]); v > 0 {
			energy += v
			moment += v * float64(s+toLocal-first)
		}
	}
	end()
	const leastDays = 10
	if days < leastDays {
		return minutes, false
	}
	stamp := shifted / total / 60
	half := float64(a.Step) / 120
	return [3]float64{stamp + half, stamp, stamp - half}, true
}
