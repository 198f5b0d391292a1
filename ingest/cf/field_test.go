package cf

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/grid"
	"stillrow/ingest/netcdf"
)

func near(a, b float32) bool { return math.Abs(float64(a-b)) <= 1e-5*math.Abs(float64(b)) }

// One field in every order of dimensions, with a member of one, gives the same.
func TestOrders(t *testing.T) {
	want := []float32{0, 100, 200, 300, 10, 110, 210, 310, 20, 120, 220, 320}
	for order, data := range map[string]string{
		"time, lat, lon":         twelve,
		"time, number, lat, lon": twelve,
		"number, time, lat, lon": twelve,
		"time, lon, lat":         "0, 200, 100, 300, 10, 210, 110, 310, 20, 220, 120, 320",
		"lat, lon, time":         "0, 10, 20, 100, 110, 120, 200, 210, 220, 300, 310, 320",
		"lon, time, lat":         "0, 200, 10, 210, 20, 220, 100, 300, 110, 310, 120, 320",
		"lat, number, time, lon": "0, 100, 10, 110, 20, 120, 200, 300, 210, 310, 220, 320",
	} {
		f := read(t, cdl{dims: "number = 1 ;", vars: "float rsds(" + order + `) ; rsds:units = "W m-2" ;`, data: "rsds = " + data + " ;"})
		field := only(t, f)
		if got := all(t, f, field); !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", order, got, want)
		}
		part := make([]float32, 4)
		if err := field.Read(part, 1, 2, 1, 1); err != nil || !slices.Equal(part, []float32{210, 310, 220, 320}) {
			t.Errorf("%s: records 1 and 2 of row 1: %v, %v", order, part, err)
		}
	}
}

func TestConversions(t *testing.T) {
	for _, tt := range []struct {
		name, units, attrs string
		step               float64
		in, want           float64
		of                 grid.Quantity
	}{
		{"rsds", "W m-2", "", 1, 800, 800, grid.GHI},
		{"rsds", "J m-2", "", 1, 3.6e5, 100, grid.GHI},     // an hour has 3600 s
		{"rsds", "kJ m-2", "", 3, 1080, 100, grid.GHI},     // 3 h have 10 800 s
		{"rsds", "Wh/m2", "", 0.5, 50, 100, grid.GHI},      // 50 Wh in half an hour
		{"rsds", "MJ/m^2/day", "", 1, 8.64, 100, grid.GHI}, // 8.64e6 J in 86 400 s
		{"x", "W m-2", `x:standard_name = "surface_direct_along_beam_shortwave_flux_in_air" ;`, 1, 700, 700, grid.DNI},
		{"x", "W m-2", `x:standard_name = "surface_diffuse_downwelling_shortwave_flux_in_air" ;`, 1, 100, 100, grid.DHI},
		{"SID", "W m-2", "", 1, 100, 100, grid.DirectHorizontal},
		{"fdir", "J m**-2", "", 1, 3.6e5, 100, grid.DirectHorizontal},
		{"tas", "K", "", 1, 300, 26.85, grid.AirTemperature},
		{"tas", "degF", "", 1, 50, 10, grid.AirTemperature},
		{"T2M", "C", "", 1, 20, 20, grid.AirTemperature},
		{"d2m", "K", "", 1, 283.15, 10, grid.DewPoint},
		{"hurs", "1", "", 1, 0.4, 40, grid.RelHumidity},
		{"RH2M", "%", "", 1, 40, 40, grid.RelHumidity},
		{"huss", "1", "", 1, 0.01, 0.01, grid.SpecificHumidity},
		{"QV2M", "g/kg", "", 1, 10, 0.01, grid.SpecificHumidity},
		{"ps", "Pa", "", 1, 101325, 1013.25, grid.Pressure},
		{"PS", "kPa", "", 1, 101.325, 1013.25, grid.Pressure},
		{"vapor_pressure", "kPa", "", 1, 1.5, 15, grid.VapourPressure},
		{"rlds", "W m-2", "", 1, 300, 300, grid.SkyInfrared},
		{"tcc", "(0 - 1)", "", 1, 0.5, 5, grid.TotalCloud},
		{"clt", "%", "", 1, 50, 5, grid.TotalCloud},
		{"x", "octas", `x:standard_name = "cloud_area_fraction" ;`, 1, 4, 5, grid.TotalCloud},
		{"sfcWind", "km/h", "", 1, 36, 10, grid.Wind},
		{"snd", "m", "", 1, 0.2, 20, grid.Snow},
		{"orog", "m", "", 1, 100, 100, grid.Elevation},
		{"z", "m**2 s**-2", `z:standard_name = "geopotential" ;`, 1, 980.665, 100, grid.Elevation},
	} {
		f := read(t, cdl{time: list(0, tt.step, tt.step), vars: "double " + tt.name + "(time, lat, lon) ; " + tt.name + `:units = "` + tt.units + `" ; ` + tt.attrs,
			data: tt.name + " = " + strings.TrimSuffix(strings.Repeat(list(tt.in, tt.in, 1)+",", 8), ",") + " ;"})
		field := only(t, f)
		if got := all(t, f, field); field.Quantity != tt.of || !near(got[len(got)-1], float32(tt.want)) {
			t.Errorf("%s %v %s: %v %v, want %v %v", tt.name, tt.in, tt.units, field.Quantity, got, tt.of, tt.want)
		}
	}
}

