package repair_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
	"stillrow/simulate/sun"
)

// made is an invented clear year at 40° N 0° E whose irradiance closes; shift
// is by how many minutes its sun runs ahead of its stamps.
func made(shift float64) *weather.Raw { return madeAt(40, 0, 0, shift) }

// madeAt is such a year anywhere, in a time zone, h.
func madeAt(lat, lon, zone, shift float64) *weather.Raw {
	col := func() []float64 { return make([]float64, weather.Hours) }
	r := &weather.Raw{
		Site: weather.Site{ID: "made", Lat: lat, Lon: lon, UTCOffset: zone, Elevation: 200, Source: "made"},
		GHI:  col(), DNI: col(), DHI: col(), AirTemperature: col(), DewPoint: col(), Pressure: col(),
		SkyInfrared: col(), OpaqueCloud: col(), TotalCloud: col(), Wind: col(), Snow: col(), Independent: true,
	}
	place := sun.NewPlace(sun.Angle(lat)*sun.Degree, sun.Angle(lon)*sun.Degree)
	h := 0
	for m, days := range weather.MonthDays {
		r.Site.Year[m] = 2015
		for d := range days {
			for clock := range 24 {
				var up float64
				for k := range 6 {
					up += max(0, place.Sun(sun.JulianDate(2015, m+1, d+1, float64(clock)+(float64(k)+.5)/6+shift/60-zone)).Up) / 6
				}
				if up > .03 {
					r.DNI[h] = 850 * math.Exp(-.12/up)
					r.DHI[h] = 90 * math.Sqrt(up)
					r.GHI[h] = r.DNI[h]*up + r.DHI[h]
				}
				r.AirTemperature[h] = 12 + 6*math.Sin(2*math.Pi*float64(clock-9)/24) - 8*math.Cos(2*math.Pi*float64(h)/weather.Hours)
				r.DewPoint[h], r.Pressure[h], r.SkyInfrared[h] = r.AirTemperature[h]-6, 990, 300+math.Mod(float64(h), 7)
				r.Wind[h] = 2 + math.Mod(float64(h), 5)/2
				h++
			}
		}
	}
	return r
}

func finish(t *testing.T, r *weather.Raw) (weather.Site, *weather.Year, repair.Report) {
	t.Helper()
	s, y, rep, err := repair.Finish(r, repair.Closed)
	if err != nil {
		t.Fatal(err)
	}
	if err := y.Validate(); err != nil {
		t.Fatal(err)
	}
	return s, y, rep
}

func filled(rep repair.Report, column string) (missing, fill int) {
	for _, c := range rep.Columns {
		if c.Column == column {
			return c.Missing, c.Filled
		}
	}
	return 0, 0
}

func TestKnownShiftIsFound(t *testing.T) {
	for _, shift := range []int{-120, -45, 0, 15, 60, 120} {
		s, _, _ := finish(t, made(float64(shift)))
		for m, got := range s.ClockMin {
			if got != shift {
				t.Errorf("shift of %d min: month %d found %d", shift, m+1, got)
			}
		}
	}
	// Where the three are not independent the clock cannot be proven.
	r := made(60)
	r.Independent = false
	if s, _, _ := finish(t, r); s.ClockMin != [12]int{} || !slices.Contains(s.Flags, repair.FlagClockUnproven) {
		t.Errorf("dependent columns: %v %v", s.ClockMin, s.Flags)
	}
}

