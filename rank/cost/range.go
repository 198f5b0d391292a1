package cost

import "fmt"

// A Range is the least and the most that a figure may be, beside its likely
// value. The zero Range is that of a figure taken as known.
type Range struct{ Low, High float64 }

// Known says whether there is no range.
func (r Range) Known() bool { return r == Range{} }

// Times is the range of a figure that is multiplied by a factor from 0.
func (r Range) Times(by float64) Range { return Range{r.Low * by, r.High * by} }

// validate holds a range about a value to what the value itself must hold to.
func (r Range) validate(key string, likely float64, ok func(float64) bool, want string) error {
	if r.Known() {
		return nil
	}
	for _, end := range []struct {
		name string
		v    float64
		ok   bool
		want string
	}{
		{".low", r.Low, ok(r.Low), want},
		{".high", r.High, ok(r.High), want},
		{".low", r.Low, r.Low <= likely, fmt.Sprintf("at most likely = %g", likely)},
		{".high", r.High, r.High >= likely, fmt.Sprintf("at least likely = %g", likely)},
	} {
		if !end.ok {
			return &KeyError{key + end.name, end.v, end.want}
		}
	}
	return nil
}
