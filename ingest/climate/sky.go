package climate

import (
	"math"
	"sync"

	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// samples is the number of sun positions in the sunlit part of an hour.
const samples = 4

// A skyHour is what the sun offers in one hour above the air.
type skyHour struct {
	normal    float64 // irradiance facing the sun, times the sunlit fraction of the hour, W/m²
	sinHeight float64 // sine of the sun's altitude, mean over the sunlit part
	limit     float64 // clearness under a cloudless sky
}

// horizontal gives the mean irradiance on the horizontal over the hour, W/m².
func (s *skyHour) horizontal() float64 { return s.normal * s.sinHeight }

// A sky holds every hour of the year; hours of night are zero.
type suns []skyHour

// newSuns computes the hours of local standard time at offset h from UTC.
func newSuns(lat, lon, offset float64) suns {
	s := make(suns, weather.Hours)
	place := sun.NewPlace(sun.Angle(lat)*sun.Degree, sun.Angle(lon)*sun.Degree)
	start := sun.JulianDate(Year, 1, 1, -offset)
	var at [samples]sun.Vector
	for h := range s {
		lit, fraction, mid := place.Sunlit(at[:0], start+float64(h)/24, samples)
		if len(lit) == 0 {
			continue
		}
		var up float64
		for _, v := range lit {
			up += v.Up
		}
		s[h] = skyHour{
			normal:    sun.SolarConstant / (mid.Distance * mid.Distance) * fraction,
			sinHeight: up / float64(len(lit)),
			limit:     clearLimit(place.HourAngle(mid)),
		}
	}
	return s
}

// clearness gives the ratio of each month's mean GHI to the horizontal
// irradiance above the air; 0 for a month without sun.
func (s suns) clearness(ghi *[12]float64) (k [12]float64) {
	h := 0
	for m, days := range weather.MonthDays {
		var above float64
		for range 24 * days {
			above += s[h].horizontal()
			h++
		}
		if above > 0 {
			k[m] = ghi[m] * float64(24*days) / above
		}
	}
	return k
}

// aboveAir gives the mean horizontal irradiance above the air of each month,
// W/m², from one declination a day, that of noon at Greenwich.
func aboveAir(lat float64) (mean [12]float64) {
	noon := noons()
	for m, days := range weather.MonthDays {
		for range days {
			mean[m] += dayAboveAir(sun.Angle(lat)*sun.Degree, noon[0]) / float64(days)
			noon = noon[1:]
		}
	}
	return mean
}

// noons are the year's ephemerides of noon at Greenwich, the same for all
// places of a table.
var noons = sync.OnceValue(func() []sun.Ephemeris {
	noon := make([]sun.Ephemeris, 365)
	for d := range noon {
		noon[d] = sun.At(sun.JulianDate(Year, 1, 1, 12) + float64(d))
	}
	return noon
})

// dayAboveAir gives the mean over a day of the horizontal irradiance above the
// air, W/m².
// Source: Duffie and Beckman, Solar Engineering of Thermal Processes, 4th ed.
// 2013, eq. 1.10.3.
func dayAboveAir(lat sun.Angle, e sun.Ephemeris) float64 {
	sinLat, cosLat := math.Sincos(float64(lat))
	sinD, cosD := math.Sincos(float64(e.Declination))
	a, b := sinLat*sinD, cosLat*cosD
	sunset := 0.0 // hour angle
	switch {
	case a >= b:
		sunset = math.Pi
	case a > -b:
		sunset = math.Acos(-a / b)
	}
	return sun.SolarConstant / (e.Distance * e.Distance) / math.Pi * (b*math.Sin(sunset) + sunset*a)
}
