package simulate

import (
	"sync"

	"stillrow/simulate/sun"
)

// An almanac is the sun of calendar years that the sites of a plan share.
type almanac struct {
	mu    sync.Mutex
	years *sun.Almanac
}

func newAlmanac() *almanac { return &almanac{years: sun.NewAlmanac(instants)} }

// year may be asked for from several goroutines.
func (a *almanac) year(year int) *sun.Year {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.years.Year(year)
}
