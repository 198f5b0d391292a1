package series

import (
	"math"
	"os"
	"testing"

	"stillrow/ingest/epw"
	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
	"stillrow/ingest/weather/realfiles"
)

// Real years whose clocks are right all year, from desert to monsoon; SWERA and
// TMY3. Their zones are those of the longitude, or the test says which they have.
var realYears = []string{
	"epw/USA_CA_Blythe-Riverside.County.AP.747188_TMY3.epw",
	"epw/USA_WA_Bellingham.Intl.AP.727976_TMY3.epw",
	"epw/USA_CO_Leadville-Lake.County.AP.724673_TMY3.epw",
	"epw/GUM_Andersen.AFB.912180_TMY3.epw",
	"epw/ETH_Addis.Ababa-Bole.634500_SWERA.epw",
	"epw/CHN_Zhejiang.Hangzhou.584570_SWERA.epw",
}

// realYear reads a year, its gaps filled, and moves it into one calendar year.
func realYear(t testing.TB, name string) (weather.Site, *weather.Year) {
	t.Helper()
	f, err := os.Open(realfiles.Path(t, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	raw, err := epw.Parse(name, f)
	if err != nil {
		t.Fatal(err)
	}
	for m := range raw.Site.Year {
		raw.Site.Year[m] = 2015
	}
	site, y, _, err := repair.Finish(raw, repair.Stamped)
	if err != nil {
		t.Fatal(err)
	}
	return site, y
}

// asUTC gives a real year as means of some step in the hours of 2015 UTC: parts
// of hours all have the hour's value, hours that fall off one end are put at the
// other.
func asUTC(site weather.Site, y *weather.Year, step int64) *Series {
	zone := int64(math.Round(site.Lon / 15))
	a := even(stamp(2015, 1, 1, 0, 0), stamp(2016, 1, 1, 0, 0), step, false)
	col := func(v []float32) Column {
		c := Column{Axis: a, Values: make([]float32, len(a.Stamp))}
		for i, s := range a.Stamp {
			sum, n := 0.0, 0
			for at := s; at == s || at < s+step; at += 3600 {
				h := floorMod((at-a.Stamp[0])/3600+zone, weather.Hours)
				sum += float64(v[h])
				n++
			}
			c.Values[i] = float32(sum / float64(n))
		}
		return c
	}
	return &Series{
		Site: weather.Site{ID: site.ID, Lat: site.Lat, Lon: site.Lon, Elevation: site.Elevation},
		GHI:  col(y.GHI), DNI: col(y.DNI), DHI: col(y.DHI), AirTemperature: col(y.AirTemperature), Wind: col(y.Wind),
		Independent: true,
	}
}

func total(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum
}

func total32(v []float32) float64 {
	sum := 0.0
	for _, x := range v {
		sum += float64(x)
	}
	return sum
}

// Hours and half-hours in UTC give the local year back, value by value.
func TestRealHoursReturn(t *testing.T) {
	for _, name := range realYears {
		site, y := realYear(t, name)
		for _, step := range []int64{3600, 1800} {
			r := rawOf(t, asUTC(site, y, step), Options{})
			for _, c := range []struct {
				name string
				got  []float64
				want []float32
			}{{"GHI", r.GHI, y.GHI}, {"DNI", r.DNI, y.DNI}, {"DHI", r.DHI, y.DHI}, {"air", r.AirTemperature, y.AirTemperature}, {"wind", r.Wind, y.Wind}} {
				for h, want := range c.want {
					if c.got[h] != float64(want) {
						t.Fatalf("%s, step %d, %s: hour %d has %v, want %v", name, step, c.name, h, c.got[h], want)
					}
				}
			}
		}
	}
}

// Means of three hours in UTC keep the energy of each column exactly and close GHI
// = DNI·sz + DHI in nine hours of ten, as good stations do. What happened within
// the three hours is lost: hours of GHI are off by up to a third of the year's
// mean, and a split of GHI alone, which finds less beam in smoother hours, gives up
// to 7 % less DNI than that of the real hours.
func TestRealThreeHours(t *testing.T) {
	for _, name := range realYears {
		site, y := realYear(t, name)
		s := asUTC(site, y, 3*3600)
		r := rawOf(t, s, Options{})
		square := 0.0
		for i, x := range [...]float64{total(r.GHI) / total32(y.GHI), total(r.DNI) / total32(y.DNI), total(r.DHI) / total32(y.DHI)} {
			if math.Abs(x-1) > 1e-7 {
				t.Errorf("%s: column %d has %v of its energy", name, i, x)
			}
		}
		for h, x := range r.GHI {
			square += (x - float64(y.GHI[h])) * (x - float64(y.GHI[h]))
		}
		worst := math.Sqrt(square/weather.Hours) / (total32(y.GHI) / weather.Hours)
		finish := func(r *weather.Raw) (*weather.Year, repair.Report) {
			r.Site.UTCOffset = math.Round(site.Lon / 15)
			_, f, report, err := repair.Finish(r, repair.Stamped)
			if err != nil {
				t.Fatal(err)
			}
			return f, report
		}
		three, report := finish(r)
		alone := asUTC(site, y, 3*3600)
		alone.DNI, alone.DHI = Column{}, Column{}
		hours := asUTC(site, y, 3600)
		hours.DNI, hours.DHI = Column{}, Column{}
		split3, _ := finish(rawOf(t, alone, Options{}))
		split1, _ := finish(rawOf(t, hours, Options{}))
		failed := float64(report.ClosureFailed) / float64(report.ClosureTested)
		dni := total32(three.DNI)/total32(y.DNI) - 1
		beam := total32(split3.DNI)/total32(split1.DNI) - 1
		t.Logf("%s: hours of GHI off by %.0f %% of the mean, DNI %+.2f %%, closure failed in %.1f %%, DNI split off %+.1f %%",
			name, 100*worst, 100*dni, 100*failed, 100*beam)
		if worst > 0.33 || failed > 0.1 || math.Abs(dni) > 0.005 || math.Abs(beam) > 0.07 {
			t.Errorf("%s: beyond 30 %%, 0.5 %% and 6 %%", name)
		}
	}
}

// The global irradiance that DNI and DHI add up to, by which months are chosen
// where a data set gives no other, is that of the file in every month.
func TestGlobalOfRealParts(t *testing.T) {
	for _, name := range realYears {
		site, real := realYear(t, name)
		s := asUTC(site, real, 3600)
		s.GHI = Column{}
		y := &year{s: s, site: s.Site}
		if err := y.place(); err != nil {
			t.Fatal(err)
		}
		if err := y.columns(); err != nil {
			t.Fatal(err)
		}
		for m, days := range weather.MonthDays {
			want := total32(real.GHI[monthStart[m]:][:24*days])
			if got := y.monthSum(2015, m); !(math.Abs(got/want-1) <= 0.02) {
				t.Errorf("%s, month %d: %.0f Wh/m², want %.0f within 2 %%", name, m+1, got, want)
			}
		}
	}
}

// Read in UTC with the stamps beginning, in the middle of, or ending hours that
// they end, real years centre on solar noon when they end them.
func TestNoonOfRealYears(t *testing.T) {
	for _, name := range realYears {
		site, y := realYear(t, name)
		s := asUTC(site, y, 3600)
		ends := *s.GHI.Axis
		ends.Stamp = nil
		for _, at := range s.GHI.Axis.Stamp {
			ends.Stamp = append(ends.Stamp, at+3600)
		}
		got, ok := Noon(Column{Axis: &ends, Values: s.GHI.Values}, site.Lat, site.Lon, false)
		t.Logf("%s: %.0f", name, got)
		if !ok || math.Abs(got[2]) > 20 || got[1] != got[2]+30 || got[0] != got[2]+60 {
			t.Errorf("%s: %v, %v, want 60, 30 and 0 within 20", name, got, ok)
		}
		// By the local clock, the same.
		zone := int64(math.Round(site.Lon/15)) * 3600
		for i := range ends.Stamp {
			ends.Stamp[i] += zone
		}
		if local, _ := Noon(Column{Axis: &ends, Values: s.GHI.Values}, site.Lat, site.Lon, true); math.Abs(local[2]-got[2]) > 0.01 {
			t.Errorf("%s: %v by the local clock, %v in UTC", name, local, got)
		}
	}
}
