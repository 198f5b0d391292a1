package cf

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A unit turns numbers into SI: SI value = scale·x + offset. Its dimensions are
// the powers of kg, m, s and K.
type unit struct {
	scale, offset float64
	dims          [4]int
}

var (
	one         = [4]int{}
	kelvin      = [4]int{0, 0, 0, 1}
	metre       = [4]int{0, 1, 0, 0}
	speed       = [4]int{0, 1, -1, 0}
	pascal      = [4]int{1, -1, -2, 0}
	irradiance  = [4]int{1, 0, -3, 0} // W/m²
	irradiation = [4]int{1, 0, -2, 0} // J/m²
	geopotent   = [4]int{0, 2, -2, 0} // m²/s²
)

// phrases are whole unit texts of data sets that no grammar gives. Keys are as
// fold makes them.
var phrases = map[string]unit{
	"":                      {1, 0, one},
	"(0 - 1)":               {1, 0, one},
	"0-1":                   {1, 0, one},
	"0 - 1":                 {1, 0, one},
	"fraction":              {1, 0, one},
	"fraction of sky cover": {1, 0, one},
	"dimensionless":         {1, 0, one},
	"unitless":              {1, 0, one},
	"percent":               {0.01, 0, one},
	"tenths":                {0.1, 0, one},
	"octas":                 {0.125, 0, one},
	"oktas":                 {0.125, 0, one},
	"octa":                  {0.125, 0, one},
	"okta":                  {0.125, 0, one},
	"c":                     celsius,
	"deg c":                 celsius,
	"deg celsius":           celsius,
	"degree c":              celsius,
	"degrees c":             celsius,
	"degree celsius":        celsius,
	"degrees celsius":       celsius,
	"celsius":               celsius,
	"degc":                  celsius,
	"deg_c":                 celsius,
	"degree_c":              celsius,
	"degrees_c":             celsius,
	"degree_celsius":        celsius,
	"degrees_celsius":       celsius,
	"°c":                    celsius,
	"deg k":                 {1, 0, kelvin},
	"degk":                  {1, 0, kelvin},
	"deg_k":                 {1, 0, kelvin},
	"degree_k":              {1, 0, kelvin},
	"degrees_k":             {1, 0, kelvin},
	"degrees k":             {1, 0, kelvin},
	"deg f":                 fahrenheit,
	"degf":                  fahrenheit,
	"deg_f":                 fahrenheit,
	"degrees f":             fahrenheit,
	"fahrenheit":            fahrenheit,
	"°f":                    fahrenheit,
}

var (
	celsius    = unit{1, 273.15, kelvin}
	fahrenheit = unit{5. / 9, 273.15 - 32*5./9, kelvin}
)

// atoms are the units that prefixes and exponents go with.
var atoms = map[string]unit{
	"W": {1, 0, [4]int{1, 2, -3, 0}}, "watt": {1, 0, [4]int{1, 2, -3, 0}},
	"J": {1, 0, [4]int{1, 2, -2, 0}}, "joule": {1, 0, [4]int{1, 2, -2, 0}},
	"Wh": {3600, 0, [4]int{1, 2, -2, 0}},
	"g":  {1e-3, 0, [4]int{1, 0, 0, 0}}, "gr": {1e-3, 0, [4]int{1, 0, 0, 0}}, "gram": {1e-3, 0, [4]int{1, 0, 0, 0}},
	"m": {1, 0, metre}, "meter": {1, 0, metre}, "metre": {1, 0, metre},
	"s": {1, 0, [4]int{0, 0, 1, 0}}, "sec": {1, 0, [4]int{0, 0, 1, 0}}, "second": {1, 0, [4]int{0, 0, 1, 0}},
	"K": {1, 0, kelvin}, "kelvin": {1, 0, kelvin}, "Kelvin": {1, 0, kelvin},
	"Pa": {1, 0, pascal}, "pascal": {1, 0, pascal},
	"bar": {1e5, 0, pascal}, "b": {1e5, 0, pascal},
}

// words are units that take no prefix.
var words = map[string]unit{
	"min": {60, 0, [4]int{0, 0, 1, 0}}, "minute": {60, 0, [4]int{0, 0, 1, 0}},
	"h": {3600, 0, [4]int{0, 0, 1, 0}}, "hr": {3600, 0, [4]int{0, 0, 1, 0}}, "hour": {3600, 0, [4]int{0, 0, 1, 0}},
	"d": {86400, 0, [4]int{0, 0, 1, 0}}, "day": {86400, 0, [4]int{0, 0, 1, 0}},
	"kt": {1852. / 3600, 0, speed}, "kn": {1852. / 3600, 0, speed},
	"knot": {1852. / 3600, 0, speed}, "kph": {1 / 3.6, 0, speed}, "mph": {0.44704, 0, speed},
	"ft": {0.3048, 0, metre}, "foot": {0.3048, 0, metre}, "feet": {0.3048, 0, metre},
	"inch": {0.0254, 0, metre}, "mile": {1609.344, 0, metre},
	"hectopascal": {100, 0, pascal},
	"%":           {0.01, 0, one},
}

var prefixes = map[string]float64{
	"G": 1e9, "M": 1e6, "k": 1e3, "h": 100, "d": 0.1, "c": 0.01, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6,
	"kilo": 1e3, "mega": 1e6, "hecto": 100, "centi": 0.01, "milli": 1e-3,
}

