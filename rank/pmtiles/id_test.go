package pmtiles

import "testing"

// The table of the PMTiles specification 3, section 4.1.
func TestID(t *testing.T) {
	for _, tt := range []struct {
		z    uint8
		x, y uint32
		want uint64
	}{
		{0, 0, 0, 0},
		{1, 0, 0, 1}, {1, 0, 1, 2}, {1, 1, 1, 3}, {1, 1, 0, 4},
		{2, 0, 0, 5},
		{12, 3423, 1763, 19078479},
	} {
		if got := ID(tt.z, tt.x, tt.y); got != tt.want {
			t.Errorf("tile %d/%d/%d is %d, want %d", tt.z, tt.x, tt.y, got, tt.want)
		}
	}
}

// What makes it a Hilbert curve: every tile of a zoom has one number, and tiles
// with neighbouring numbers share a side.
func TestIDsAreACurve(t *testing.T) {
	first := uint64(0)
	for z := uint8(0); z <= 7; z++ {
		n := uint32(1) << z
		at := make([][2]int, n*n)
		seen := make([]bool, n*n)
		for y := range n {
			for x := range n {
				k := ID(z, x, y) - first
				if k >= uint64(n*n) || seen[k] {
					t.Fatalf("tile %d/%d/%d is %d, out of its zoom or taken", z, x, y, first+k)
				}
				at[k], seen[k] = [2]int{int(x), int(y)}, true
			}
		}
		for k := 1; k < len(at); k++ {
			dx, dy := at[k][0]-at[k-1][0], at[k][1]-at[k-1][1]
			if dx*dx+dy*dy != 1 {
				t.Fatalf("zoom %d: number %d lies at %v, number %d at %v", z, k-1, at[k-1], k, at[k])
			}
		}
		first += uint64(n * n)
	}
	if got := ID(MaxZoom, 1<<31-1, 0); got != (1<<62-1)/3+1<<62-1 {
		t.Errorf("the last tile of the deepest zoom is %d", got)
	}
}
