package raster

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"stillrow/ingest/grid"
)

func TestWords(t *testing.T) {
	for in, want := range map[string]string{
		"SISav_2008_iberia_kWh_m2_day": "sisav 2008 iberia kwh m2 day",
		"kJ m-2 day-1":                 "kj m2 day",
		"kWh m**-2 d-1":                "kwh m2 d",
		"W/m²":                         "w m2",
		"W m^-2":                       "w m2",
		"m s-1":                        "m s",
		"grid_0.05deg-tas.c":           "grid 0.05deg tas c",
		"2008-07-01":                   "2008 07 01",
		"°C":                           "°c",
	} {
		if got := strings.Join(words(in), " "); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// understood gives what one band of a file is, with one of its values in the
// field's unit.
func TestUnderstand(t *testing.T) {
	for _, tt := range []struct {
		name     string
		band     Band
		quantity grid.Quantity
		month    int
		in, want float64
	}{
		{"ghi_w_m2_01.tif", Band{}, grid.GHI, 1, 100, 100},
		{"a/b\\GHI-kWh-m2-day-Dec.TIF", Band{}, grid.GHI, 12, 2.4, 100},
		{"SISav_2008_jun_kWh_m2_day.asc", Band{}, grid.GHI, 6, 2.4, 100},
		{"sis_mj_m2_day_07.asc", Band{}, grid.GHI, 7, 8.64, 100},
		{"srad_07_kJ_m-2_day-1.tif", Band{}, grid.GHI, 7, 8640, 100},
		{"ghi_kwh_m2_month_02.tif", Band{}, grid.GHI, 2, 67.2, 100}, // 28 days of 2.4
		{"dhi_kwh_m2_month_07.tif", Band{}, grid.DHI, 7, 74.4, 100},
		{"dni07_Wm2.tif", Band{}, grid.DNI, 7, 5, 5},
		{"tas_c_v01_07.tif", Band{}, grid.AirTemperature, 7, 5, 5},
		{"m07_tas_c_v02.tif", Band{}, grid.AirTemperature, 7, 5, 5},
		{"tas_k_march.tif", Band{}, grid.AirTemperature, 3, 273.15, 0},
		{"t2m_degF_11.tif", Band{}, grid.AirTemperature, 11, 50, 10},
		{"clim_2.5m_tavg_c_05.tif", Band{}, grid.AirTemperature, 5, 7, 7},
		{"dew_point_c_08.asc", Band{}, grid.DewPoint, 8, 7, 7},
		{"ws10m_m_s_09.tif", Band{}, grid.Wind, 9, 4, 4},
		{"wind_speed_km_h_10.tif", Band{}, grid.Wind, 10, 36, 10},
		{"rh_percent_2008_04.tif", Band{}, grid.RelHumidity, 4, 55, 55},
		{"rh_fraction_04.tif", Band{}, grid.RelHumidity, 4, 0.5, 50},
		{"vapour_pressure_kPa_04.tif", Band{}, grid.VapourPressure, 4, 1.2, 12},
		{"elevation_m.tif", Band{}, grid.Elevation, 0, 120, 120},
		{"dem.tif", Band{Unit: "metre"}, grid.Elevation, 0, 120, 120},
		{"x.tif", Band{"GHI January", "W/m^2"}, grid.GHI, 1, 100, 100},
		{"tas_c_01.tif", Band{"wind speed", "m s-1"}, grid.Wind, 1, 3, 3},
		{"x_c.tif", Band{"tas jul", ""}, grid.AirTemperature, 7, 3, 3},
	} {
		r := Raster{Name: tt.name, Lat: []float64{0}, Lon: []float64{0}, Bands: []Band{tt.band},
			Read: func(dst []float32, bands []int, y, ny int) error { dst[0] = float32(tt.in); return nil }}
		f, err := r.File()
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		field := f.Fields[0]
		got := make([]float32, 1)
		field.Read(got, 0, 1, 0, 1)
		var months []int
		if tt.month > 0 {
			months = []int{tt.month}
		}
		if field.Quantity != tt.quantity || !reflect.DeepEqual(field.Months, months) || math.Abs(float64(got[0])-tt.want) > 1e-4 {
			t.Errorf("%s: quantity %d, months %v, value %v", tt.name, field.Quantity, field.Months, got[0])
		}
		if (tt.name == "ws10m_m_s_09.tif") != (field.Height == 10) {
			t.Errorf("%s: height %v", tt.name, field.Height)
		}
	}
}

func TestNotTold(t *testing.T) {
	const list = "w_m2, kwh_m2_day, kwh_m2_month, kwh_m2_year, wh_m2_day, wh_m2_month, wh_m2_year, mj_m2_day, mj_m2_month, mj_m2_year, kj_m2_day, kj_m2_month, kj_m2_year, j_m2_day, j_m2_month, j_m2_year"
	for _, tt := range []struct {
		name  string
		bands []Band
		want  string
	}{
		{"map.tif", []Band{{}}, `map.tif: what is it? the name's words "map" have no quantity; put one of ghi, dni, dhi, bhi, air_temperature, dew_point, rh, specific_humidity, vapour_pressure, pressure, rlds, cloud, wind, ws10m, ws2m, u10, v10, snow_depth, elevation in it, as in ghi_kwh_m2_day_07`},
		{"ghi_furlong_01.asc", []Band{{}}, `ghi_furlong_01.asc: ghi in what unit? the name's words "ghi furlong 01" have none of ` + list + `; put it in, as in ghi_w_m2_07`},
		{"ghi_kwh_m2_01.asc", []Band{{}}, `ghi_kwh_m2_01.asc: ghi in what unit? the name's words "ghi kwh m2 01" have none of ` + list + `; put it in, as in ghi_w_m2_07`},
		{"ghi_01.tif", []Band{{Unit: "furlong"}}, `ghi_01.tif: unit "furlong" of ghi is not known, want one of ` + list},
		{"tas_c_w_m2_01.tif", []Band{{Unit: "W/m2"}}, `tas_c_w_m2_01.tif: unit "W/m2" of air temperature is not known, want one of c, k, f`},
		{"tas_c_k_01.tif", []Band{{}}, `tas_c_k_01.tif: two units of air temperature, c and k, in "c k 01"`},
		{"ghi_tas_c_01.tif", []Band{{}}, `ghi_tas_c_01.tif: two quantities, ghi and air temperature, in "ghi tas c 01"`},
		{"tas_c_jan_feb.tif", []Band{{}}, `tas_c_jan_feb.tif: two months, 1 and 2, in "tas c jan feb"`},
		{"tas_05_07_c.tif", []Band{{}}, `tas_05_07_c.tif: which month, 5 or 7, in "tas 05 07 c"? put it last`},
		{"tas_c_v02.tif", []Band{{}}, `tas_c_v02.tif: air temperature in c: no month: an annual mean cannot be brought to hours; twelve monthly grids are needed`},
		{"tas_c.tif", []Band{{}}, `tas_c.tif: air temperature in c: no month: an annual mean cannot be brought to hours; twelve monthly grids are needed`},
		{"ghi_kwh_m2_year_01.tif", []Band{{}}, `ghi_kwh_m2_year_01.tif: kwh_m2_year is a yearly sum; means or sums of months are needed`},
		{"tas_c.tif", make([]Band, 3), `tas_c.tif: band 1: 3 bands of air temperature without months, want twelve, or a month in each description, as in "air temperature jan"`},
		{"tas_c.tif", []Band{{Description: "jan"}, {Description: "jan"}}, `tas_c.tif: band 1: 2 bands of air temperature for month 1`},
		{"tas_c.tif", []Band{{Description: "jan"}, {}}, `tas_c.tif: band 1: some bands of air temperature say their month and others do not`},
		{"dem_m.tif", make([]Band, 2), `dem_m.tif: band 1: 2 bands of elevation, want one`},
	} {
		r := Raster{Name: tt.name, Bands: tt.bands}
		if _, err := r.File(); err == nil || err.Error() != tt.want {
			t.Errorf("%s:\n%v, want\n%v", tt.name, err, tt.want)
		}
	}
}

// Twelve bands of two quantities, in turn, come out month by month.
func TestTwelveBands(t *testing.T) {
	r := Raster{Name: "x.tif", Lat: []float64{1, 0}, Lon: []float64{0, 1}, ChunkRows: 2}
	for range 12 {
		r.Bands = append(r.Bands, Band{"ghi", "kWh m-2 day-1"}, Band{"tas", "K"})
	}
	r.Read = func(dst []float32, bands []int, y, ny int) error {
		for i, b := range bands {
			for k := range ny * 2 {
				dst[i*ny*2+k] = float32(100*b + 10*y + k)
			}
		}
		return nil
	}
	f, err := r.File()
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Fields) != 2 || len(f.Warnings) != 2 || len(f.Fields[0].Months) != 12 || f.Fields[0].Months[11] != 12 || f.Fields[1].Quantity != grid.AirTemperature {
		t.Fatalf("%+v", f)
	}
	got := make([]float32, 8)
	if err := f.Fields[1].Read(got, 3, 2, 0, 2); err != nil {
		t.Fatal(err)
	}
	if want := float32(900 - 273.15); got[4] != want { // May is band 9
		t.Errorf("%v, want %v", got[4], want)
	}
}

func FuzzFile(f *testing.F) {
	f.Add("ghi_kwh_m2_day_07.tif", "ghi", "W m-2")
	f.Add("tas.k.11", "", "")
	f.Fuzz(func(t *testing.T, name, description, unit string) {
		r := Raster{Name: name, Bands: []Band{{description, unit}}}
		if out, err := r.File(); err == nil && len(out.Fields) != 1 {
			t.Errorf("%d fields of one band", len(out.Fields))
		}
	})
}
