package power

import (
	"fmt"
	"time"

	"stillrow/ingest/series"
	"stillrow/simulate/sun"
)

// leastClear and mostClear bound the share of the irradiance above the air that
// reaches the ground in the mean of a week or more, with room: yearly means of
// real places lie between about 0.25 and 0.75 (common practice, no source). The
// data set's other units are a factor of 40 and more from W/m².
const leastClear, mostClear = 0.1, 0.9

// plausible holds GHI, whose unit nothing states, to the sun above the air.
func plausible(s *series.Series) error {
	if s.GHI.Axis == nil {
		return nil
	}
	p := sun.NewPlace(sun.Angle(s.Site.Lat)*sun.Degree, sun.Angle(s.Site.Lon)*sun.Degree)
	ground, above := 0.0, 0.0
	for i, v := range s.GHI.Values {
		if v != v {
			continue
		}
		t := time.Unix(s.GHI.Axis.Stamp[i], 0).UTC()
		e := sun.At(sun.JulianDate(t.Year(), int(t.Month()), t.Day(), float64(t.Hour())+0.5-s.Site.UTCOffset))
		ground += float64(v)
		above += max(0, p.Vector(e, p.HourAngle(e)).Up) * sun.SolarConstant / (e.Distance * e.Distance)
	}
	if k := ground / above; above > 0 && !(k >= leastClear && k <= mostClear) {
		return fmt.Errorf("the header with the units is gone, and taken as W/m² the values are %.3g of the sun's irradiance above the air", k)
	}
	return nil
}
