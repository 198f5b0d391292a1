package tile

import (
	"fmt"
	"math"
	"testing"

	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

// region is a grid of cells of step degrees with layers of smooth findings, and
// noise so that neighbours differ: invented.
func region(t testing.TB, rows, cols, layers int, south, west, step float64) *survey.Survey {
	t.Helper()
	var list []survey.Layer
	for l := range layers {
		list = append(list, survey.Layer{Use: []string{"year", "winter", "shower"}[l%3], Outlet: 35 + 10*float64(l/3)})
	}
	designs := []result.Design{{ReceiverWidth: 1}}
	for tilt := 60.0; tilt < 100; tilt += 5 {
		designs = append(designs, result.Design{ReceiverWidth: 1, MirrorLength: 0.8, MirrorTilt: tilt})
	}
	s, err := survey.New(t.TempDir(), list, designs, "EUR")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	none := s.Reason("no heat")
	findings := make([]survey.Finding, layers)
	for i := range rows * cols {
		lat, lon := south+(float64(i/cols)+0.5)*step, west+(float64(i%cols)+0.5)*step
		wave := math.Sin(lat)*math.Cos(lon/2) + 0.1*math.Sin(float64(i)*12.9898)
		for l := range findings {
			f := survey.None(0.081 + 0.01*math.Floor(lon/7))
			f.Heat = max(0, 900-8*math.Abs(lat)-60*float64(l)+120*wave)
			if f.Heat > 0 {
				f.Design = int32(math.Abs(lat)/8) % int32(len(designs))
				f.LCOH = 30 / f.Heat
				f.P10, f.P90 = 0.8*f.LCOH, 1.3*f.LCOH
				f.Ratio = f.LCOH / f.GasHeat
				f.BeatsGas = f.Ratio < 1
				f.Sure = 1 / (1 + math.Exp(8*(f.Ratio-1)))
				f.BreakEven, f.Saving, f.CO2 = 0.9*f.LCOH, (f.GasHeat-f.LCOH)*f.Heat, 0.22*f.Heat
				if f.BeatsGas {
					f.Payback = 12 * f.Ratio
				}
			} else {
				f.Without = none
			}
			findings[l] = f
		}
		p := survey.Place{ID: fmt.Sprintf("g%06d", i), Country: []string{"HV", "XA"}[i/cols%2], Lat: lat, Lon: lon, CellDeg: step, CellLonDeg: step}
		if err := s.Add(p, findings); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Finish(); err != nil {
		t.Fatal(err)
	}
	return s
}

func names(s *survey.Survey) (list []string) {
	for _, l := range s.Layers {
		list = append(list, fmt.Sprintf("%s-%g", l.Use, l.Outlet))
	}
	return list
}

// Tiles of 250 000 cells and 12 layers: the time of one archive and its size.
func BenchmarkWrite(b *testing.B) {
	s := region(b, 500, 500, 12, 20, -20, 0.1)
	b.ReportAllocs()
	for b.Loop() {
		var size counter
		if err := Write(&size, s, Options{Title: "Halvane", Names: names(s), Dir: b.TempDir()}); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(size)/1e6, "MB")
	}
}

// A counter throws away what is written to it.
type counter int

func (c *counter) Write(b []byte) (int, error) {
	*c += counter(len(b))
	return len(b), nil
}
