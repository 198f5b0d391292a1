package sky

import "math"

// ClearEmissivity gives the emissivity of a cloudless sky from the dew point,
// the local standard time in hours since midnight, and the air pressure.
// Source: Berdahl and Martin 1984, Solar Energy 32, 663–664.
func ClearEmissivity(dewPoint, hour, pressure float64) float64 {
	d := dewPoint / 100
	return 0.711 + 0.56*d + 0.73*d*d + 0.013*math.Cos(2*math.Pi*hour/24) + 0.00012*(pressure-1000)
}

// SwinbankEmissivity gives the emissivity of a cloudless sky where nothing is
// known but the air temperature: (0.0552·Ta^1.5)⁴/Ta⁴ in kelvin.
// Source: Swinbank 1963, Quart. J. Roy. Meteorol. Soc. 89, 339–348.
func SwinbankEmissivity(air float64) float64 {
	ta := air + Kelvin
	r := 0.0552 * math.Sqrt(ta)
	return r * r * r * r
}

// CloudyEmissivity raises a clear-sky emissivity by opaque cloud with its base
// at 2 km. Source: Martin and Berdahl 1984, Solar Energy 33, 321–336.
func CloudyEmissivity(clear, opaque float64) float64 {
	return clear + (1-clear)*opaque/10*lowCloud
}

// lowCloud is how much of a cloud's emission reaches the ground, exp(−z/8.2 km)
// of its base at z = 2 km.
var lowCloud = math.Exp(-2 / 8.2)

// Infrared gives the long-wave irradiance of a sky of some emissivity over air
// of some temperature.
func Infrared(emissivity, air float64) float64 {
	ta := air + Kelvin
	return emissivity * Sigma * ta * ta * ta * ta
}
