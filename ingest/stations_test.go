package ingest_test

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
	"stillrow/ingest/weather/realfiles"
	"stillrow/simulate/sun"
)

func read(t *testing.T, path string) *weather.Raw {
	t.Helper()
	sources, err := ingest.Files([]string{path})
	if err != nil {
		t.Fatal(err)
	}
	raw, err := sources[0].Read(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// misfit is the root mean square of DNI·sz + DHI − GHI over a month's hours
// with DNI above 150 W/m², at a shift: computed here from the file's numbers
// alone, hour by hour, with the sun at six instants of the interval.
func misfit(raw *weather.Raw, month int, shift float64) float64 {
	place := sun.NewPlace(sun.Angle(raw.Site.Lat)*sun.Degree, sun.Angle(raw.Site.Lon)*sun.Degree)
	first := 0
	for m := range month {
		first += weather.MonthDays[m] * 24
	}
	var sum float64
	n := 0
	for h := range weather.MonthDays[month] * 24 {
		i := first + h
		if !(raw.DNI[i] > 150) {
			continue
		}
		var up float64
		for k := range 6 {
			hour := float64(h%24) + (float64(k)+.5)/6 + shift/60 - raw.Site.UTCOffset
			up += max(0, place.Sun(sun.JulianDate(raw.Site.Year[month], month+1, h/24+1, hour)).Up) / 6
		}
		e := raw.DNI[i]*up + raw.DHI[i] - raw.GHI[i]
		sum += e * e
		n++
	}
	return math.Sqrt(sum / float64(n))
}

// yearMisfit is the misfit of a whole year as stamped, by the sun of one
// calendar year.
func yearMisfit(raw *weather.Raw, year int) float64 {
	again := *raw
	var square, hours float64
	first := 0
	for m, days := range weather.MonthDays {
		again.Site.Year[m] = year
		n := 0.0
		for _, dni := range raw.DNI[first : first+24*days] {
			if dni > 150 {
				n++
			}
		}
		first += 24 * days
		if n > 0 {
			miss := misfit(&again, m, 0)
			square, hours = square+n*miss*miss, hours+n
		}
	}
	return math.Sqrt(square / hours)
}

// The clocks of real files, month by month: official typical years have months
// stamped an hour early, and one old kind has all of them half an hour late.
// Shifts and misfits as measured independently for these files, the misfits with
// the sun of 2001 for all months; the repair takes each row's own year.
func TestClocksOfRealFiles(t *testing.T) {
	all := func(v int) (m [12]int) {
		for i := range m {
			m[i] = v
		}
		return m
	}
	for _, tt := range []struct {
		path    string
		want    [12]int
		closure float64 // W/m² over the year as stamped; 0: not measured so
	}{
		{"epw/USA_AK_Fairbanks.Intl.AP.702610_TMY3.epw", [12]int{60, 60, 60, 0, 60, 60, 60, 60, 60, 60, 0, 60}, 0},
		{"tmy3csv/HI-Honolulu_Intl_Arpt.tmy3", [12]int{60, 0, 0, 60, 60, 60, 60, 60, 0, 60, 60, 60}, 0},
		{"epw/USA_CA_China.Lake.NAF.746120_TMY.epw", all(-30), 0},
		{"epw/USA_CA_Blythe-Riverside.County.AP.747188_TMY3.epw", all(0), 1.4},
		{"epw/USA_WA_Bellingham.Intl.AP.727976_TMY3.epw", all(0), 1.1},
		{"epw/USA_CO_Leadville-Lake.County.AP.724673_TMY3.epw", all(0), 1.4},
		{"epw/GUM_Andersen.AFB.912180_TMY3.epw", all(0), 0.8},
		{"epw/ETH_Addis.Ababa-Bole.634500_SWERA.epw", all(0), 1.4},
		{"epw/LKA_Colombo-Katunayake.434500_SWERA.epw", all(0), 1.1},
		{"epw/CHN_Zhejiang.Hangzhou.584570_SWERA.epw", all(0), 1.2},
		{"epw/USA_CO_Boulder.724699_TMY2.epw", all(0), 5.5},
		{"epw/USA_IL_Chicago-OHare.Intl.AP.725300_AMY_2012_LeapYear.epw", all(0), 0},
		{"tmy3csv/AZ-Tucson_International_Ap.tmy3", all(0), 3.2},
	} {
		path := realfiles.Path(t, tt.path)
		name := filepath.Base(tt.path)
		untouched := read(t, path)
		site, _, report, err := ingest.One(read(t, path), ingest.Closed)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if site.ClockMin != tt.want {
			t.Errorf("%s: shifts %v, want %v", name, site.ClockMin, tt.want)
		}
		for m, c := range report.Clock {
			if got := misfit(untouched, m, float64(c.ShiftMin)); !c.FromYear && math.Abs(got-c.Misfit) > .02*got+.05 {
				t.Errorf("%s, month %d: misfit %.2f at %d min, computed %.2f", name, m+1, c.Misfit, c.ShiftMin, got)
			}
			if c.Misfit > 15 || c.Misfit > c.StampedMisfit+1e-9 {
				t.Errorf("%s, month %d: misfit %.2f, stamped %.2f W/m²", name, m+1, c.Misfit, c.StampedMisfit)
			}
		}
		if got := yearMisfit(untouched, 2001); tt.closure > 0 && math.Abs(got-tt.closure) > .07 {
			t.Errorf("%s: misfit of the year %.2f W/m², measured as %.1f", name, got, tt.closure)
		}
		if shifted := slices.Contains(site.Flags, repair.FlagClockShifted); shifted != (tt.want != all(0)) {
			t.Errorf("%s: flags %v", name, site.Flags)
		}
		stamped, _, _, err := ingest.One(read(t, path), ingest.Stamped)
		if err != nil || stamped.ClockMin != all(0) {
			t.Errorf("%s, stamped: shifts %v, %v", name, stamped.ClockMin, err)
		}
	}
}

// A shift moves the interval whose sun is sampled and nothing else.
func TestShiftMovesNoColumn(t *testing.T) {
	path := realfiles.Path(t, "epw/USA_AK_Fairbanks.Intl.AP.702610_TMY3.epw")
	_, closed, _, err := ingest.One(read(t, path), ingest.Closed)
	if err != nil {
		t.Fatal(err)
	}
	raw := read(t, path)
	for h := range weather.Hours {
		if float32(raw.AirTemperature[h]) != closed.AirTemperature[h] || float32(raw.Wind[h]) != closed.Wind[h] {
			t.Fatalf("hour %d: air %g became %g", h, raw.AirTemperature[h], closed.AirTemperature[h])
		}
	}
}

// The leap day of a leap-year file is dropped and counted; the rest stays a
// year of 8760 hours.
func TestLeapDayDropped(t *testing.T) {
	raw := read(t, realfiles.Path(t, "epw/USA_IL_Chicago-OHare.Intl.AP.725300_AMY_2012_LeapYear.epw"))
	if raw.LeapHours != 24 || len(raw.GHI) != weather.Hours {
		t.Errorf("%d leap hours dropped, %d hours left", raw.LeapHours, len(raw.GHI))
	}
}
