package sky

import "math"

// A Range is an interval of values the air or the sky can have.
type Range struct{ Min, Max float64 }

// Holds reports whether v is a number inside the range.
func (r Range) Holds(v float64) bool { return v >= r.Min && v <= r.Max }

// What is possible anywhere on earth at any hour, with the units of the package
// comment. Temperatures go a little beyond the records that the World
// Meteorological Organization keeps (−89.2 and 56.7 °C), wind to its strongest
// hour (m/s), snow depth to 20 m (cm); pressure spans the highest peak to the
// deepest shore (hPa). Global and diffuse irradiance may be as high as the BSRN
// limit under an overhead sun at the perihelion, and 4 W/m² below zero, the
// offset of a radiometer at night.
var (
	AirTemperature = Range{-95, 62}
	DewPointRange  = Range{-110, 45}
	Humidity       = Range{0, 110} // %, a wet sensor reads above 100
	AirPressure    = Range{300, 1100}
	Cloud          = Range{0, 10}
	Wind           = Range{0, 90}
	SnowDepth      = Range{0, 2000}
	GlobalRange    = Range{lowest, 2215}
	DiffuseRange   = Range{lowest, 1390}
	BeamRange      = Range{lowest, 1408}
	LongWave       = Range{40, 700}
)

// lowest is the lower end of every physically possible limit, W/m².
const lowest = -4

// MaxGlobal is, as MaxDiffuse and MaxBeam, the upper physically possible limit of
// the Baseline Surface Radiation Network for a short-wave irradiance; mu is
// taken at the middle of the interval, 0 when the sun is down.
// Source: Long and Dutton, BSRN Global Network recommended QC tests, V2.0.
func MaxGlobal(e0n, mu float64) float64 { return 1.5*e0n*math.Pow(max(mu, 0), 1.2) + 100 }

// MaxDiffuse is the limit of DHI; see MaxGlobal.
func MaxDiffuse(e0n, mu float64) float64 { return 0.95*e0n*math.Pow(max(mu, 0), 1.2) + 50 }

// MaxBeam is the limit of DNI; see MaxGlobal.
func MaxBeam(e0n float64) float64 { return e0n }

// A Verdict says how an hour stands in the test of its components.
type Verdict int

// An hour with too little sun, or the sun too low, is untested.
const (
	Untested Verdict = iota
	Consistent
	Inconsistent
)

// Closure applies the BSRN comparisons between measured components to an hour:
// the ratio of ghi to dni·beamMu + dhi, and of dhi to ghi. mu is the sine of
// the altitude at mid hour and chooses the limits; beamMu is its mean over the
// sunlit part of the hour. Source: as MaxGlobal.
func Closure(ghi, dni, dhi, mu, beamMu float64) Verdict {
	const cos75, cos93 = 0.25881904510252074, -0.052335956242943835
	sum := dni*beamMu + dhi
	if sum <= 50 || mu < cos93 {
		return Untested
	}
	low, high, diffuse := 0.85, 1.15, 1.10
	if mu > cos75 {
		low, high, diffuse = 0.92, 1.08, 1.05
	}
	r := ghi / sum
	if r < low || r > high || (ghi > 50 && dhi >= diffuse*ghi) {
		return Inconsistent
	}
	return Consistent
}
