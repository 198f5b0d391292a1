package sky

import "math"

// Hottel gives the transmittance of a clear sky, 23 km visibility, for the
// beam and for the diffuse irradiance at a mean sine of altitude mu > 0.
// Elevation in m counts as 0 to 2500, the range of the fit; latitude in degrees
// and the half-year choose the climate.
// Source: Hottel 1976, Solar Energy 18, 129–134; diffuse by Liu and Jordan
// 1960, Solar Energy 4, 1–19.
func Hottel(mu, elevation float64, c Climate) (beam, diffuse float64) {
	a := min(max(elevation, 0), 2500) / 1000
	a0 := c.r0 * (0.4237 - 0.00821*(6-a)*(6-a))
	a1 := c.r1 * (0.5055 + 0.00595*(6.5-a)*(6.5-a))
	k := c.rk * (0.2711 + 0.01858*(2.5-a)*(2.5-a))
	beam = a0 + a1*math.Exp(-k/mu)
	return beam, 0.271 - 0.294*beam
}

// A Climate corrects Hottel's standard atmosphere.
type Climate struct{ r0, r1, rk float64 }

// The climates of Hottel 1976, table 2.
var (
	tropical        = Climate{0.95, 0.98, 1.02}
	midSummer       = Climate{0.97, 0.99, 1.02}
	subArcticSummer = Climate{0.99, 0.99, 1.01}
	midWinter       = Climate{1.03, 1.01, 1.00}
)

// ClimateAt chooses the climate by latitude, degrees, and month, 1 to 12:
// tropical within 23.45°, sub-arctic from 60°; April to September is summer in
// the north and winter in the south.
func ClimateAt(lat float64, month int) Climate {
	summer := (month >= 4 && month <= 9) == (lat >= 0)
	switch {
	case math.Abs(lat) <= 23.45:
		return tropical
	case !summer:
		return midWinter
	case math.Abs(lat) >= 60:
		return subArcticSummer
	}
	return midSummer
}

// CloudFromGlobal gives the cloud cover, tenths, that dims a clear-sky global
// irradiance clear > 0 to ghi: the inverse of ghi/clear = 1 − 0.75·(N/8)^3.4, N
// in eighths, cut to 0…10.
// Source: Kasten and Czeplak 1980, Solar Energy 24, 177–189 (coefficients from
// memory).
func CloudFromGlobal(ghi, clear float64) float64 {
	dim := (1 - ghi/clear) / 0.75
	if dim <= 0 {
		return 0
	}
	return 10 * min(1, math.Exp(math.Log(dim)/3.4))
}
