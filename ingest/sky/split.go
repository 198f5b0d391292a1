package sky

// LowSun is the mean sine of the sun's altitude below which a horizontal
// irradiance says nothing about the beam: 0.05, an altitude of 2.9°. Dividing
// by less turns a reading error of 5 W/m² into over 100 W/m² of beam.
const LowSun = 0.05

// ErbsModel names the split as the site table spells it.
const ErbsModel = "Erbs, Klein and Duffie 1982"

// Erbs gives the diffuse fraction DHI/GHI of an hour from its clearness index
// kt, the ratio of GHI to the horizontal irradiance outside the atmosphere.
// Source: Erbs, Klein and Duffie 1982, Solar Energy 28, 293–302.
func Erbs(kt float64) float64 {
	switch {
	case kt <= 0.22:
		return 1 - 0.09*kt
	case kt <= 0.80:
		return 0.9511 + kt*(-0.1604+kt*(4.388+kt*(-16.638+kt*12.336)))
	}
	return 0.165
}

// SplitErbs splits the global irradiance of an hour into beam and diffuse. lit
// is the sunlit fraction of the hour and mu the mean sine of the altitude over
// the sunlit part, so that dni·mu + dhi = ghi for the hour. With the sun low
// or down all is diffuse; the beam is cut at a clearness index of 1.
func SplitErbs(ghi, e0n, mu, lit float64) (dni, dhi float64) {
	if mu < LowSun || lit <= 0 {
		return 0, ghi
	}
	kt := min(ghi/(e0n*mu*lit), 1)
	dni = (1 - Erbs(kt)) * kt * e0n * lit
	return dni, ghi - dni*mu
}
