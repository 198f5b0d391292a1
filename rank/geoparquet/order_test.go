package geoparquet

import (
	"slices"
	"testing"

	"github.com/paulmach/orb"
)

// What makes it a Hilbert curve: it visits every cell once, and each next to the
// one before.
func TestHilbert(t *testing.T) {
	const side = 64 // an even number of halvings is one corner of the whole, upright
	at := make([][2]int, side*side)
	seen := make([]bool, side*side)
	for x := range side {
		for y := range side {
			k := hilbert(uint32(x), uint32(y))
			if k >= side*side || seen[k] {
				t.Fatalf("cell %d, %d comes at %d, as another does or beyond the corner", x, y, k)
			}
			seen[k], at[k] = true, [2]int{x, y}
		}
	}
	for k := 1; k < len(at); k++ {
		dx, dy := at[k][0]-at[k-1][0], at[k][1]-at[k-1][1]
		if dx*dx+dy*dy != 1 {
			t.Fatalf("%v comes after %v", at[k], at[k-1])
		}
	}
}

func TestOrder(t *testing.T) {
	places := []orb.Point{{170, -45}, {-170, -45}, {-170, 45}, {170, 45}, {-170, 45}, {180, 90}, {-180, -90}}
	got := Order(len(places), func(i int) orb.Point { return places[i] })
	if want := []int32{6, 1, 2, 4, 5, 3, 0}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v: a U from the south-west, equal places as they came", got, want)
	}
}
