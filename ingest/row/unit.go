package row

import "strings"

// A Unit turns values of a source's unit into ours: v·Factor + Offset.
type Unit struct{ Factor, Offset float64 }

// A Measure is a kind of quantity, with the unit that its values are wanted in.
type Measure int

const (
	Irradiance  Measure = iota // W/m²
	Temperature                // °C
	Percent                    // %
	Pressure                   // hPa
	Speed                      // m/s
	Cloud                      // tenths
	Moisture                   // kg/kg
)

// units are spelt without spaces, in lower case; see plainUnit. Energy over an
// hour or a day is its mean power; MJ/hr, as one data set writes it, is per
// square metre.
var units = [...]map[string]Unit{
	Irradiance: {
		"w/m2": {1, 0}, "wm-2": {1, 0}, "wh/m2": {1, 0}, "wh/m2/hr": {1, 0}, "kw/m2": {1000, 0},
		"kwh/m2": {1000, 0}, "kwh/m2/hr": {1000, 0}, "kwh/m2/day": {1000. / 24, 0},
		"mj/hr": {1e6 / 3600, 0}, "mj/m2": {1e6 / 3600, 0}, "mj/m2/hr": {1e6 / 3600, 0}, "mj/m2/day": {1e6 / 86400, 0},
	},
	Temperature: {"c": {1, 0}, "degc": {1, 0}, "degreec": {1, 0}, "celsius": {1, 0}, "k": {1, -273.15}, "kelvin": {1, -273.15},
		"f": {5. / 9, -160. / 9}, "degf": {5. / 9, -160. / 9}},
	Percent:  {"%": {1, 0}, "percent": {1, 0}, "fraction": {100, 0}},
	Pressure: {"mbar": {1, 0}, "millibar": {1, 0}, "hpa": {1, 0}, "kpa": {10, 0}, "pa": {0.01, 0}},
	Speed:    {"m/s": {1, 0}, "ms-1": {1, 0}, "km/h": {1 / 3.6, 0}, "mph": {0.44704, 0}},
	Cloud:    {"%": {0.1, 0}, "percent": {0.1, 0}, "fraction": {10, 0}, "tenths": {1, 0}},
	Moisture: {"g/kg": {0.001, 0}, "gkg-1": {0.001, 0}, "kg/kg": {1, 0}, "kgkg-1": {1, 0}},
}

// UnitOf finds a unit of a measure as a file spells it.
func (m Measure) UnitOf(spelt string) (Unit, bool) {
	plain := plainUnit.Replace(strings.ToLower(spelt))
	if strings.HasSuffix(plain, "/d") {
		plain += "ay"
	}
	u, ok := units[m][plain]
	return u, ok
}

// Wanted names the unit of our own, for messages.
func (m Measure) Wanted() string {
	return [...]string{"W/m2", "C", "%", "hPa", "m/s", "tenths", "kg/kg"}[m]
}

// plainUnit takes off what spellings of one unit differ by.
var plainUnit = strings.NewReplacer(" ", "", "^", "", "**", "", "°", "", "²", "2", "kw-hr", "kwh", "w-hr", "wh", "/hour", "/hr")