// A shift that the data set documents stands where nothing can prove it, and is
// where the search begins: values for the half hour before theirs, told so, are
// no shift; told so wrongly they are moved back.
func TestDocumentedShift(t *testing.T) {
	for _, c := range []struct{ real, documented, found int }{{-30, -30, 0}, {30, 30, 0}, {0, -30, 30}, {-150, -30, -120}} {
		r := made(float64(c.real))
		for m := range r.Site.ClockMin {
			r.Site.ClockMin[m] = c.documented
		}
		s, _, rep := finish(t, r)
		for m, got := range s.ClockMin {
			if got != c.real || rep.Clock[m].ShiftMin != c.found || rep.Clock[m].Misfit > 1 {
				t.Errorf("%d min documented as %d: month %d at %d, %+v", c.real, c.documented, m+1, got, rep.Clock[m])
			}
		}
		if shifted := slices.Contains(s.Flags, repair.FlagClockShifted); shifted != (c.found != 0) {
			t.Errorf("%d min documented as %d: flags %v", c.real, c.documented, s.Flags)
		}
	}
	r := made(-30)
	for m := range r.Site.ClockMin {
		r.Site.ClockMin[m] = -30
	}
	r.Independent, r.DNI, r.DHI = false, nil, nil
	if s, _, _ := finish(t, r); s.ClockMin != r.Site.ClockMin || slices.Contains(s.Flags, repair.FlagClockShifted) {
		t.Errorf("without proof: %v, flags %v", s.ClockMin, s.Flags)
	}
}

const noon = 4380 // 2 July, 12 to 13 h

func TestGaps(t *testing.T) {
	nan := math.NaN()
	r := made(0)
	want := slices.Clone(r.AirTemperature)
	for h := noon; h < noon+3; h++ {
		r.AirTemperature[h] = nan
	}
	for h := 1000; h < 1030; h++ { // longer: from the same hours of days beside
		r.AirTemperature[h] = nan
	}
	r.Wind[0], r.Wind[weather.Hours-1] = nan, nan
	_, y, rep := finish(t, r)
	if m, f := filled(rep, "air_temperature_c"); m != 33 || f != 33 {
		t.Errorf("%d missing, %d filled, want 33", m, f)
	}
	if m, f := filled(rep, "wind_speed_m_s"); m != 2 || f != 2 {
		t.Errorf("wind: %d missing, %d filled, want 2", m, f)
	}
	for k := range 3 {
		line := want[noon-1] + (want[noon+3]-want[noon-1])*float64(k+1)/4
		if math.Abs(float64(y.AirTemperature[noon+k])-line) > 1e-4 {
			t.Errorf("hour %d of a short gap: %.3f, by the straight line %.3f", k, y.AirTemperature[noon+k], line)
		}
	}
	for h := 1000; h < 1030; h++ { // days differ little here: their hour tells
		if math.Abs(float64(y.AirTemperature[h])-want[h]) > .5 {
			t.Errorf("hour %d of a long gap: %.2f, was %.2f", h, y.AirTemperature[h], want[h])
		}
	}
}

func TestImpossibleAndMissingIrradiance(t *testing.T) {
	r := made(0)
	r.DNI[noon] = 1500 // above the extraterrestrial
	r.GHI[noon+24] = -50
	_, y, rep := finish(t, r)
	if m, _ := filled(rep, "dni_w_m2"); m != 1 || y.DNI[noon] > 1000 {
		t.Errorf("impossible DNI: %d missing, became %g", m, y.DNI[noon])
	}
	// Over a tenth of the sunlit hours: set aside; under: kept. The made year has
	// no irradiance in hours with hardly any sun, so that its shares count less.
	for _, tt := range []struct {
		share float64
		ok    bool
	}{{.09, true}, {.13, false}} {
		r := made(0)
		sunlit, spoilt := 0, 0
		for h := range r.GHI {
			if r.GHI[h] > 0 {
				sunlit++
				if float64(spoilt) < tt.share*float64(sunlit) {
					r.GHI[h], r.DNI[h], r.DHI[h] = math.NaN(), math.NaN(), math.NaN()
					spoilt++
				}
			}
		}
		_, _, _, err := repair.Finish(r, repair.Closed)
		if (err == nil) != tt.ok {
			t.Errorf("%.0f %% missing: %v", 100*tt.share, err)
		}
	}
}

