package row

import (
	"math"
	"testing"

	"stillrow/ingest/sky"
)

// Conversions by hand: 1 MJ is 1/3.6 kWh, 32 °F is 0 °C.
func TestUnits(t *testing.T) {
	for _, c := range []struct {
		m        Measure
		spelt    string
		from, to float64
	}{
		{Irradiance, "w/m2", 700, 700}, {Irradiance, "W m-2", 700, 700}, {Irradiance, "W/m²", 700, 700}, {Irradiance, "Wh/m^2", 700, 700},
		{Irradiance, "MJ/hr", 3.6, 1000}, {Irradiance, "MJ/m^2/hr", 3.6, 1000}, {Irradiance, "kW-hr/m^2/day", 24, 1000},
		{Irradiance, "kWh/m^2/d", 24, 1000}, {Irradiance, "MJ/m^2/day", 86.4, 1000}, {Irradiance, "kW/m2", 0.5, 500},
		{Temperature, "C", -3, -3}, {Temperature, "°C", -3, -3}, {Temperature, "K", 273.15, 0}, {Temperature, "F", 32, 0},
		{Temperature, "F", 212, 100}, {Percent, "%", 40, 40}, {Pressure, "mbar", 1000, 1000}, {Pressure, "kPa", 101.3, 1013},
		{Pressure, "Pa", 98000, 980}, {Speed, "m/s", 3, 3}, {Speed, "km/h", 36, 10}, {Cloud, "%", 35, 3.5}, {Moisture, "g/kg", 8, 0.008},
	} {
		u, ok := c.m.UnitOf(c.spelt)
		if got := c.from*u.Factor + u.Offset; !ok || math.Abs(got-c.to) > 1e-9 {
			t.Errorf("%g %s: %g %v, want %g %s", c.from, c.spelt, got, ok, c.to, c.m.Wanted())
		}
	}
	for _, spelt := range []string{"", "furlong", "W", "m2", "J/m2"} {
		if u, ok := Irradiance.UnitOf(spelt); ok {
			t.Errorf("%q is read as %v", spelt, u)
		}
	}
}

func TestPlaces(t *testing.T) {
	for _, c := range []struct {
		lat, lon float64
		id, name string
	}{
		{-33.8678, 151.2073, "33.8678S_151.2073E", "33.8678° S, 151.2073° E"},
		{11, -123, "11N_123W", "11° N, 123° W"},
		{0, 0.1 + 0.2, "0N_0.3E", "0° N, 0.3° E"},
	} {
		if id, name := PlaceID(c.lat, c.lon), PlaceName(c.lat, c.lon); id != c.id || name != c.name || Slug(id) != id {
			t.Errorf("%g, %g: %q %q, want %q %q", c.lat, c.lon, id, name, c.id, c.name)
		}
	}
	for year, want := range map[int]bool{1900: false, 2000: true, 2023: false, 2024: true} {
		if LeapYear(year) != want {
			t.Errorf("%d: %v", year, !want)
		}
	}
}

// Words for no data and units with another zero.
func TestColumnWordAndOffset(t *testing.T) {
	u, _ := Temperature.UnitOf("K")
	col := Column{Name: "T", Missing: -999, Word: "N/A", Factor: u.Factor, Offset: u.Offset, Range: sky.Range{Min: -100, Max: 100}}
	c := Cells{File: "f"}
	if v := c.Value([]byte("280.15"), 1, &col); math.Abs(v-7) > 1e-9 {
		t.Errorf("280.15 K: %g °C", v)
	}
	if v := c.Value([]byte(" n/a"), 1, &col); v == v || c.Count != 0 {
		t.Errorf("n/a: %g, %d bad cells", v, c.Count)
	}
	c.Value([]byte("7"), 1, &col)
	if want := `f:1: T: "7": impossible, outside 173.15 to 373.15; taken as missing`; c.Count != 1 || c.Bad[0].Error() != want {
		t.Errorf("%v, want %s", c.Bad, want)
	}
}
