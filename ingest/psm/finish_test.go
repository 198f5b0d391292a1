package psm

import (
	"math"
	"testing"

	"stillrow/ingest/repair"
	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// hourly puts a series of 8760 local instants at mid hour on the hours of the
// year as they stand.
func hourly(s *series.Series) *weather.Raw {
	wide := func(c series.Column) []float64 {
		if c.Axis == nil {
			return nil
		}
		v := make([]float64, len(c.Values))
		for i, x := range c.Values {
			v[i] = float64(x)
		}
		return v
	}
	raw := &weather.Raw{Site: s.Site, Independent: s.Independent, WindHeight: s.WindHeight,
		GHI: wide(s.GHI), DNI: wide(s.DNI), DHI: wide(s.DHI), AirTemperature: wide(s.AirTemperature), DewPoint: wide(s.DewPoint),
		RelHumidity: wide(s.RelHumidity), Pressure: wide(s.Pressure), Wind: wide(s.Wind)}
	raw.Site.Year = s.MonthYears
	if raw.Site.Year[0] == 0 {
		raw.Site.Year = [12]int{2020, 2020, 2020, 2020, 2020, 2020, 2020, 2020, 2020, 2020, 2020, 2020}
	}
	return raw
}

// The real years stand as they are: the irradiance proves the stamps in every
// month, and the yearly sums stay those of the files (summed by awk).
func TestRealFinish(t *testing.T) {
	for _, c := range []struct {
		file          string
		ghi, dni, dhi float64 // kWh/m²
	}{
		{"1090006_36.01_-78.94_2020.csv", 1589.86, 1804.12, 548.98},
		{"1090006_36.01_-78.94_tmy-2020.csv", 1659.41, 1820.76, 606.78},
	} {
		s, _ := parseReal(t, c.file)
		site, year, report, err := repair.Finish(hourly(s), repair.Closed)
		if err != nil {
			t.Fatal(err)
		}
		for m, k := range report.Clock {
			if k.ShiftMin != 0 || k.Misfit > 5 || k.Hours < 30 {
				t.Errorf("%s, month %d: clock %+v", c.file, m+1, k)
			}
		}
		for name, v := range map[string]struct {
			hours []float32
			want  float64
		}{"GHI": {year.GHI, c.ghi}, "DNI": {year.DNI, c.dni}, "DHI": {year.DHI, c.dhi}} {
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
