package repair

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/climate"
	"stillrow/ingest/epw"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// closed is an invented cloudless year whose components close exactly, hour by
// hour, the hours of sunrise and sunset included.
func closed(lat float64) (*weather.Raw, []hourSun) {
	s := weather.Site{ID: "closed", Lat: lat, Lon: 10, UTCOffset: 1, Elevation: 300}
	for m := range s.Year {
		s.Year[m] = 2005
	}
	suns := hourSuns(&s, dayWays(&s))
	r := &weather.Raw{Site: s, GHI: nans(), DNI: nans(), DHI: nans(), AirTemperature: nans(), Wind: nans(), SkyInfrared: nans(), Independent: true}
	for h, x := range suns {
		r.DNI[h] = 0.6 * x.normal() * math.Sqrt(x.sz)
		r.DHI[h] = 0.15 * x.horizontal()
		r.GHI[h] = r.DNI[h]*x.sz + r.DHI[h]
		r.AirTemperature[h], r.Wind[h], r.SkyInfrared[h] = 9+float64(h%24)/10, 2+float64(h%3), 300+float64(h%5)
	}
	return r, suns
}

func copyOf(v []float64) []float64 { return slices.Clone(v) }

// A gap of the three components, whenever in the day and however long, is
// filled so that they close, and within an eighth of the truth: that much the
// clearness of this year bends in three hours of a low sun.
func TestFilledIrradianceCloses(t *testing.T) {
	for _, size := range []int{1, 3, 4, 30} {
		for start := 24 * 100; start < 24*101; start++ {
			r, suns := closed(48)
			was := copyOf(r.GHI)
			lit := 0
			for h := start; h < start+size; h++ {
				r.GHI[h], r.DNI[h], r.DHI[h] = math.NaN(), math.NaN(), math.NaN()
				if suns[h].lit > 0 {
					lit++
				}
			}
			site, _, report, err := Finish(r, Stamped)
			if err != nil {
				t.Fatal(err)
			}
			if n := report.count("ghi_w_m2"); n.Missing != lit || n.Filled != lit || site.MissingHours != lit || site.FilledHours != lit {
				t.Errorf("gap of %d h from %d: counted %+v, want %d: night is no gap", size, start, *n, lit)
			}
			for h := start; h < start+size; h++ {
				s := suns[h]
				if miss := r.DNI[h]*s.sz + r.DHI[h] - r.GHI[h]; math.Abs(miss) > 1e-9 {
					t.Errorf("gap of %d h from %d: hour %d misses by %v W/m²", size, start, h, miss)
				}
				if math.Abs(r.GHI[h]-was[h]) > was[h]/8+1 || s.lit == 0 && r.GHI[h] != 0 {
					t.Errorf("gap of %d h from %d: hour %d became %v, was %v", size, start, h, r.GHI[h], was[h])
				}
			}
		}
	}
}

// One missing component is made of the other two.
func TestOneComponentMissing(t *testing.T) {
	const h = 24*170 + 15
	r, _ := closed(48)
	want := [3]float64{r.GHI[h], r.DNI[h+24], r.DHI[h+48]}
	r.GHI[h], r.DNI[h+24], r.DHI[h+48] = math.NaN(), math.NaN(), math.NaN()
	if _, _, _, err := Finish(r, Stamped); err != nil {
		t.Fatal(err)
	}
	if got := [3]float64{r.GHI[h], r.DNI[h+24], r.DHI[h+48]}; math.Abs(got[0]-want[0])+math.Abs(got[1]-want[1])+math.Abs(got[2]-want[2]) > 1e-9 {
		t.Errorf("made %v, want %v", got, want)
	}
}

