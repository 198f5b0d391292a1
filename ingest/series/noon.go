package series

import (
	"math"

	"stillrow/simulate/sun"
)

// Noon tells how far the irradiance of the days centres from solar noon, in
// minutes, later positive, under the three readings of a stamp: it begins its
// interval, is in its middle, or ends it. Days count by their energy. Stamps are
// UTC, or standard time of the longitude's whole hour where local is set; lat
// and lon are degrees. Days of local time that lack a stamp, or a value between
// others, do not count; the result is not ok when less than ten have sun enough.
func Noon(global Column, lat, lon float64, local bool) (minutes [3]float64, ok bool) {
	const leastDays = 10
	place := sun.NewPlace(sun.Angle(lat)*sun.Degree, sun.Angle(lon)*sun.Degree)
	zone := int64(math.Round(lon/15)) * 3600
	toLocal := zone
	if local {
		toLocal = 0
	}
	a := global.Axis
	days := 0
	var energy, moment float64 // of the days that count; W/m² and W/m²·s from noon
	var d sunDay
	end := func() {
		if !d.whole(a.Step) {
			return
		}
		// The hour angle at clock noon is how long ago noon was.
		jd := float64(d.day*daySeconds+daySeconds/2-zone)/daySeconds + epoch
		noon := daySeconds/2 - float64(place.HourAngle(sun.At(jd)))/(2*math.Pi)*daySeconds
		energy += d.energy
		moment += d.moment - d.energy*noon
		days++
	}
	for i, s := range a.Stamp {
		t := s + toLocal
		if day := floorDiv(t, daySeconds); i == 0 || day != d.day {
			end()
			d = sunDay{day: day}
		}
		d.add(float64(t-d.day*daySeconds), float64(global.Values[i]))
	}
	end()
	if days < leastDays {
		return minutes, false
	}
	stamp := moment / energy / 60
	half := float64(a.Step) / 120
	return [3]float64{stamp + half, stamp, stamp - half}, true
}

// epoch is the Julian date of 1970-01-01 00:00 UT.
const epoch = 2440587.5

// A sunDay sums the irradiance of one day of local time.
type sunDay struct {
	day            int64 // since 1970
	stamps         int
	energy, moment float64 // W/m², and W/m²·s from midnight
	gap, broken    bool    // a value lacks since the sun rose, and the sun shone after
}

// add takes the value at some seconds of the day.
func (d *sunDay) add(at, v float64) {
	d.stamps++
	switch {
	case v > 0:
		d.broken = d.broken || d.gap
		d.energy += v
		d.moment += v * at
	case v != v:
		d.gap = d.gap || d.energy > 0
	}
}

// whole tells whether the day tells its centre.
func (d *sunDay) whole(step int64) bool {
	const least = 500 // Wh/m²
	return !d.broken && int64(d.stamps) == daySeconds/step && d.energy*float64(step)/3600 >= least
}
