package cf

import (
	"math"
	"testing"
)

// The spellings are those of the CF conventions (section 3.1 and the canonical
// units of its name table), of ECMWF, NASA POWER and older data sets; the
// factors are worked by hand from the SI brochure's definitions.
func TestParseUnit(t *testing.T) {
	for _, tt := range []struct {
		text   string
		dims   [4]int
		in, si float64
	}{
		{"W m-2", irradiance, 800, 800},
		{"W/m2", irradiance, 800, 800},
		{"W/M2", irradiance, 800, 800},
		{"W/m^2", irradiance, 800, 800},
		{"W m**-2", irradiance, 800, 800},
		{"W.m-2", irradiance, 800, 800},
		{"W m^-2", irradiance, 800, 800},
		{"watts m-2", irradiance, 800, 800},
		{"Watts per m2", irradiance, 800, 800},
		{"W m⁻²", irradiance, 800, 800},
		{"J s-1 m-2", irradiance, 800, 800},
		{"kW m-2", irradiance, 0.8, 800},
		{"J m-2", irradiation, 3600, 3600},
		{"J m**-2", irradiation, 3600, 3600},
		{"J/cm2", irradiation, 1, 1e4},
		{"Wh/m2", irradiation, 1, 3600},
		{"kWh m-2", irradiation, 1, 3.6e6},
		{"kJ/m^2/day", irradiance, 8640, 100},
		{"MJ/m^2/day", irradiance, 8.64, 100},
		{"MJ m-2 day-1", irradiance, 8.64, 100},
		{"MJ/M2/DAY", irradiance, 8.64, 100},
		{"kWh/m^2/day", irradiance, 2.4, 100},
		{"kW-hr/m^2/day", one, math.NaN(), 0}, // a hyphen is no product
		{"MJ/hr", [4]int{1, 2, -3, 0}, 3.6, 1000},
		{"K", kelvin, 300, 300},
		{"C", kelvin, 20, 293.15},
		{"degC", kelvin, 20, 293.15},
		{"DEG C", kelvin, 20, 293.15},
		{"deg_C", kelvin, 20, 293.15},
		{"Celsius", kelvin, 20, 293.15},
		{"degrees Celsius", kelvin, 20, 293.15},
		{"°C", kelvin, 20, 293.15},
		{"degF", kelvin, 212, 373.15},
		{"m s-1", speed, 5, 5},
		{"m s**-1", speed, 5, 5},
		{"M/S", speed, 5, 5},
		{"m/s", speed, 5, 5},
		{"meters per second", speed, 5, 5},
		{"mm s-1", speed, 5000, 5},
		{"km/h", speed, 36, 10},
		{"km h-1", speed, 36, 10},
		{"knots", speed, 3600, 1852},
		{"%", one, 40, 0.4},
		{"percent", one, 40, 0.4},
		{"1", one, 0.4, 0.4},
		{"0-1", one, 0.4, 0.4},
		{"(0 - 1)", one, 0.4, 0.4},
		{"kg kg-1", one, 0.01, 0.01},
		{"kg kg**-1", one, 0.01, 0.01},
		{"kg/kg", one, 0.01, 0.01},
		{"g kg-1", one, 10, 0.01},
		{"g/kg", one, 10, 0.01},
		{"GR/KG", one, 10, 0.01},
		{"1e-3", one, 10, 0.01},
		{"Pa", pascal, 101325, 101325},
		{"hPa", pascal, 1013.25, 101325},
		{"mb", pascal, 1013.25, 101325},
		{"MB", pascal, 1013.25, 101325},
		{"mbar", pascal, 1013.25, 101325},
		{"millibar", pascal, 1013.25, 101325},
		{"kPa", pascal, 101.325, 101325},
		{"m", metre, 2, 2},
		{"cm", metre, 200, 2},
		{"mm", metre, 2000, 2},
		{"M", metre, 2, 2},
		{"m**2 s**-2", geopotent, 9.80665, 9.80665},
		{"m2 s-2", geopotent, 9.80665, 9.80665},
		{"octas", one, 4, 0.5},
		{"tenths", one, 5, 0.5},
		{"FRACTION OF SKY COVER", one, 0.5, 0.5},
		{"furlong", one, math.NaN(), 0},
		{"m of water equivalent", one, math.NaN(), 0},
		{"degrees", one, math.NaN(), 0},
		{"LOG10 #OBS", one, math.NaN(), 0},
		{"mm timestep-1", one, math.NaN(), 0},
		{"W/(m2 s)", one, math.NaN(), 0},
		{"W/m2/", one, math.NaN(), 0},
		{"/m", one, math.NaN(), 0},
		{"W m-9999999999999999999", one, math.NaN(), 0},
		{"0", one, math.NaN(), 0},
		{"code table", one, math.NaN(), 0},
	} {
		u, err := parseUnit(tt.text)
		if math.IsNaN(tt.in) {
			if err == nil {
				t.Errorf("%q: %v, want an error", tt.text, u)
			}
			continue
		}
		if err != nil || u.dims != tt.dims {
			t.Errorf("%q: dims %v, %v, want %v", tt.text, u.dims, err, tt.dims)
			continue
		}
		if got := u.scale*tt.in + u.offset; math.Abs(got-tt.si) > 1e-12*math.Abs(tt.si) {
			t.Errorf("%q: %v is %v, want %v", tt.text, tt.in, got, tt.si)
		}
	}
}

func FuzzParseUnit(f *testing.F) {
	for _, s := range []string{"W m-2", "kJ/m^2/day", "m**2 s**-2", "1e-3 K", "(0 - 1)", "W m⁻²", "m per s"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		u, err := parseUnit(text)
		if err == nil && !(u.scale > 0 && !math.IsInf(u.scale, 0)) {
			t.Errorf("%q has scale %v", text, u.scale)
		}
	})
}
