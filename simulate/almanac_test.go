package simulate

import (
	"sync"
	"testing"

	"stillrow/simulate/sun"
)

// Goroutines that ask for the same years get the same ones.
func TestAlmanacShared(t *testing.T) {
	a := newAlmanac()
	var got [8][3]*sun.Year
	var g sync.WaitGroup
	for i := range got {
		g.Go(func() {
			for y := range got[i] {
				got[i][y] = a.year(2000 + y)
			}
		})
	}
	g.Wait()
	for i := range got {
		if got[i] != got[0] {
			t.Errorf("goroutine %d has other years", i)
		}
	}
}
