package psm

import (
	"math"
	"testing"

	"stillrow/ingest/repair"
	"stillrow/ingest/series"
)

// The real years stand as they are: the irradiance proves the stamps in every
// month, and the yearly sums stay those of the files (summed by awk).
func TestRealFinish(t *testing.T) {
	for _, c := range []struct {
		file          string
		ghi, dni, dhi float64 // kWh/m²
	}{
		{"1090006_36.01_-78.94_2020.csv", 1589.86, 1804.12, 548.98},
		{"1090006_36.01_-78.94_tmy-2020.csv", 1659.41, 1820.76, 606.78},
		{"509223_29.93_-104.02_2016.csv", 0, 2646.57, 512.77}, // half-hourly, without GHI
	} {
		s, _ := parseReal(t, c.file)
		raw, err := s.Raw(series.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if s.MonthYears[0] != 0 && raw.Site.Year != s.MonthYears {
			t.Errorf("%s: years %v, want %v", c.file, raw.Site.Year, s.MonthYears)
		}
		site, year, report, err := repair.Finish(raw, repair.Closed)
		if err != nil {
			t.Fatal(err)
		}
		for m, k := range report.Clock {
			if c.ghi == 0 { // nothing to prove it by
				continue
			}
			if k.ShiftMin != 0 || k.Misfit > 5 || k.Hours < 30 {
				t.Errorf("%s, month %d: clock %+v", c.file, m+1, k)
			}
		}
		for name, v := range map[string]struct {
			hours []float32
			want  float64
		}{"GHI": {year.GHI, c.ghi}, "DNI": {year.DNI, c.dni}, "DHI": {year.DHI, c.dhi}} {
			if v.want == 0 {
				continue
			}
			sum := 0.0
			for _, x := range v.hours {
				sum += float64(x) / 1000
			}
			if math.Abs(sum-v.want) > 0.001*v.want {
				t.Errorf("%s: %s %.2f kWh/m², want %.2f", c.file, name, sum, v.want)
			}
		}
		t.Logf("%s: flags %v, clock %+v", c.file, site.Flags, report.Clock[5])
	}
}