func TestSnow(t *testing.T) {
	r := made(0)
	for h := 200; h < 300; h++ {
		r.Snow[h] = 5 // January, days near 4 °C
	}
	if s, y, _ := finish(t, r); y.Snow[250] != 5 || slices.Contains(s.Flags, repair.FlagSnowRejected) {
		t.Errorf("winter snow: %g cm, %v", y.Snow[250], s.Flags)
	}
	r = made(0)
	r.Snow[250], r.Snow[noon] = 5, 2
	if s, y, _ := finish(t, r); y.Snow[250] != 0 || y.Snow[noon] != 0 || !slices.Contains(s.Flags, repair.FlagSnowRejected) {
		t.Errorf("snow in July: %g and %g cm, %v", y.Snow[250], y.Snow[noon], s.Flags)
	}
}

func TestSubstitutes(t *testing.T) {
	r := made(0)
	r.Wind = nil
	if s, y, _ := finish(t, r); y.Wind[5] != 3 || !slices.Contains(s.Flags, repair.FlagWindAssumed) {
		t.Errorf("no wind: %g m/s, %v", y.Wind[5], s.Flags)
	}
	r = made(0)
	before := r.Wind[7]
	r.WindHeight = 2
	if s, y, _ := finish(t, r); math.Abs(float64(y.Wind[7])-before*math.Pow(5, 1.0/7)) > 1e-3 || !slices.Contains(s.Flags, repair.FlagWindHeight) {
		t.Errorf("wind at 2 m: %g became %g, %v", before, y.Wind[7], s.Flags)
	}
	// Berdahl and Martin 1984 for a clear hour: air 25 °C, dew point 15 °C,
	// 1000 hPa at half past twelve; the emissivity of its formula at t = 12.5.
	r = made(0)
	r.SkyInfrared = nil
	for h := range r.AirTemperature {
		r.AirTemperature[h], r.DewPoint[h], r.Pressure[h] = 25+math.Mod(float64(h), 2)*.001, 15, 1000
	}
	e := .711 + .56*.15 + .73*.15*.15 + .013*math.Cos(2*math.Pi*12.5/24)
	want := e * 5.670374e-8 * math.Pow(298.15, 4)
	s, y, _ := finish(t, r)
	if got := float64(y.SkyInfrared[noon]); math.Abs(got-want) > .1 || !slices.Contains(s.Flags, repair.FlagInfraredModel) {
		t.Errorf("sky infrared %.2f W/m², Berdahl and Martin give %.2f; %v", got, want, s.Flags)
	}
	// Five tenths of opaque cloud at 2 km: Martin and Berdahl 1984.
	r = made(0)
	r.SkyInfrared = nil
	for h := range r.AirTemperature {
		r.AirTemperature[h], r.DewPoint[h], r.Pressure[h], r.OpaqueCloud[h] = 25+math.Mod(float64(h), 2)*.001, 15, 1000, 5
	}
	cloudy := e + (1-e)*.5*math.Exp(-2/8.2)
	if _, y, _ = finish(t, r); math.Abs(float64(y.SkyInfrared[noon])-want/e*cloudy) > .1 {
		t.Errorf("under clouds %.2f W/m², want %.2f", y.SkyInfrared[noon], want/e*cloudy)
	}
	// Codes 0 and 9999 of the infrared are missing.
	r = made(0)
	r.SkyInfrared[noon], r.SkyInfrared[noon+1] = 0, 9999
	if _, y, rep := finish(t, r); y.SkyInfrared[noon] < 100 || y.SkyInfrared[noon+1] > 700 {
		m, _ := filled(rep, "sky_infrared_w_m2")
		t.Errorf("codes: %g and %g, %d missing", y.SkyInfrared[noon], y.SkyInfrared[noon+1], m)
	}
	// No humidity at all: Swinbank 1963 by air temperature alone, clear sky.
	r = made(0)
	r.SkyInfrared, r.DewPoint = nil, nil
	s, y, _ = finish(t, r)
	ta := r.AirTemperature[noon] + 273.15
	if got, want := float64(y.SkyInfrared[noon]), 5.670374e-8*math.Pow(.0552*math.Pow(ta, 1.5), 4); math.Abs(got-want) > .5 || !slices.Contains(s.Flags, repair.FlagSwinbank) {
		t.Errorf("Swinbank: %.2f W/m², want %.2f; %v", got, want, s.Flags)
	}
	// Only GHI: split by Erbs, and the three close.
	r = made(0)
	r.DNI, r.DHI, r.Independent = nil, nil, false
	s, y, _ = finish(t, r)
	if !strings.Contains(s.SplitModel, "Erbs") || y.DNI[noon] < 300 || y.DHI[noon] <= 0 {
		t.Errorf("split model %q, DNI %g, DHI %g", s.SplitModel, y.DNI[noon], y.DHI[noon])
	}
	// No air temperature: nothing stands in for it.
	r = made(0)
	r.AirTemperature = nil
	if _, _, _, err := repair.Finish(r, repair.Closed); err == nil || !strings.Contains(err.Error(), "air_temperature") {
		t.Errorf("no air temperature: %v", err)
	}
}

