package climate

import (
	"math"
	"testing"
)

// rowTolerance is how far the printed rows of three-digit odds may be from 1.
const rowTolerance = 0.0025

func TestTransitionRows(t *testing.T) {
	for i, m := range transitions {
		for r, row := range m.next {
			var sum float64
			for _, odds := range row {
				if odds < 0 {
					t.Errorf("table %d row %d: odds %v", i+1, r+1, odds)
				}
				sum += odds
			}
			want := 1.0
			if i == 2 && r == 0 {
				want = 0.997 // as printed
			}
			if math.Abs(sum-want) > rowTolerance+1e-9 || want != 1 && math.Abs(sum-want) > 1e-9 {
				t.Errorf("table %d row %d adds up to %.4f, want %v", i+1, r+1, sum, want)
			}
		}
	}
}

// The mean of the days that a table tends to must lie in or next to the class
// of months it stands for: a check the tables carry within themselves. The
// expected values were computed apart from this code, from the printed tables.
func TestTransitionStationaryMean(t *testing.T) {
	wantMean := []float64{0.241, 0.334, 0.374, 0.429, 0.476, 0.526, 0.575, 0.620, 0.667, 0.728}
	wantStd := []float64{0.155, 0.166, 0.165, 0.166, 0.166, 0.155, 0.152, 0.134, 0.119, 0.071}
	for i := range transitions {
		m := &transitions[i]
		var odds [bands]float64
		for b := range odds {
			odds[b] = 1.0 / bands
		}
		for range 1000 {
			var next [bands]float64
			var sum float64
			for b, row := range m.next {
				for to, p := range row {
					next[to] += odds[b] * p
					sum += odds[b] * p
				}
			}
			for b := range next {
				odds[b] = next[b] / sum
			}
		}
		var mean, square float64
		width := (m.high - m.low) / bands
		for b, p := range odds {
			k := m.low + (float64(b)+0.5)*width
			mean += p * k
			square += p * k * k
		}
		if math.Abs(mean-wantMean[i]) > 0.001 {
			t.Errorf("table %d: stationary mean %.4f, want %.3f", i+1, mean, wantMean[i])
		}
		if std := math.Sqrt(square - mean*mean); math.Abs(std-wantStd[i]) > 0.001 {
			t.Errorf("table %d: stationary deviation %.4f, want %.3f", i+1, std, wantStd[i])
		}
		if i > 0 && mean < classLimits[i-1]-0.05 || i < 9 && mean > classLimits[i]+0.05 {
			t.Errorf("table %d: stationary mean %.3f is more than a class away", i+1, mean)
		}
	}
}

func TestClass(t *testing.T) {
	for _, tt := range []struct {
		mean float64
		want int
	}{{0, 1}, {0.30, 1}, {0.301, 2}, {0.47, 5}, {0.70, 9}, {0.71, 10}, {1, 10}} {
		if got := class(tt.mean); got != &transitions[tt.want-1] {
			t.Errorf("class(%v) is not table %d", tt.mean, tt.want)
		}
	}
}

func TestAfter(t *testing.T) {
	m := &transitions[0] // bands of 0.0674 from 0.031
	for _, tt := range []struct {
		name       string
		k, u, want float64
	}{
		// Row 1 is 0.229 0.333 0.208 …, total 1.
		{"middle of the first odds", 0.05, 0.229 / 2, 0.031 + 0.0674/2},
		{"end of the first odds", 0.05, 0.229, 0.031 + 0.0674},
		{"a third into the second", 0.05, 0.229 + 0.333/3, 0.031 + 0.0674*(4.0/3)},
		{"below all bands", 0, 0.229 / 2, 0.031 + 0.0674/2},
		// Row 10 is 0.500 in band 7, 0.250 in band 8, 0.250 in band 10.
		{"above all bands", 0.9, 0.25, 0.031 + 0.0674*6.5},
		{"over an empty band", 0.70, 0.875, 0.031 + 0.0674*9.5},
	} {
		if got := m.after(tt.k, tt.u); math.Abs(got-tt.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
	// The one row that falls short of 1 still stays within its bands.
	if got := transitions[2].after(0, 1-1e-12); got > transitions[2].high {
		t.Errorf("beyond the last band: %v", got)
	}
}
