package film

import "math"

const kelvin = 273.15 // °C to K

// An air is dry air at 101325 Pa. Lower pressure at height weakens convection
// in a gap; the difference is left out, which is conservative.
type air struct {
	conductivity float64 // W/mK
	viscosity    float64 // kinematic, m²/s
	diffusivity  float64 // thermal, m²/s
}

// airAt gives the properties at absolute temperature t, K.
// Source: U.S. Standard Atmosphere 1976, eqs. 51 and 53; specific heat
// 1007 J/kgK, which holds within 0.3 % from 250 to 400 K (from memory of
// handbook tables of air).
func airAt(t float64) air {
	const (
		pressure     = 101325  // Pa
		gasConstant  = 287.053 // J/kgK
		specificHeat = 1007    // J/kgK
	)
	density := pressure / (gasConstant * t)
	t15 := t * math.Sqrt(t)
	k := 2.64638e-3 * t15 / (t + 245.4*math.Pow(10, -12/t))
	return air{
		conductivity: k,
		viscosity:    1.458e-6 * t15 / (t + 110.4) / density,
		diffusivity:  k / (density * specificHeat),
	}
}

// Nusselt gives the Nusselt number of an air gap heated from below: rayleigh
// is the Rayleigh number on its thickness, slope its tilt in degrees, 0 to 60.
// Source: Hollands, Unny, Raithby and Konicek 1976, J. Heat Transfer 98,
// 189–193.
func Nusselt(rayleigh, slope float64) float64 {
	beta := slope * math.Pi / 180
	ra := rayleigh * math.Cos(beta)
	if ra <= 1708 { // the onset of convection: both brackets are 0
		return 1
	}
	return 1 + 1.44*(1-1708*math.Pow(math.Sin(1.8*beta), 1.6)/ra)*(1-1708/ra) +
		math.Max(0, math.Cbrt(ra/5830)-1)
}

// gapCoefficient gives the heat transfer coefficient of an air gap, W/m²K,
// without radiation. An upper side warmer than the lower leaves the air at
// rest.
func gapCoefficient(thickness, slope, lower, upper float64) float64 {
	const gravity = 9.81 // m/s²
	mean := (lower+upper)/2 + kelvin
	a := airAt(mean)
	ra := gravity * math.Max(0, lower-upper) * thickness * thickness * thickness /
		(mean * a.viscosity * a.diffusivity)
	return Nusselt(ra, slope) * a.conductivity / thickness
}