// Degree days of a year of one temperature: (18.3 − 10)·days, and none of the
// other kind. Base 18.3 °C (65 °F), as ASHRAE has it.
func TestDegreeDays(t *testing.T) {
	r := made(0)
	for h := range r.AirTemperature {
		r.AirTemperature[h] = 10
		r.DewPoint[h] = 4
	}
	s, _, _ := finish(t, r)
	for m, days := range weather.MonthDays {
		if want := 8.3 * float64(days); math.Abs(s.HDD[m]-want) > 1e-3 || s.CDD[m] != 0 {
			t.Errorf("month %d: HDD %.3f, CDD %.3f, want %.3f and 0", m+1, s.HDD[m], s.CDD[m], want)
		}
	}
	if !slices.Contains(s.Flags, repair.FlagConstant+"air_temperature_c") {
		t.Errorf("a temperature that never changes is not flagged: %v", s.Flags)
	}
}

// Whatever is missing, single values or whole columns, Finish gives a finished
// year or an error, never NaN.
func FuzzFinish(f *testing.F) {
	f.Add(uint64(1), uint16(10), uint16(0))
	f.Add(uint64(2), uint16(3000), uint16(0))
	f.Add(uint64(3), uint16(300), uint16(0b000_0100_0110)) // no beam, diffuse or sky infrared
	f.Add(uint64(4), uint16(300), uint16(0b110_1111_0001)) // beam and diffuse, air temperature and total cloud alone
	f.Add(uint64(5), uint16(0), uint16(0b000_0000_1000))   // no air temperature
	whole := made(0)
	f.Fuzz(func(t *testing.T, seed uint64, holes, absent uint16) {
		r := *whole
		columns := []*[]float64{&r.GHI, &r.DNI, &r.DHI, &r.AirTemperature, &r.DewPoint, &r.Pressure, &r.SkyInfrared, &r.OpaqueCloud, &r.TotalCloud, &r.Wind, &r.Snow}
		for i, c := range columns {
			if *c = slices.Clone(*c); absent>>i&1 == 1 {
				*c = nil
			}
		}
		for range holes {
			seed = seed*6364136223846793005 + 1442695040888963407
			c := *columns[(seed>>33)%uint64(len(columns))]
			h := (seed >> 40) % weather.Hours
			for k := range (seed >> 20) % 9 {
				if c != nil {
					c[(h+k)%weather.Hours] = math.NaN()
				}
			}
		}
		_, y, _, err := repair.Finish(&r, repair.Closed)
		if absent>>3&1 == 1 && err == nil {
			t.Error("a year without air temperature is finished")
		}
		if err != nil {
			return
		}
		if err := y.Validate(); err != nil {
			t.Error(err)
		}
	})
}
