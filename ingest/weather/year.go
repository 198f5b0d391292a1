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

// Round rounds every value as the table does, so that a year which never was in
// a table is what it would have been read from one.
func (y *Year) Round() {
	for _, c := range valueColumns {
		v := *c.of(y)
		for h, x := range v {
			v[h] = round(x, c.steps)
		}
	}
}

// round gives the whole number of steps nearest to x, the even one between two,
// as the nearest float32; there are so many steps in a unit. What is rounded
// already stays as it is, to the bit, and so do values so large that their own
// steps are coarser.
func round(x, steps float32) float32 {
	const (
		most  = 1 << 22
		shift = 3 << 51 // from here to twice as far, float64 holds whole numbers only
	)
	n := float64(x) * float64(steps) // exact
	if !(n > -most && n < most) || n == 0 {
		return x
	}
	return float32(float64(n+shift)-shift) / steps
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