// A component that the source lacks altogether is made of the others and
// flagged; the low sun tells nothing of the beam.
func TestAbsentComponents(t *testing.T) {
	for _, tt := range []struct {
		flag string
		drop func(*weather.Raw)
	}{
		{FlagGHIDerived, func(r *weather.Raw) { r.GHI = nil }},
		{FlagDNIDerived, func(r *weather.Raw) { r.DNI = nil }},
		{FlagDHIDerived, func(r *weather.Raw) { r.DHI = nil }},
		{FlagDNIDerived, func(r *weather.Raw) { clear(r.DNI) }}, // 0 all year
		{FlagErbs, func(r *weather.Raw) { r.DNI, r.DHI = nil, nil }},
	} {
		r, suns := closed(48)
		was := [3][]float64{copyOf(r.GHI), copyOf(r.DNI), copyOf(r.DHI)}
		tt.drop(r)
		site, _, report, err := Finish(r, Closed)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(site.Flags, tt.flag) || !slices.Contains(site.Flags, FlagClockUnproven) {
			t.Errorf("flags %v, want %s and %s", site.Flags, tt.flag, FlagClockUnproven)
		}
		if (site.SplitModel == sky.ErbsModel) != (tt.flag == FlagErbs) || report.ClosureFailed > 0 {
			t.Errorf("%s: split model %q, closure failed in %d hours", tt.flag, site.SplitModel, report.ClosureFailed)
		}
		for h, s := range suns {
			if s.sz < sky.LowSun {
				continue
			}
			if miss := r.DNI[h]*s.sz + r.DHI[h] - r.GHI[h]; math.Abs(miss) > 1e-9 {
				t.Errorf("%s, hour %d: misses by %v", tt.flag, h, miss)
				break
			}
			if tt.flag != FlagErbs && math.Abs(r.DNI[h]-was[1][h])+math.Abs(r.DHI[h]-was[2][h])+math.Abs(r.GHI[h]-was[0][h]) > 1e-9 {
				t.Errorf("%s, hour %d: %v %v %v", tt.flag, h, r.GHI[h], r.DNI[h], r.DHI[h])
				break
			}
			if tt.flag == FlagErbs {
				if want := sky.Erbs(min(1, was[0][h]/s.horizontal())); math.Abs(r.DHI[h]/r.GHI[h]-want) > 1e-9 {
					t.Errorf("Erbs, hour %d: diffuse share %v, want %v", h, r.DHI[h]/r.GHI[h], want)
					break
				}
			}
		}
	}
	r, _ := closed(48)
	r.GHI, r.DHI = nil, nil
	if _, _, _, err := Finish(r, Closed); !errors.Is(err, errNoIrradiance) {
		t.Errorf("DNI alone: %v", err)
	}
}

// A column with holes in over a tenth of the sunlit hours sets the source
// aside, though the others are whole; so does air temperature.
func TestTooMuchMissing(t *testing.T) {
	for _, tt := range []struct {
		column string
		share  int // every so many hours
		ok     bool
	}{
		{"dni_w_m2", 9, false}, {"dni_w_m2", 11, true}, {"ghi_w_m2", 9, false},
		{"air_temperature_c", 9, false}, {"air_temperature_c", 11, true}, {"wind_speed_m_s", 2, true},
	} {
		r, _ := closed(48)
		w := &work{raw: r}
		for _, c := range w.columns() {
			if c.name == tt.column {
				for h := 0; h < weather.Hours; h += tt.share {
					(*c.v)[h] = math.NaN()
				}
			}
		}
		_, _, report, err := Finish(r, Stamped)
		var file *weather.FileError
		switch {
		case tt.ok && err != nil:
			t.Errorf("%s, every %d hours: %v", tt.column, tt.share, err)
		case !tt.ok && (!errors.As(err, &file) || file.Field != tt.column || !strings.Contains(err.Error(), "over 10 %")):
			t.Errorf("%s, every %d hours: %v", tt.column, tt.share, err)
		case tt.ok && tt.column == "wind_speed_m_s" && !slices.Contains(report.Flags, FlagManyFilled):
			t.Errorf("half the wind filled: flags %v", report.Flags)
		}
	}
}

