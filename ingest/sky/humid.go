package sky

import "math"

// VapourPressure gives the vapour pressure, hPa, of air with a dew point, °C;
// of its temperature it is the saturation pressure. Source: Magnus form over
// water, coefficients of Alduchov and Eskridge 1996 as in DewPoint.
func VapourPressure(dewPoint float64) float64 {
	return 6.1094 * math.Exp(17.625*dewPoint/(243.04+dewPoint))
}

// DewPointOf gives the dew point, °C, of air with a vapour pressure, hPa: the
// inverse of VapourPressure.
func DewPointOf(vapour float64) float64 {
	g := math.Log(max(vapour, 1e-3) / 6.1094)
	return 243.04 * g / (17.625 - g)
}

// VapourOfSpecific gives the vapour pressure, hPa, of a specific humidity,
// kg/kg, at an air pressure, hPa: q·p/(ε + (1−ε)·q), ε = 0.622 the ratio of
// molar masses. Source: WMO-No. 8, annex 4.A.
func VapourOfSpecific(q, pressure float64) float64 {
	const ratio = 0.622
	return q * pressure / (ratio + (1-ratio)*q)
}

// Height gives the height above sea level, m, that has an air pressure, hPa, in
// the standard atmosphere: the inverse of Pressure.
func Height(pressure float64) float64 {
	return (1 - math.Pow(pressure/1013.25, 1/5.25588)) / 2.25577e-5
}

// WindAt10 brings a wind speed at a height above ground, m, to 10 m by the 1/7
// power law. Common practice, no source.
func WindAt10(speed, height float64) float64 { return speed * math.Pow(10/height, 1.0/7) }
