package sky

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, tol)
	}
}

// Diffuse fractions tabulated from the correlation of Erbs, Klein and Duffie
// 1982; 0.766 at 0.445 is printed in Duffie and Beckman, example 2.15.1.
func TestErbs(t *testing.T) {
	for _, c := range [][2]float64{
		{0, 1}, {0.1, 0.9910}, {0.2, 0.9820}, {0.3, 0.9486}, {0.4, 0.8400}, {0.445, 0.7662},
		{0.5, 0.6591}, {0.6, 0.4395}, {0.7, 0.2440}, {0.8, 0.1653}, {0.9, 0.165},
	} {
		near(t, "Erbs", Erbs(c[0]), c[1], 0.00006)
	}
}

func TestSplitErbs(t *testing.T) {
	// Duffie and Beckman 4th ed., example 2.15.1: kT 0.445, Id/I 0.766.
	const e0n, mu = 1390, 0.468
	ghi := 0.445 * e0n * mu
	dni, dhi := SplitErbs(ghi, e0n, mu, 1)
	near(t, "diffuse share", dhi/ghi, 0.7662, 0.0001)
	near(t, "closure", dni*mu+dhi, ghi, 1e-9)

	// Half an hour of sun: the beam is the mean over the whole hour.
	dni, dhi = SplitErbs(ghi/2, e0n, mu, 0.5)
	near(t, "diffuse share of half an hour", dhi/(ghi/2), 0.7662, 0.0001)
	near(t, "closure of half an hour", dni*mu+dhi, ghi/2, 1e-9)

	if dni, dhi = SplitErbs(40, e0n, 0.01, 0.3); dni != 0 || dhi != 40 {
		t.Errorf("low sun: %v, %v, want all diffuse", dni, dhi)
	}
	dni, dhi = SplitErbs(2*e0n*mu, e0n, mu, 1)
	near(t, "beam of an impossible hour", dni, 0.835*e0n, 1e-9)
	near(t, "its closure", dni*mu+dhi, 2*e0n*mu, 1e-9)
}

// Duffie and Beckman, examples 2.8.1 and 2.8.2: Madison, 270 m, 22 August,
// 11:30, mid-latitude summer. Wrong signs in public copies of the coefficients
// miss it.
func TestHottel(t *testing.T) {
	const gon, mu = 1339, 0.846
	beam, diffuse := Hottel(mu, 270, ClimateAt(43, 8))
	near(t, "τb", beam, 0.62, 0.0005)
	near(t, "beam", gon*mu*beam, 702, 0.5)
	near(t, "diffuse", gon*mu*diffuse, 101, 0.7)
	// Recomputed from the published coefficients.
	for _, c := range []struct{ lat, elevation, z, want float64 }{
		{45, 0, 0, 0.6291}, {45, 0, 60, 0.4644}, {10, 1500, 30, 0.7004},
	} {
		b, _ := Hottel(math.Cos(c.z*math.Pi/180), c.elevation, ClimateAt(c.lat, 7))
		near(t, "τb", b, c.want, 0.00006)
	}
	b, _ := Hottel(0.5, 500, ClimateAt(45, 1))
	near(t, "τb in winter", b, 0.5449, 0.00006)
	if ClimateAt(-45, 1) != midSummer || ClimateAt(65, 6) != subArcticSummer || ClimateAt(-65, 6) != midWinter {
		t.Error("climates of the south or the far north")
	}
}

func TestCloudFromGlobal(t *testing.T) {
	// The forward relation, Kasten and Czeplak 1980: overcast leaves a quarter,
	// six eighths 0.718.
	near(t, "clear", CloudFromGlobal(850, 800), 0, 0)
	near(t, "overcast", CloudFromGlobal(200, 800), 10, 1e-9)
	near(t, "darker than overcast", CloudFromGlobal(50, 800), 10, 0)
	near(t, "six eighths", CloudFromGlobal(1-0.75*math.Pow(0.75, 3.4), 1), 7.5, 1e-9)
}

