package repair_test

import (
	"math"
	"slices"
	"testing"

	"stillrow/ingest/repair"
	"stillrow/ingest/weather"
)

// The clock is found where zones stand at half and quarter hours, in the south,
// and beyond the polar circles, where the months with too little sun take the
// year's shift and the night needs no irradiance.
func TestClockAnywhere(t *testing.T) {
	for _, tt := range []struct {
		name           string
		lat, lon, zone float64
		dark           []int // months that have no sun at all there, from 1
	}{
		{"Kathmandu", 27.7, 85.3, 5.75, nil},
		{"Adelaide", -34.9, 138.6, 9.5, nil},
		{"St John's", 47.6, -52.7, -3.5, nil},
		{"the Line Islands", 1.9, -157.4, 14, nil},
		{"Tromsø", 69.65, 18.96, 1, []int{12}},
		{"Rothera", -67.57, -68.1, -3, nil},
		{"80° N", 80, -86, -6, []int{1, 11, 12}},
		{"the South Pole", -90, 0, 0, []int{4, 5, 6, 7, 8}},
	} {
		for _, shift := range []int{-30, 60} {
			if tt.lat == -90 {
				shift = 0 // the sun is as high at all hours: any clock will do
			}
			r := madeAt(tt.lat, tt.lon, tt.zone, float64(shift))
			was := slices.Clone(r.GHI)
			var beam [12]int
			nights := 0
			h := 0
			for m, days := range weather.MonthDays {
				for range 24 * days {
					if r.DNI[h] > 150 {
						beam[m]++
					}
					if was[h] == 0 { // the night's zeros are no lack of data
						nights++
					}
					h++
				}
			}
			s, y, rep := finish(t, r)
			for m, c := range rep.Clock {
				if c.Hours != beam[m] || c.FromYear != (c.Hours < 30) || (tt.lat > -90 && s.ClockMin[m] != shift) || s.ClockMin[m] != c.ShiftMin {
					t.Errorf("%s, shift %d, month %d: %+v, want %d hours", tt.name, shift, m+1, c, beam[m])
				}
				if c.Misfit > .5 {
					t.Errorf("%s, month %d: misfit %.2f of a year that closes", tt.name, m+1, c.Misfit)
				}
			}
			for _, m := range tt.dark {
				if rep.Clock[m-1].Hours != 0 {
					t.Errorf("%s has %d hours of sun in month %d", tt.name, rep.Clock[m-1].Hours, m)
				}
			}
			if slices.Contains(s.Flags, repair.FlagZoneFar) || s.MissingHours != 0 || s.FilledHours != 0 {
				t.Errorf("%s: %d missing, %d filled, flags %v", tt.name, s.MissingHours, s.FilledHours, s.Flags)
			}
			for h := range was {
				if y.GHI[h] != float32(was[h]) {
					t.Fatalf("%s, hour %d: GHI %v became %v", tt.name, h, was[h], y.GHI[h])
				}
			}
			if nights < 2000 {
				t.Errorf("%s: %d hours of night", tt.name, nights)
			}
		}
	}
}

// A year with gaps all through the polar night lacks nothing there.
func TestPolarNightNeedsNoIrradiance(t *testing.T) {
	r := madeAt(80, -86, -6, 0)
	for h := range 20 * 24 { // to 20 January, the sun far down
		r.GHI[h], r.DNI[h], r.DHI[h] = math.NaN(), math.NaN(), math.NaN()
	}
	s, y, rep := finish(t, r)
	for h := range 20 * 24 {
		if y.GHI[h] != 0 || y.DNI[h] != 0 || y.DHI[h] != 0 {
			t.Fatalf("hour %d of the night: GHI %v", h, y.GHI[h])
		}
	}
	if m, f := filled(rep, "ghi_w_m2"); m != 0 || f != 0 || s.FilledHours != 0 {
		t.Errorf("%d missing, %d filled, want none", m, f)
	}
}

// Hours whose tracker stood still, with GHI alone, keep their own sky: overcast
// stays overcast, by Erbs, Klein and Duffie's correlation (their diffuse share
// at a clearness of 0.1 is 0.991), whatever the days beside.
func TestHoursOfGHIAlone(t *testing.T) {
	r := made(0)
	for h := noon; h < noon+2; h++ { // GHI was near 900
		r.GHI[h], r.DNI[h], r.DHI[h] = 120, math.NaN(), math.NaN()
	}
	// With DNI alone GHI follows from it and the diffuse of its neighbours.
	r.GHI[noon+48], r.DHI[noon+48], r.DNI[noon+48] = math.NaN(), math.NaN(), 400
	diffuse := (r.DHI[noon+47] + r.DHI[noon+49]) / 2
	s, y, rep := finish(t, r)
	for h := noon; h < noon+2; h++ {
		if share := y.DHI[h] / y.GHI[h]; math.Abs(float64(share)-.991) > .002 || y.GHI[h] != 120 {
			t.Errorf("hour %d: GHI %g, DNI %g, DHI %g", h, y.GHI[h], y.DNI[h], y.DHI[h])
		}
	}
	if !slices.Contains(s.Flags, repair.FlagErbsHours) || s.SplitModel != "" {
		t.Errorf("flags %v, split model %q", s.Flags, s.SplitModel)
	}
	if m, f := filled(rep, "dni_w_m2"); m != 2 || f != 2 {
		t.Errorf("dni: %d missing, %d filled, want 2", m, f)
	}
	if m, f := filled(rep, "ghi_w_m2"); m != 1 || f != 1 {
		t.Errorf("ghi: %d missing, %d filled, want 1", m, f)
	}
	h := noon + 48
	if y.DNI[h] != 400 || math.Abs(float64(y.DHI[h])-diffuse) > 3 || rep.ClosureFailed != 0 {
		t.Errorf("DNI alone: GHI %g, DNI %g, DHI %g, want a DHI of %.1f; %d hours do not close", y.GHI[h], y.DNI[h], y.DHI[h], diffuse, rep.ClosureFailed)
	}
}

