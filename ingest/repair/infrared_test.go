package repair

import (
	"math"
	"slices"
	"testing"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// What stands for cloud and humidity, in the order of preference, each flagged.
func TestCloudAndHumidity(t *testing.T) {
	same := func(v float64) []float64 { return slices.Repeat([]float64{v}, weather.Hours) }
	const h = 24*172 + 1 // 1 to 2 h
	pressure := sky.Pressure(300)
	for _, tt := range []struct {
		name  string
		set   func(*weather.Raw)
		flags []string
		dew   float64 // NaN: Swinbank
		cloud float64
	}{
		{"all there", func(r *weather.Raw) {
			r.DewPoint, r.RelHumidity, r.Pressure, r.OpaqueCloud, r.TotalCloud = same(5), same(20), same(pressure), same(3), same(9)
		}, []string{FlagInfraredModel}, 5, 3},
		{"total cloud, humidity", func(r *weather.Raw) { r.RelHumidity, r.TotalCloud = same(60), same(9) },
			[]string{FlagInfraredModel, FlagDewPointRH, FlagPressure, FlagCloudTotal}, sky.DewPoint(9.1, 60), 9},
		{"no humidity", func(r *weather.Raw) { r.OpaqueCloud = same(0) }, []string{FlagInfraredModel, FlagSwinbank}, math.NaN(), 0},
		{"dew above air", func(r *weather.Raw) { r.DewPoint, r.Pressure, r.OpaqueCloud = same(12), same(pressure), same(0) },
			[]string{FlagInfraredModel}, 9.1, 0},
	} {
		r, _ := closed(48)
		r.SkyInfrared = nil
		tt.set(r)
		site, _, _, err := Finish(r, Closed)
		if err != nil {
			t.Fatal(err)
		}
		if want := append(tt.flags, FlagSnowAbsent); !slices.Equal(site.Flags, want) {
			t.Errorf("%s: flags %v, want %v", tt.name, site.Flags, want)
		}
		clear := sky.SwinbankEmissivity(9.1)
		if tt.dew == tt.dew {
			clear = sky.ClearEmissivity(tt.dew, 1.5, pressure)
		}
		want := sky.Infrared(sky.CloudyEmissivity(clear, tt.cloud), 9.1)
		if got := r.SkyInfrared[h]; math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %v W/m², want %v", tt.name, got, want)
		}
	}
}

// Cloud from GHI: a day dimmed as Kasten and Czeplak's five tenths dim it, and
// the night after it keeps its last daylight value.
func TestCloudFromGHI(t *testing.T) {
	const tenths, day = 5.0, 172
	dim := 1 - 0.75*math.Pow(tenths/10, 3.4)
	r, suns := closed(48)
	for h, s := range suns {
		if s.sz == 0 {
			continue
		}
		beam, diffuse := sky.Hottel(s.sz, r.Site.Elevation, sky.ClimateAt(48, 1+h/731)) // near enough to months
		r.GHI[h] = s.horizontal() * (beam + diffuse)
		if h/24 == day {
			beam, diffuse = sky.Hottel(s.sz, r.Site.Elevation, sky.ClimateAt(48, 6))
			r.GHI[h] = dim * s.horizontal() * (beam + diffuse)
		}
	}
	r.DNI, r.DHI, r.SkyInfrared, r.Independent = nil, nil, nil, false
	w := &work{raw: r, site: r.Site, suns: suns}
	cloud := w.cloud()
	for _, h := range []int{24*day + 8, 24*day + 12, 24*day + 16, 24*day + 23, 24*day + 26} {
		if math.Abs(cloud[h]-tenths) > 1e-6 {
			t.Errorf("hour %d of the day: %v tenths, want %v", h-24*day, cloud[h], tenths)
		}
	}
	if c := cloud[24*(day+1)+12]; c > 0.01 {
		t.Errorf("noon of the clear day after: %v tenths", c)
	}
	if cloud[0] != cloud[weather.Hours-1] {
		t.Errorf("the year's first night has %v, its last %v", cloud[0], cloud[weather.Hours-1])
	}
	if !slices.Contains(w.site.Flags, FlagCloudGHI) {
		t.Errorf("flags %v", w.site.Flags)
	}
}

// Short gaps of the long wave are drawn straight; longer ones are modelled and
// flagged, and both are counted.
func TestInfraredGaps(t *testing.T) {
	r, _ := closed(48)
	r.DewPoint, r.OpaqueCloud = slices.Repeat([]float64{2}, weather.Hours), slices.Repeat([]float64{0}, weather.Hours)
	r.SkyInfrared[100], r.SkyInfrared[102] = 310, 330
	r.SkyInfrared[101] = 9999
	for h := 200; h < 206; h++ {
		r.SkyInfrared[h] = 0
	}
	site, _, report, err := Finish(r, Closed)
	if err != nil {
		t.Fatal(err)
	}
	want := sky.Infrared(sky.ClearEmissivity(2, 10.5, sky.Pressure(300)), r.AirTemperature[202])
	if r.SkyInfrared[101] != 320 || math.Abs(r.SkyInfrared[202]-want) > 1e-9 {
		t.Errorf("%v, want 320; %v, want %v", r.SkyInfrared[101], r.SkyInfrared[202], want)
	}
	if n := report.count("sky_infrared_w_m2"); n.Missing != 7 || n.Filled != 7 || !slices.Contains(site.Flags, FlagInfraredModel) {
		t.Errorf("%+v, flags %v", *n, site.Flags)
	}
}
