package series

import (
	"math"
	"testing"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// Duffie and Beckman, examples 2.8.1 and 2.8.2: Madison, 43° N, 270 m, 22 August
// at 11:30 solar time under 23 km visibility: beam 830 W/m² normal to the sun,
// 702 horizontal, diffuse 101, with 1339 W/m² outside the atmosphere that day.
// The sun is then 3 minutes slow on the clock of a place on its meridian.
func TestClearHour(t *testing.T) {
	site := weather.Site{Lat: 43, Lon: -90 + 3./4, UTCOffset: -6, Elevation: 270}
	c := newClearYear(&site)[monthStart[7]+21*24+11]
	const ours = sun.SolarConstant / (1.0112 * 1.0112) / 1339 // of our constant and distance to the example's
	for _, v := range []struct {
		name      string
		got, want float64
	}{{"normal", c.normal, 830}, {"beam", c.beam, 702}, {"diffuse", c.diffuse, 101}} {
		if math.Abs(v.got/(v.want*ours)-1) > 0.01 {
			t.Errorf("%s: %.1f, want %.1f", v.name, v.got, v.want*ours)
		}
	}
}

// Against the sun itself in 60 instants of each hour. The normal irradiance begins
// at a full eighth of the sun's as it rises: there half an instant in six counts.
func TestClearYearAgainstSun(t *testing.T) {
	for _, site := range []weather.Site{{Lat: -34, Lon: 151, UTCOffset: 10}, {Lat: 68, Lon: 33, UTCOffset: 3, Elevation: 500}, {Lat: 2, Lon: -172, UTCOffset: -11}} {
		clear := newClearYear(&site)
		place := sun.NewPlace(sun.Angle(site.Lat)*sun.Degree, sun.Angle(site.Lon)*sun.Degree)
		for month := 1; month <= 12; month++ {
			for hour := range 24 {
				var want clearHour
				for i := range 60 {
					jd := sun.JulianDate(2001, month, 17, float64(hour)+(float64(i)+0.5)/60-site.UTCOffset)
					e := sun.At(jd)
					if up := place.Sun(jd).Up; up > 0 {
						want.add(up, sun.SolarConstant/(e.Distance*e.Distance)/60, site.Elevation, sky.ClimateAt(site.Lat, month))
					}
				}
				got := clear[monthStart[month-1]+16*24+hour]
				if math.Abs(got.beam-want.beam) > 2 || math.Abs(got.diffuse-want.diffuse) > 2 || math.Abs(got.normal-want.normal) > 1361./8/6*0.9 {
					t.Errorf("%v°, month %d, hour %d: %.1f, want %.1f", site.Lat, month, hour, got, want)
				}
			}
		}
	}
}
