package simulate

import (
	"math"

	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
)

// Wear says how the doses that age films are counted.
type Wear struct {
	UVShare            float64 // of the irradiance that is ultraviolet
	ClearUVTransmitted float64 // share of it that the clear film lets through
	ActivationEnergy   float64 // J/mol
	Reference          float64 // °C, temperature whose hours the warm hours count
}

// gasConstant is R, J/(mol·K); CODATA 2018.
const gasConstant = 8.314462618

// newWarmth gives the Arrhenius weight of an hour: exp(−(Ea/R)·(1/T − 1/T0)).
func newWarmth(w Wear) *kernel.Warmth {
	const kelvin = 273.15
	t := new(kernel.Warmth)
	for i := range t {
		c := kernel.WarmthFrom + float64(i)/kernel.WarmthSteps
		t[i] = float32(math.Exp(-w.ActivationEnergy / gasConstant * (1/(c+kelvin) - 1/(w.Reference+kelvin))))
	}
	return t
}

// A doseYear gathers what ages the films of some lanes of a group, which the
// price of every design needs.
type doseYear struct {
	lo, n        int
	uv, uvMirror []float32 // kWh/m² of light, not yet of ultraviolet
	now, mirror  []float32
}

func newDoseYear(lo, n int) *doseYear {
	return &doseYear{lo, n, make([]float32, n), make([]float32, n), make([]float32, n), make([]float32, n)}
}

func (y *doseYear) hour(l collector.Light, g *group, o *Options) {
	f, st := &g.field, g.strains
	sky, ground, mirrorSky := f.Sky[y.lo:y.lo+y.n], f.Ground[y.lo:y.lo+y.n], st.mirrorSky[y.lo:y.lo+y.n]
	iso, up := float32(l.Isotropic), float32(l.Ground*o.Mirror.Rho())
	for i := range y.n {
		y.now[i] = iso*sky[i] + up*ground[i]
		y.mirror[i] = iso * mirrorSky[i]
	}
	for k := strainEvery / 2; k < len(l.Rays); k += strainEvery {
		ray := l.Rays[k]
		weight := float32(ray.DNI * ray.S2 * strainEvery)
		row := st.row(collector.Bin(ray.Psi))
		a, b := row.uv[y.lo:y.lo+y.n], row.mirror[y.lo:y.lo+y.n]
		for i := range y.n {
			y.now[i] += weight * a[i]
			y.mirror[i] += weight * b[i]
		}
	}
	for i := range y.n {
		y.uv[i] += y.now[i] / 1000
		y.uvMirror[i] += y.mirror[i] / 1000
	}
}

// store writes the doses of lane i into dst.
func (y *doseYear) store(dst []float32, i int, w *Wear) {
	dst[result.UVClear] = float32(w.UVShare) * y.uv[i]
	dst[result.UVBlack] = float32(w.UVShare*w.ClearUVTransmitted) * y.uv[i]
	dst[result.UVMirror] = float32(w.UVShare) * y.uvMirror[i]
}
