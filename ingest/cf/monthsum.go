package cf

import "strings"

// Monthly sums in J/m² are of the month, or the mean of daily sums: where
// cell_methods does not say, the sunniest month tells. As daily sums it has at
// most mostMonth, as sums of the month at least leastMonth: no place of the
// Earth lies between them in both readings.
const (
	mostMonth  = 500 // W/m², more than the top of the atmosphere gives in a month but at the poles
	leastMonth = 50  // W/m², less than the best month of the polar circles
)

// monthSums finds what monthly sums are divided by.
func (r *reader) monthSums(s *slab, k *clock) error {
	s.divisor = make([]float64, len(k.months))
	for i, n := range k.seconds {
		s.divisor[i] = float64(n)
	}
	if strings.Contains(timeMethod(s.v), "sum") {
		return nil
	}
	sample, err := s.sample()
	if err != nil {
		return r.wrap(s.v.Name, err)
	}
	peak := 0.0
	for _, c := range sample {
		for _, v := range c {
			if v := float64(v); v > peak { // not max, which a NaN would win
				peak = v
			}
		}
	}
	daily := peak * float64(monthDays[1])
	switch {
	case daily <= mostMonth && (len(k.months) >= 12 || ecmwf(r.file, s.v)):
		for i := range s.divisor {
			s.divisor[i] = day
		}
		r.warn(s.v.Name, "units %q: means of daily sums, as sums of a month would be next to nothing", s.v.Text("units"))
	case peak >= leastMonth && peak <= mostMonth:
		r.warn(s.v.Name, "units %q: sums of the month, as sums of a day would be more than the sun gives", s.v.Text("units"))
	default:
		return r.fail(s.v.Name, "units %q: neither cell_methods nor the values tell sums of a day from sums of a month", s.v.Text("units"))
	}
	return nil
}
