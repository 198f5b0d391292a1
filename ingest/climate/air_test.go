package climate

import (
	"math"
	"testing"

	"stillrow/ingest/weather"
)

// Values of the published series, worked out apart from this code.
func TestDailyCourse(t *testing.T) {
	for _, tt := range []struct{ t, want float64 }{
		{1, -0.274}, {6, -0.451}, {9, -0.127}, {12, 0.340}, {15, 0.525}, {18, 0.322}, {21, -0.021}, {24, -0.219},
	} {
		if got := dailyCourse(tt.t); math.Abs(got-tt.want) > 0.0006 {
			t.Errorf("t = %v: %.4f, want %.3f", tt.t, got, tt.want)
		}
	}
	var sum float64
	low, high := math.Inf(1), math.Inf(-1)
	for h := 1.0; h <= 24; h++ {
		v := dailyCourse(h)
		sum += v
		low, high = min(low, v), max(high, v)
	}
	if math.Abs(sum) > 1e-9 {
		t.Errorf("the day's sum is %v, want 0", sum)
	}
	if math.Abs(high-low-0.976) > 0.001 { // from t = 6 to t = 15 in the table above
		t.Errorf("peak to peak %.4f, want 0.976", high-low)
	}
}

func TestSmoothKeepsMonthlyMeans(t *testing.T) {
	months := [12]float64{-12, -8, 0, 9, 16, 21, 24, 22, 15, 8, -1, -9}
	day := smooth(&months)
	if len(day) != 365 {
		t.Fatalf("%d days, want 365", len(day))
	}
	at := 0
	for m, n := range weather.MonthDays {
		var sum float64
		for _, v := range day[at : at+n] {
			sum += v
		}
		if math.Abs(sum/float64(n)-months[m]) > 1e-9 {
			t.Errorf("month %d: mean %v, want %v", m+1, sum/float64(n), months[m])
		}
		at += n
	}
	// The months differ by up to 10 K; from one day to the next it is a
	// thirtieth of that, and no more than three times as much.
	for i := range day {
		if step := math.Abs(day[i] - day[(i+1)%365]); step > 1 {
			t.Errorf("step of %.2f K after day %d", step, i)
		}
	}
	flat := [12]float64{7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7}
	for _, v := range smooth(&flat) {
		if math.Abs(v-7) > 1e-9 {
			t.Fatalf("a flat year has a day of %v", v)
		}
	}
}

// Saturation vapour pressure over water, hPa, as tabulated (WMO-No. 8 and the
// usual psychrometric tables): 0 °C 6.11, 10 °C 12.27, 20 °C 23.37, 30 °C 42.43.
func TestDewPoint(t *testing.T) {
	for _, tt := range []struct{ t, rh, want float64 }{
		{20, 100, 20},
		{20, 100 * 12.27 / 23.37, 10},
		{30, 100 * 12.27 / 42.43, 10},
		{20, 100 * 6.11 / 23.37, 0},
	} {
		if got := dewPoint(tt.t, tt.rh); math.Abs(got-tt.want) > 0.05 {
			t.Errorf("%v °C, %.1f %%: dew point %.3f, want %v", tt.t, tt.rh, got, tt.want)
		}
	}
}

func TestAirTemperature(t *testing.T) {
	months := [12]float64{5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5}
	clearness := [12]float64{0, 0.1, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.6}
	air := airTemperature(smooth(&months), clearness)
	swing := func(h int) float64 {
		low, high := math.Inf(1), math.Inf(-1)
		for _, v := range air[h : h+24] {
			low, high = min(low, v), max(high, v)
		}
		return high - low
	}
	for _, tt := range []struct {
		name string
		hour int
		want float64 // 0.98 of 25.8·K − 5.21, which is no swing below 0
	}{
		{"polar night", 0, 0},
		{"dark month", 31 * 24, 0},
		{"April", 100 * 24, 0.98 * 7.69},
		{"December", 350 * 24, 0.98 * 10.27},
	} {
		if got := swing(tt.hour); math.Abs(got-tt.want) > 0.15 {
			t.Errorf("%s: swing %.2f K, want %.2f K", tt.name, got, tt.want)
		}
	}
}

// A Rayleigh distribution has 45.6 % of its hours above the mean (e^−π/4) and
// 4.3 % above twice the mean (e^−π). The daily swing and the memory of one
// year's draw move that by a few hours in a hundred.
func TestWindDistribution(t *testing.T) {
	var months [12]float64
	for m := range months {
		months[m] = 5 + float64(m%3)
	}
	speed := wind(newDraw(&Cell{ID: "w"}), &months)
	at := 0
	var above, twice float64
	for m, n := range weather.MonthDays {
		var sum float64
		for _, v := range speed[at : at+24*n] {
			if v < 0 || v > 40 {
				t.Errorf("a speed of %v m/s", v)
			}
			if v > months[m] {
				above++
			}
			if v > 2*months[m] {
				twice++
			}
			sum += v
		}
		if mean := sum / float64(24*n); math.Abs(mean-months[m]) > 0.01 {
			t.Errorf("month %d: mean %.3f m/s, want %v", m+1, mean, months[m])
		}
		at += 24 * n
	}
	if got := above / weather.Hours; math.Abs(got-math.Exp(-math.Pi/4)) > 0.03 {
		t.Errorf("%.3f of the hours above the mean, want 0.456", got)
	}
	if got := twice / weather.Hours; math.Abs(got-math.Exp(-math.Pi)) > 0.02 {
		t.Errorf("%.3f of the hours above twice the mean, want 0.043", got)
	}
}
