package page

import (
	"fmt"
	"testing"

	"stillrow/rank/survey"
)

// places is a survey of cells without findings.
func places(t *testing.T, deg float64, at ...[2]float64) *survey.Survey {
	t.Helper()
	s, err := survey.New(t.TempDir(), []survey.Layer{{Use: "winter", Outlet: 60}}, nil, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	for _, a := range at {
		p := survey.Place{ID: fmt.Sprint(a), Lat: a[0], Lon: a[1], CellDeg: deg, CellLonDeg: deg}
		if err := s.Add(p, []survey.Finding{survey.None(0.1)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Finish(); err != nil {
		t.Fatal(err)
	}
	return s
}

// The map is cut where no place lies, so that neighbours stay so.
func TestSeam(t *testing.T) {
	var globe [][2]float64
	for lon := -179.5; lon < 180; lon++ {
		globe = append(globe, [2]float64{0, lon})
	}
	for _, c := range []struct {
		name       string
		s          *survey.Survey
		west, east int // of all bounds, thousandths of a degree
	}{
		{"across the antimeridian", places(t, 1, [2]float64{-17, 178.5}, [2]float64{-17, 179.5}, [2]float64{-17, -179.5}), 178000, 181000},
		{"a cell on it", places(t, 1, [2]float64{-17, 180}, [2]float64{-17, -179}), 179500, 181500},
		{"stations", places(t, 0, [2]float64{-17, 179}, [2]float64{-17, -178}), 179000, 182000},
		{"up to it from the west", places(t, 1, [2]float64{65, 178.5}, [2]float64{65, 179.5}), 178000, 180000},
		{"up to it from the east", places(t, 1, [2]float64{65, -178.5}, [2]float64{65, -179.5}), -180000, -178000},
		{"about the prime meridian", places(t, 1, [2]float64{50, -0.5}, [2]float64{50, 0.5}), -1000, 1000},
		{"all round", places(t, 1, globe...), -180000, 180000},
		{"nothing", places(t, 1), 180000, -180000},
	} {
		west, east := 180000, -180000
		for _, b := range merge(c.s).bounds {
			west, east = min(west, b[0]), max(east, b[2])
		}
		if west != c.west || east != c.east {
			t.Errorf("%s: %d to %d, want %d to %d", c.name, west, east, c.west, c.east)
		}
	}
}
