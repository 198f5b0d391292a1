// Package sky is the physics of the sky that ingest needs to judge and to
// complete weather data: how global irradiance splits into beam and diffuse,
// which values the atmosphere cannot produce, what a clear sky would give, and
// how much long-wave radiation comes down. It works on single values.
//
//	irradiance          W/m²
//	temperature         °C unless a name ends in K
//	pressure            hPa
//	cloud               tenths, 0 clear to 10 overcast
//	mu                  sine of the sun's altitude, the cosine of its zenith angle
//	e0n                 solar irradiance outside the atmosphere, normal to the sun
package sky

import "math"

// Sigma is the Stefan-Boltzmann constant, W/m²K⁴. Source: CODATA 2018.
const Sigma = 5.670374419e-8

// Kelvin is 0 °C on the absolute scale.
const Kelvin = 273.15

// Pressure gives the air pressure of the standard atmosphere, hPa, at a height
// above sea level in m. Source: ISO 2533:1975, troposphere (geopotential height).
func Pressure(elevation float64) float64 {
	return 1013.25 * math.Pow(1-2.25577e-5*elevation, 5.25588)
}

// DewPoint gives the dew point, °C, of air at a temperature, °C, and relative
// humidity, %, which counts as at least 1 and at most 100.
// Source: Magnus form, coefficients of Alduchov and Eskridge 1996, J. Appl.
// Meteorol. 35, 601–609, as inverted by Lawrence 2005, BAMS 86, 225–233, eq. 8.
func DewPoint(air, humidity float64) float64 {
	const a, b = 17.625, 243.04
	g := math.Log(min(max(humidity, 1), 100)/100) + a*air/(b+air)
	return b * g / (a - g)
}