// The published table of clear-sky temperatures by Berdahl and Martin 1984, air
// and dew point °C at 1000 hPa, from the emissivity of a full hour: hours of a
// file are half an hour on, which the 0.013·cos(2πt/24) of the formula tells.
func TestBerdahlMartinTable(t *testing.T) {
	for _, tt := range []struct {
		air, dew    float64
		hour        int
		emissivity  float64
		temperature float64
	}{
		{25, 15, 12, .7984, 8.68}, {25, 15, 0, .8244, 10.95}, {10, 0, 0, .7240, -11.96},
		{35, 5, 12, .7278, 11.47}, {0, -10, 0, .6753, -25.54},
	} {
		r := made(0)
		r.SkyInfrared = nil
		for h := range r.AirTemperature {
			r.AirTemperature[h], r.DewPoint[h], r.Pressure[h] = tt.air, tt.dew, 1000
		}
		_, y, _ := finish(t, r)
		at := noon - 12 + tt.hour
		half := .013 * (math.Cos(math.Pi*(float64(tt.hour)+.5)/12) - math.Cos(math.Pi*float64(tt.hour)/12))
		ta := tt.air + 273.15
		got := float64(y.SkyInfrared[at])/(5.670374e-8*math.Pow(ta, 4)) - half
		sky := ta*math.Pow(got, .25) - 273.15
		if math.Abs(got-tt.emissivity) > 1e-4 || math.Abs(sky-tt.temperature) > .02 {
			t.Errorf("%+v: emissivity %.4f, sky %.2f °C", tt, got, sky)
		}
	}
}

// Total cloud stands in hour by hour where opaque cloud lacks; a column of a
// few values says nothing of a year.
func TestSparseColumns(t *testing.T) {
	infrared := func(edit func(*weather.Raw)) (*weather.Year, []string) {
		r := made(0)
		r.SkyInfrared = nil
		edit(r)
		s, y, _ := finish(t, r)
		return y, s.Flags
	}
	overcast, _ := infrared(func(r *weather.Raw) {
		for h := range r.OpaqueCloud {
			r.OpaqueCloud[h] = 10
		}
	})
	mixed, flags := infrared(func(r *weather.Raw) {
		for h := range r.OpaqueCloud {
			r.OpaqueCloud[h], r.TotalCloud[h] = 0, 10
		}
		for h := noon; h < noon+100; h++ {
			r.OpaqueCloud[h] = math.NaN()
		}
	})
	if mixed.SkyInfrared[noon+50] != overcast.SkyInfrared[noon+50] || mixed.SkyInfrared[noon-1] >= overcast.SkyInfrared[noon-1] ||
		!slices.Contains(flags, repair.FlagCloudTotal) {
		t.Errorf("total cloud in a gap of the opaque: %g, before it %g, flags %v", mixed.SkyInfrared[noon+50], mixed.SkyInfrared[noon-1], flags)
	}
	empty := func(v []float64) {
		for h := range v {
			if h >= 48 {
				v[h] = math.NaN()
			}
		}
	}
	_, flags = infrared(func(r *weather.Raw) { empty(r.OpaqueCloud); empty(r.TotalCloud); empty(r.DewPoint); empty(r.Pressure) })
	if !slices.Contains(flags, repair.FlagCloudGHI) || !slices.Contains(flags, repair.FlagSwinbank) || slices.Contains(flags, repair.FlagCloudTotal) {
		t.Errorf("two days of cloud and dew point in a year: flags %v", flags)
	}
	_, flags = infrared(func(r *weather.Raw) { empty(r.Pressure) })
	if !slices.Contains(flags, repair.FlagPressure) {
		t.Errorf("two days of pressure in a year: flags %v", flags)
	}
	// Three-hourly observations are a column all the same.
	_, flags = infrared(func(r *weather.Raw) {
		for h := range r.OpaqueCloud {
			if h%3 > 0 {
				r.OpaqueCloud[h], r.TotalCloud[h], r.DewPoint[h] = math.NaN(), math.NaN(), math.NaN()
			}
		}
	})
	if !slices.Equal(flags, []string{repair.FlagInfraredModel}) {
		t.Errorf("three-hourly cloud and dew point: flags %v", flags)
	}
}