// capitals are spellings all in capitals that mean one thing only. MJ is not
// among them: it is megajoule as it stands.
var capitals = map[string]string{
	"M": "m", "MM": "mm", "CM": "cm", "KM": "km", "S": "s", "SEC": "s", "H": "h", "HR": "h", "HOUR": "h", "DAY": "day",
	"MB": "mb", "MBAR": "mbar", "HPA": "hPa", "PA": "Pa", "KPA": "kPa", "KG": "kg", "GR": "g", "G": "g", "KWH": "kWh",
	"KW": "kW", "KJ": "kJ", "WH": "Wh", "KT": "kt", "KTS": "kt", "KNOTS": "kt", "KNOT": "kt", "MIN": "min",
	"kwh": "kWh", "w": "W", "wh": "Wh", "KELVIN": "K", "WATT": "W", "WATTS": "W", "mBar": "mbar", "hpa": "hPa",
}

// parseUnit reads the spelling of a unit as UDUNITS defines it and as data sets
// write it. Conversions are exact in float64.
func parseUnit(text string) (unit, error) {
	if u, ok := phrases[fold(text)]; ok {
		return u, nil
	}
	if len(text) > 100 {
		return unit{}, fmt.Errorf("unknown unit %.30q…", text)
	}
	u, ok := parseProduct(text)
	if !ok {
		return unit{}, fmt.Errorf("unknown unit %q", text)
	}
	return u, nil
}

// fold makes spellings alike that differ in case and blanks.
func fold(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }

var superscripts = strings.NewReplacer("⁻", "-", "¹", "1", "²", "2", "³", "3", "·", " ", "**", "^", "(", " ", ")", " ")

// parseProduct reads factors joined by blanks, dots or stars, and by a slash or
// "per" where the next one divides.
func parseProduct(text string) (unit, bool) {
	if strings.ContainsAny(text, "()") && strings.Contains(text, "/") {
		return unit{}, false // W/(m2 s): what a slash divides by would be lost with the brackets
	}
	text = superscripts.Replace(text)
	u, sign, factors := unit{scale: 1}, 1, 0
	for text = strings.TrimSpace(text); text != ""; text = strings.TrimSpace(text) {
		switch {
		case text[0] == '/':
			if sign < 0 || factors == 0 {
				return u, false
			}
			sign, text = -1, text[1:]
			continue
		case text[0] == '*' || text[0] == '.':
			text = text[1:]
			continue
		case strings.HasPrefix(text, "per ") && factors > 0:
			sign, text = -1, text[4:]
			continue
		}
		end := strings.IndexAny(text, " /*.")
		if c := text[0]; c >= '0' && c <= '9' { // a number keeps its dot
			end = strings.IndexAny(text, " /*")
		}
		if end < 0 {
			end = len(text)
		}
		f, ok := parseFactor(text[:end], sign)
		if !ok {
			return u, false
		}
		u.scale *= f.scale
		for i := range u.dims {
			u.dims[i] += f.dims[i]
		}
		sign, text = 1, text[end:]
		factors++
	}
	return u, factors > 0 && sign > 0 && u.scale > 0 && !math.IsInf(u.scale, 0)
}

// parseFactor reads one unit with its exponent, or a number.
func parseFactor(text string, sign int) (unit, bool) {
	if c := text[0]; c >= '0' && c <= '9' {
		n, err := strconv.ParseFloat(text, 64)
		return unit{scale: math.Pow(n, float64(sign))}, err == nil && n > 0
	}
	name := strings.TrimRight(text, "0123456789")
	power := 1
	if name != text {
		power, _ = strconv.Atoi(text[len(name):]) // too long a number gives one the next check refuses
		switch {
		case strings.HasSuffix(name, "^-"):
			name, power = name[:len(name)-2], -power
		case strings.HasSuffix(name, "^"), strings.HasSuffix(name, "+"):
			name = name[:len(name)-1]
		case strings.HasSuffix(name, "-"):
			name, power = name[:len(name)-1], -power
		}
	}
	if power == 0 || power > 4 || power < -4 {
		return unit{}, false
	}
	u, ok := parseName(name)
	if !ok {
		if plain, known := capitals[name]; known {
			u, ok = parseName(plain)
		} else if len(name) > 3 { // Watts, Meters: too long to be a prefix and a symbol
			u, ok = parseName(strings.ToLower(name))
		}
	}
	power *= sign
	u.scale = math.Pow(u.scale, float64(power))
	for i := range u.dims {
		u.dims[i] *= power
	}
	return u, ok
}

// parseName reads the name of a unit, with its prefix or plural.
func parseName(name string) (unit, bool) {
	for _, n := range []string{name, strings.TrimSuffix(name, "s")} {
		if len(n) < len(name) && len(n) < 3 {
			continue // no plural of a symbol
		}
		if u, ok := words[n]; ok {
			return u, true
		}
		if u, ok := atoms[n]; ok {
			return u, true
		}
		for p, factor := range prefixes {
			if u, ok := atoms[strings.TrimPrefix(n, p)]; ok && strings.HasPrefix(n, p) {
				u.scale *= factor
				return u, true
			}
		}
	}
	return unit{}, false
}
