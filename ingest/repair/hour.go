package repair

import (
	"math"

	"stillrow/ingest/day"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// An hourSun is the sun of one hour of the year at the clock in force.
type hourSun struct {
	e0n float64 // irradiance outside the atmosphere, normal to the sun, W/m²
	mid float64 // sine of the altitude at mid hour, negative when down
	sz  float64 // mean sine of the altitude over the sunlit part, 0 with the sun down
	lit float64 // sunlit fraction
}

// anchor reports whether the hour's irradiance says how clear the sky is.
func (s hourSun) anchor() bool { return s.lit*s.sz >= sky.LowSun }

// normal and horizontal give the hour's mean irradiance outside the atmosphere,
// W/m², on a surface facing the sun and on a horizontal one.
func (s hourSun) normal() float64     { return s.e0n * s.lit }
func (s hourSun) horizontal() float64 { return s.e0n * s.lit * s.sz }

// sunOf gives the sun of the hour around an instant, in days from the start.
func sunOf(d *day.Way, mid float64) hourSun {
	a, b, w := d.At(mid)
	half := d.Turn() / 48
	sinW, cosW := math.Sincos(w)
	sinHalf, cosHalf := math.Sincos(half)
	s := hourSun{e0n: d.E0n(mid), mid: a + b*cosW}
	// Away from noon and midnight the altitude only falls or only rises.
	one := math.Abs(sinW) > sinHalf
	up1, up2 := a+b*(cosW*cosHalf+sinW*sinHalf), a+b*(cosW*cosHalf-sinW*sinHalf)
	switch {
	case a <= -b || one && up1 <= 0 && up2 <= 0:
		return s
	case a >= b || one && up1 >= 0 && up2 >= 0:
		s.lit = 1
		s.sz = a + b*cosW*sinHalf/half
		return s
	}
	// The sunlit arc is [−up, up]; near midnight an hour can touch it on both
	// sides, so it is looked at one turn earlier and later too.
	up := math.Acos(-a / b)
	w = math.Remainder(w, 2*math.Pi)
	arc, area := 0.0, 0.0
	for _, c := range [...]float64{-2 * math.Pi, 0, 2 * math.Pi} {
		lo, hi := max(w-half, c-up), min(w+half, c+up)
		if hi > lo {
			arc += hi - lo
			area += a*(hi-lo) + b*(math.Sin(hi)-math.Sin(lo))
		}
	}
	if arc > 0 {
		s.lit = arc / (2 * half)
		s.sz = area / arc
	}
	return s
}

// dayWays gives the sun's way of every day of the site's year.
func dayWays(s *weather.Site) []day.Way {
	walk := day.NewWalk(s.Lat, s.Lon)
	days := make([]day.Way, 0, weather.Hours/24)
	eachDay(func(m, h int) { days = append(days, walk.Day(startOf(s, m, h))) })
	return days
}

// hourSuns gives the sun of every hour of the site's year.
func hourSuns(s *weather.Site, days []day.Way) []hourSun {
	suns := make([]hourSun, weather.Hours)
	eachDay(func(m, h int) {
		for i := range 24 {
			suns[h+i] = sunOf(&days[h/24], (float64(i)+0.5)/24+float64(s.ClockMin[m])/(24*60))
		}
	})
	return suns
}

// startOf gives the Julian date, UT, at which the day of hour h of the year
// starts in the local standard time of the site.
func startOf(s *weather.Site, month, h int) float64 {
	day := h/24 + 1
	for _, n := range weather.MonthDays[:month] {
		day -= n
	}
	return sun.JulianDate(s.Year[month], month+1, day, -s.UTCOffset)
}

// zoneFar reports whether the time zone lies far from the longitude. Around the
// date line a zone may be a whole day off.
func zoneFar(s *weather.Site) bool {
	return math.Abs(math.Remainder(s.UTCOffset-s.Lon/15, 24)) > 3.5
}
