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
	for _, c := range valueColumns {
		v := *c.of(y)
		if len(v) != Hours {
			return fmt.Errorf("%s has %d hours, want %d", c.Name, len(v), Hours)
		}
		for h, x := range v {
			if !usable(x, c.least) {
				return fmt.Errorf("%s, hour %d: %g, want a finite value of at least %g", c.Name, h, x, c.least)
			}
		}
	}
	return nil
}

// usable reports whether x is a finite number of at least least; NaN is not.
func usable(x, least float32) bool { return x >= least && x <= math.MaxFloat32 }