// The BSRN limits at the repaired clock: beyond them a value is missing, below
// zero by a radiometer's offset it is 0, and at sunrise an hour's mean is
// measured by the sun of the hour.
func TestLimits(t *testing.T) {
	r, suns := closed(48)
	const noon = 24*172 + 12
	night := 24*172 + 1
	if suns[night].lit != 0 {
		t.Fatal("no night")
	}
	was := r.DNI[noon]
	r.DNI[noon] = suns[noon].e0n + 1
	r.DHI[noon+24] = sky.MaxDiffuse(suns[noon+24].e0n, suns[noon+24].mid) + 1
	r.GHI[noon+48] = -4.5
	r.GHI[night] = -3
	_, _, report, err := Finish(r, Stamped)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"ghi_w_m2", "dni_w_m2", "dhi_w_m2"} {
		if n := report.count(name); n.Impossible != 1 || n.Missing != 1 || n.Filled != 1 {
			t.Errorf("%+v, want one", *n)
		}
	}
	if len(report.Warnings) != 3 || !strings.Contains(report.Warnings[1], "06-22 12:00–13:00: dni_w_m2") {
		t.Errorf("warnings %q", report.Warnings)
	}
	if math.Abs(r.DNI[noon]-was) > 1e-6 || r.GHI[night] != 0 {
		t.Errorf("DNI %v, was %v; night %v", r.DNI[noon], was, r.GHI[night])
	}

	rising := hourSun{e0n: 1361, mid: -0.005, lit: 0.4, sz: 0.04}
	if top := rising.possible("dhi_w_m2").Max; math.Abs(top-sky.MaxDiffuse(1361, 0.016)) > 1e-9 {
		t.Errorf("highest diffuse of a sunrise hour %v", top)
	}
	high := hourSun{e0n: 1361, mid: 0.5, lit: 1, sz: 0.499}
	if top := high.possible("ghi_w_m2").Max; math.Abs(top-988.6) > 0.1 { // Long and Dutton at zenith 60°
		t.Errorf("highest global at 60° %v", top)
	}
}

// A misfit that no shift takes away is flagged, and the shift stays where the
// least of it is.
func TestClockMisfit(t *testing.T) {
	r, _ := closed(48)
	for h := range r.GHI {
		r.GHI[h] *= 1.1
	}
	site, _, report, err := Finish(r, Closed)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Contains(site.Flags, FlagClockMisfit) || report.Clock[5].Misfit < clockMisfit || !slices.Contains(site.Flags, FlagClosurePoor) {
		t.Errorf("flags %v, misfit of June %v", site.Flags, report.Clock[5].Misfit)
	}
	// A single wild DNI does not carry the clock away.
	r, _ = closed(48)
	r.DNI[24*172+12] = 1400
	if site, _, _, err = Finish(r, Closed); err != nil || site.ClockMin != [12]int{} {
		t.Errorf("shifts %v, %v", site.ClockMin, err)
	}
}

// Every flag has its meaning in the table, those that other packages set too.
func TestFlags(t *testing.T) {
	known := map[string]bool{}
	for _, f := range Flags() {
		if known[f.Name] || f.Meaning == "" {
			t.Errorf("flag %q twice or without a meaning", f.Name)
		}
		known[f.Name] = true
	}
	if FlagGenerated != climate.FlagGenerated || FlagEnergyRecord != epw.EnergyPerRecord {
		t.Error("a flag of another package is spelled otherwise")
	}
	r, _ := closed(48)
	r.LeapHours, r.PartHours, r.BadCellCount = 24, 8760, 3
	r.BadCells = []*weather.CellError{{File: "f", Line: 9, Column: "c", Value: "x", Err: weather.ErrNoData}}
	r.Wind = slices.Repeat([]float64{6.7}, weather.Hours)
	site, _, report, err := Finish(r, Closed)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{FlagLeapDay, FlagAveraged, FlagBadCells, FlagConstant + "wind_speed_m_s", FlagSnowAbsent}
	if !slices.Equal(site.Flags, want) {
		t.Errorf("flags %v, want %v", site.Flags, want)
	}
	if !slices.Equal(report.Warnings, []string{`f:9: c: "x": no data`, "2 more bad cells"}) {
		t.Errorf("warnings %q", report.Warnings)
	}
}

func BenchmarkFinish(b *testing.B) {
	r, _ := closed(48)
	for b.Loop() {
		again := *r
		again.GHI, again.DNI, again.DHI = copyOf(r.GHI), copyOf(r.DNI), copyOf(r.DHI)
		again.SkyInfrared = nil
		if _, _, _, err := Finish(&again, Closed); err != nil {
			b.Fatal(err)
		}
	}
}
