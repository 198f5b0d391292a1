package film

import "testing"

// Duffie and Beckman 2013, example 3.11.1 (first line, printed 2.4 and 2.78
// with rounded properties), and the same correlation worked by hand for
// horizontal gaps.
func TestHollands(t *testing.T) {
	for _, tt := range []struct {
		name                          string
		thickness, slope, lower, high float64
		h                             float64
	}{
		{"example 3.11.1: 25 mm at 45°, 70 over 50 °C", .025, 45, 70, 50, 2.74},
		{"25 mm, 70 and 50 °C", .025, 0, 70, 50, 3.18},
		{"25 mm, 90 and 45 °C", .025, 0, 90, 45, 3.77},
		{"50 mm, 90 and 45 °C", .050, 0, 90, 45, 3.00},
	} {
		near(t, tt.name, gapCoefficient(tt.thickness, tt.slope, tt.lower, tt.high), tt.h, 0.01)
	}
	near(t, "Nusselt at Ra 18100, 45°", Nusselt(18100, 45), 2.384, 5e-4)
	near(t, "Nusselt at Ra 18100, level", Nusselt(18100, 0), 2.763, 5e-4)
	near(t, "Nusselt below the onset", Nusselt(1707, 0), 1, 0)
	near(t, "25 mm heated from above", gapCoefficient(.025, 0, 40, 60), airAt(50+kelvin).conductivity/.025, 1e-12)
}

// Handbook table of air (Incropera and DeWitt, table A.4, from memory):
// conductivity, dynamic viscosity, Prandtl number.
func TestAir(t *testing.T) {
	for _, tt := range []struct{ kelvin, conductivity, viscosity, prandtl float64 }{
		{300, .0263, 184.6e-7, .707},
		{350, .0300, 208.2e-7, .700},
	} {
		a := airAt(tt.kelvin)
		density := 101325 / (287.05 * tt.kelvin)
		near(t, "conductivity", a.conductivity/tt.conductivity, 1, 0.01)
		near(t, "viscosity", a.viscosity*density/tt.viscosity, 1, 0.01)
		near(t, "Prandtl number", a.viscosity/a.diffusivity/tt.prandtl, 1, 0.01)
	}
}