// Which variable is taken, and what is said of the others.
func TestChoice(t *testing.T) {
	declare := func(names ...string) cdl {
		var c cdl
		for _, n := range names {
			name, attrs, _ := strings.Cut(n, ":")
			c.vars += "float " + name + "(time, lat, lon) ; "
			for _, a := range strings.Split(attrs, ";") {
				if a != "" {
					c.vars += name + ":" + a + " ; "
				}
			}
		}
		return c
	}
	wind := `:units="m/s"`
	for name, tt := range map[string]struct {
		c        cdl
		variable []string
		height   float64
		warning  string
	}{
		"10 m before 2 m":    {declare("WS2M"+wind, "WS10M"+wind), []string{"WS10M"}, 10, "WS10M: taken; WS2M left"},
		"2 m alone":          {declare("WS2M" + wind), []string{"WS2M"}, 2, ""},
		"by description":     {declare(`a:units="m/s";standard_name="wind_speed";long_name="wind at 50 m"`, `b:units="m/s";standard_name="wind_speed";long_name="10 metre wind"`), []string{"b"}, 10, "b: taken; a left"},
		"by attribute":       {declare(`a:units="m/s";standard_name="wind_speed";height="2 m"`), []string{"a"}, 2, ""},
		"components":         {declare("u10"+wind, "v10"+wind), []string{"u10", "v10"}, 10, ""},
		"speed first":        {declare("u10"+wind, "v10"+wind, "si10"+wind), []string{"si10"}, 10, "u10: left for the wind speed"},
		"nearer components":  {declare("u10"+wind, "v10"+wind, "WS2M"+wind), []string{"u10", "v10"}, 10, "WS2M: left for the components"},
		"half a pair":        {declare("u10"+wind, "si10"+wind), []string{"si10"}, 10, "u10: one component"},
		"standard name":      {declare(`shortwave:units="W m-2"`, `x:units="W m-2";standard_name="surface_downwelling_shortwave_flux_in_air"`), []string{"x"}, 0, "x: taken; shortwave left"},
		"2 m temperature":    {declare(`temp:units="K"`, `t2m:units="K"`), []string{"t2m"}, 0, "t2m: taken; temp left"},
		"another that works": {declare(`rsds:units="furlong"`, `SIS:units="W m-2"`), []string{"SIS"}, 0, `rsds: units: unknown unit "furlong"; SIS taken instead`},
		"height of levels":   {declare(`z:units="furlong"`, `tas:units="K"`), []string{"tas"}, 0, `z: units: unknown unit "furlong"; left`},
		"water equivalent":   {declare(`sd:units="m of water equivalent";long_name="Snow depth"`, `tas:units="K"`), []string{"tas"}, 0, "water equivalent is no depth of snow"},
	} {
		f := read(t, tt.c)
		var got []string
		for _, x := range f.Fields {
			got = append(got, x.Variable)
			if x.Height != tt.height {
				t.Errorf("%s: %s at %v m, want %v", name, x.Variable, x.Height, tt.height)
			}
		}
		if !slices.Equal(got, tt.variable) || !strings.Contains(strings.Join(f.Warnings, "|"), tt.warning) {
			t.Errorf("%s: %v, warnings %q, want %v, %q", name, got, f.Warnings, tt.variable, tt.warning)
		}
	}
}

// A scalar height coordinate (CF 5.7) tells the height of the wind; a pressure
// level is no surface.
func TestScalarCoordinates(t *testing.T) {
	f := read(t, cdl{vars: `double h ; h:units = "m" ; h:standard_name = "height" ;
		float sfcWind(time, lat, lon) ; sfcWind:units = "m s-1" ; sfcWind:coordinates = "h" ;`, data: "h = 2 ;"})
	if w := only(t, f); w.Height != 2 {
		t.Errorf("height %v, want 2", w.Height)
	}
	f = read(t, cdl{dims: "plev = 1 ;", vars: `double plev(plev) ; plev:units = "hPa" ;
		float ta(time, plev, lat, lon) ; ta:units = "K" ; ta:standard_name = "air_temperature" ;
		float rsds(time, lat, lon) ; rsds:units = "W m-2" ;`, data: "plev = 850 ;"})
	if x := only(t, f); x.Variable != "rsds" || !strings.Contains(strings.Join(f.Warnings, "|"), "ta: lies on a pressure level") {
		t.Errorf("%+v, %q", x, f.Warnings)
	}
}

// FuzzRead reads damaged files.
func FuzzRead(f *testing.F) {
	for _, c := range []cdl{
		{attrs: `time:bounds = "tb" ; double tb(time, two) ;`, vars: `float rsds(time, lat, lon) ; rsds:units = "J m-2" ; short u10(time, lon, lat) ; u10:units = "m/s" ;`, data: "rsds = " + twelve + " ;"},
		{units: "YYYYMM", time: "202212, 202213, 202301", attrs: `lat:bounds = "lb" ; double lb(lat, two) ;`, vars: `float FSR(time, lat, lon) ; FSR:units = "MJ m-2" ; FSR:long_name = "AVAILABLE SOLAR RADIATION" ;`},
	} {
		data, err := os.ReadFile(compile(f, c.String()))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		n, err := netcdf.Open(strings.NewReader(string(data)), int64(len(data)), "x.nc")
		if err != nil {
			return
		}
		g, err := Read(n)
		if err != nil {
			return
		}
		for _, x := range g.Fields {
			if n := x.Records() * len(g.Lat) * len(g.Lon); n < 1<<20 {
				x.Read(make([]float32, n), 0, x.Records(), 0, len(g.Lat))
			}
		}
	})
}
