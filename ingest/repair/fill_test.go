package repair

import (
	"math"
	"testing"

	"stillrow/ingest/weather"
)

func TestFillGaps(t *testing.T) {
	// Day d has 100·d + hour, so that every value tells where it came from.
	column := func() ([]float64, []bool) {
		v := make([]float64, 10*24)
		for h := range v {
			v[h] = 100*float64(h/24) + float64(h%24)
		}
		return v, make([]bool, len(v))
	}
	for _, tt := range []struct {
		name string
		gap  []int
		at   int
		want float64
	}{
		{"three hours, straight", []int{30, 31, 32}, 31, 107},
		{"four hours, the days beside", []int{30, 31, 32, 33}, 31, (7.0 + 207) / 2},
		{"the day before is missing too", []int{6, 7, 8, 9, 30, 31, 32, 33}, 31, (907.0 + 207) / 2},
		{"across the new year, straight", []int{239, 0}, 0, 922 + (1-922.0)*2/3},
		{"across the new year, the days beside", []int{238, 239, 0, 1}, 0, (900.0 + 100) / 2},
		{"nearest days at unequal distance", append(span(72, 76), span(96, 100)...), 73, (201.0 + 501) / 2},
	} {
		v, gap := column()
		for _, h := range tt.gap {
			v[h], gap[h] = math.NaN(), true
		}
		fillGaps(v, gap)
		if math.Abs(v[tt.at]-tt.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", tt.name, v[tt.at], tt.want)
		}
		for h, x := range v {
			if x != x {
				t.Errorf("%s: hour %d is left empty", tt.name, h)
			}
		}
	}

	// Six-hourly values: no day has the hours between, so they are straight.
	v, gap := column()
	for h := range v {
		if h%6 != 0 {
			v[h], gap[h] = math.NaN(), true
		}
	}
	fillGaps(v, gap)
	if v[8] != 8 || v[21] != 18+(100-18)*0.5 {
		t.Errorf("six-hourly: %v %v, want 8 and 59", v[8], v[21])
	}

	// One value, and none.
	for h := range v {
		v[h], gap[h] = math.NaN(), h != 5
	}
	v[5] = 3
	fillGaps(v, gap)
	if v[100] != 3 {
		t.Errorf("one value: %v", v[100])
	}
	v[5], gap[5] = math.NaN(), true
	for h := range v {
		v[h] = math.NaN()
	}
	if fillGaps(v, gap); v[7] == v[7] {
		t.Error("a value out of nothing")
	}
}

func span(from, to int) []int {
	var hours []int
	for h := from; h < to; h++ {
		hours = append(hours, h)
	}
	return hours
}

func TestLongGaps(t *testing.T) {
	v := make([]float64, weather.Hours)
	nan := math.NaN()
	for _, h := range []int{0, 1, 2, 10, 11, 12, 13, 14, 8757, 8758, 8759} {
		v[h] = nan
	}
	got := longGaps(v)
	if len(got) != 5 || got[0] != 10 || got[4] != 14 {
		t.Errorf("long gaps %v, want 10 to 14", got)
	}
	if all := longGaps(nans()); len(all) != weather.Hours || all[0] != 0 || all[weather.Hours-1] != weather.Hours-1 {
		t.Errorf("a year's gap: %d hours", len(all))
	}
}

func TestYearShift(t *testing.T) {
	month := func(hours, best int) misfits {
		m := misfits{hours: hours}
		for k := range m.square {
			m.square[k] = math.Pow(float64(k-clockSteps-best), 2)
		}
		return m
	}
	// Two months right, one an hour early with more hours than both: those with
	// too few follow the majority of hours, not a compromise that fits none.
	months := [12]misfits{month(40, 0), month(40, 0), month(100, 4), month(5, 8)}
	if got := yearShift(&months, &misfits{}); got != 4 {
		t.Errorf("shift %d steps, want 4", got)
	}
	months = [12]misfits{month(29, 2), month(29, 2)}
	year := month(58, 2)
	if got := yearShift(&months, &year); got != 2 {
		t.Errorf("no month with hours enough: shift %d steps, want the year's 2", got)
	}
	flat := misfits{hours: 50}
	if got := flat.best(); got != 0 {
		t.Errorf("a tie goes to %d, want 0", got)
	}
}
