package series

import (
	"math"
	"testing"

	"stillrow/simulate/sun"
)

// sunny is a month of irradiance that follows the sun, in means of an hour
// around each stamp.
func sunny(lat, lon float64, days int) Column {
	p := sun.NewPlace(sun.Angle(lat)*sun.Degree, sun.Angle(lon)*sun.Degree)
	start := stamp(2015, 10, 20, 5, 0)
	a := even(start, start+int64(days)*daySeconds, 3600, false)
	a.From = -1800
	return filled(a, func(s int64) float64 {
		sum := 0.0
		for i := range 12 {
			sum += max(0, p.Sun((float64(s)-1800+300*(float64(i)+0.5))/daySeconds+epoch).Up)
		}
		return 1000 * sum / 12
	})
}

// The sun of the package sun, whose hour angle is checked against published
// positions there, is centred on noon anywhere; days cut by the ends of the data
// or by missing values do not draw the mean aside.
func TestNoon(t *testing.T) {
	for _, lat := range []float64{-45, 3, 50} {
		for _, lon := range []float64{-180, -172.5, -97.4, 0, 7.4, 7.6, 128, 180} {
			c := sunny(lat, lon, 30)
			for i := range c.Values {
				if i%97 == 0 {
					c.Values[i] = float32(math.NaN()) // some at night, some by day
				}
			}
			got, ok := Noon(c, lat, lon, false)
			if !ok || math.Abs(got[1]) > 1 || math.Abs(got[0]-got[1]-30) > 1e-9 || math.Abs(got[1]-got[2]-30) > 1e-9 {
				t.Errorf("%v, %v: %.2f %v, want 30, 0, -30", lat, lon, got, ok)
			}
			if _, ok := Noon(Column{Axis: &Axis{Stamp: c.Axis.Stamp[:9*24], Step: 3600}, Values: c.Values[:9*24]}, lat, lon, false); ok {
				t.Errorf("%v, %v: nine days tell", lat, lon)
			}
		}
	}
	// Stamps an hour late, steps of three hours, polar night.
	c := sunny(20, 60, 60)
	late := *c.Axis
	late.Stamp = nil
	for _, s := range c.Axis.Stamp {
		late.Stamp = append(late.Stamp, s+3600)
	}
	if got, _ := Noon(Column{Axis: &late, Values: c.Values}, 20, 60, false); math.Abs(got[1]-60) > 1 {
		t.Errorf("an hour late: %v", got)
	}
	three := Column{Axis: &Axis{Step: 3 * 3600}}
	for i := 1; i+3 <= len(c.Values); i += 3 { // from 06:00 on, which no zone's midnight divides unevenly
		three.Axis.Stamp = append(three.Axis.Stamp, c.Axis.Stamp[i]-1800)
		three.Values = append(three.Values, (c.Values[i]+c.Values[i+1]+c.Values[i+2])/3)
	}
	if got, ok := Noon(three, 20, 60, false); !ok || math.Abs(got[0]) > 2 || math.Abs(got[0]-got[2]-180) > 1e-9 {
		t.Errorf("three hours, beginning at their stamps: %v", got)
	}
	if _, ok := Noon(sunny(80, 0, 60), 80, 0, false); ok {
		t.Error("the polar night has a noon")
	}
}
