package weather

import (
	"fmt"
	"math"
)

// NewYear makes a year of zeros.
func NewYear() *Year {
	c := make([]float32, 7*Hours)
	next := func() []float32 {
		h := c[:Hours:Hours]
		c = c[Hours:]
		return h
	}
	return &Year{GHI: next(), DNI: next(), DHI: next(), AirTemperature: next(), Wind: next(), SkyInfrared: next(), Snow: next()}
}

// Validate checks what every reader of a Year relies on: Hours values in each
// column, all finite, irradiance, wind and snow not negative, temperature
// above absolute zero. The error names column, hour and value.
func (y *Year) Validate() error {
	for _, c := range []struct {
		name  string
		v     []float32
		least float32
	}{
		{"ghi_w_m2", y.GHI, 0}, {"dni_w_m2", y.DNI, 0}, {"dhi_w_m2", y.DHI, 0},
		{"air_temperature_c", y.AirTemperature, -273.15}, {"wind_speed_m_s", y.Wind, 0},
		{"sky_infrared_w_m2", y.SkyInfrared, 0}, {"snow_depth_cm", y.Snow, 0},
	} {
		if len(c.v) != Hours {
			return fmt.Errorf("%s has %d hours, want %d", c.name, len(c.v), Hours)
		}
		for h, v := range c.v {
			if !(v >= c.least) || math.IsInf(float64(v), 0) {
				return fmt.Errorf("%s, hour %d: %g, want a finite value of at least %g", c.name, h, v, c.least)
			}
		}
	}
	return nil
}