// Limits evaluated from Long and Dutton's formulas with S_a = 1361 W/m².
func TestBSRNLimits(t *testing.T) {
	for _, c := range []struct{ z, ghi, dhi float64 }{
		{0, 2141.5, 1343.0}, {60, 988.6, 612.8}, {80, 349.8, 208.2}, {95, 100, 50},
	} {
		mu := math.Cos(c.z * math.Pi / 180)
		near(t, "GHI", MaxGlobal(1361, mu), c.ghi, 0.06)
		near(t, "DHI", MaxDiffuse(1361, mu), c.dhi, 0.06)
		near(t, "DNI", MaxBeam(1361), 1361, 0)
	}
}

func TestClosure(t *testing.T) {
	cos := func(deg float64) float64 { return math.Cos(deg * math.Pi / 180) }
	for _, c := range []struct {
		name          string
		ghi, dni, dhi float64
		z             float64
		want          Verdict
	}{
		{"exact", 500, 800, 100, 60, Consistent},
		{"8 % high", 500*1.08 + 1, 800, 100, 60, Inconsistent},
		{"8 % low", 500*0.92 - 1, 800, 100, 60, Inconsistent},
		{"9 % low with the sun low", (800*cos(80) + 100) * 0.91, 800, 100, 80, Consistent},
		{"16 % low with the sun low", (800*cos(80) + 100) * 0.84, 800, 100, 80, Inconsistent},
		{"diffuse above global", 94, 0, 100, 60, Inconsistent},
		{"dim", 10, 0, 30, 60, Untested},
		{"sun 4° down", 60, 0, 60, 94, Untested},
	} {
		if got := Closure(c.ghi, c.dni, c.dhi, cos(c.z), max(0, cos(c.z))); got != c.want {
			t.Errorf("%s: verdict %d, want %d", c.name, got, c.want)
		}
	}
}

// Berdahl and Martin 1984 and Swinbank 1963, tabulated from the formulas: air
// and dew point °C, hour, emissivity, sky temperature °C at 1000 hPa.
func TestSkyTemperature(t *testing.T) {
	skyC := func(emissivity, air float64) float64 {
		return math.Pow(Infrared(emissivity, air)/Sigma, 0.25) - Kelvin
	}
	for _, c := range []struct{ air, dew, hour, emissivity, sky float64 }{
		{25, 15, 12, 0.7984, 8.68}, {25, 15, 24, 0.8244, 10.95}, {10, 0, 24, 0.7240, -11.96},
		{35, 5, 12, 0.7278, 11.47}, {0, -10, 0, 0.6753, -25.54},
	} {
		e := ClearEmissivity(c.dew, c.hour, 1000)
		near(t, "emissivity", e, c.emissivity, 0.00006)
		near(t, "sky temperature", skyC(e, c.air), c.sky, 0.006)
	}
	near(t, "10 hPa more", ClearEmissivity(15, 12, 1010)-ClearEmissivity(15, 12, 1000), 0.0012, 1e-9)
	for _, c := range [][2]float64{{25, 11.03}, {10, -10.15}, {35, 25.44}} {
		near(t, "Swinbank", skyC(SwinbankEmissivity(c[0]), c[0]), c[1], 0.006)
	}
	// Martin and Berdahl 1984: overcast at 2 km closes exp(−2/8.2) = 0.7835 of
	// the gap between the clear sky and a black one.
	near(t, "overcast", CloudyEmissivity(0.7, 10), 0.7+0.3*0.7835, 0.0001)
	near(t, "cloudless", CloudyEmissivity(0.7, 0), 0.7, 0)
}

func TestHumidAir(t *testing.T) {
	near(t, "saturated", DewPoint(12, 100), 12, 1e-9)
	// Lawrence 2005: near saturation the dew point falls by about 1 K for every
	// 5 % of relative humidity.
	near(t, "90 %", DewPoint(20, 90), 18, 0.5)
	// Psychrometric tables (ASHRAE Handbook of Fundamentals, from memory): 25 °C and
	// 50 % have a dew point of 13.9 °C.
	near(t, "25 °C, 50 %", DewPoint(25, 50), 13.9, 0.1)
	// ISO 2533, table by geopotential height (from memory): 898.75 hPa at 1000 m,
	// 701.09 at 3000 m.
	near(t, "1000 m", Pressure(1000), 898.75, 0.01)
	near(t, "3000 m", Pressure(3000), 701.09, 0.01)
}
