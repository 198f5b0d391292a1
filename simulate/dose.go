package simulate

import (
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
	return kernel.NewWarmth(w.ActivationEnergy, gasConstant, w.Reference+273.15)
}

// A lightSum is the sum of a year's light on rows of one azimuth, from which
// the doses of every design follow: they are linear in it.
type lightSum struct {
	beam              [collector.PsiBins]float64 // Wh/m² per unit of what a bin of the profile angle weighs it with
	isotropic, ground float64                    // Wh/m²
}

// add adds a sunlit hour.
func (s *lightSum) add(l *thinLight) {
	s.isotropic += l.isotropic
	s.ground += l.ground
	for k := range l.rays {
		ray := &l.rays[k]
		s.beam[collector.Bin(ray.Psi)] += ray.DNI * ray.S2 * strainEvery
	}
}

// doses gives the light that ages the films of all lanes of a group in a year,
// kWh/m², not yet the ultraviolet share of it: on the receiver's films, and on the
// mirror.
func (s *lightSum) doses(g *group, m collector.Mirror) (receiver, mirror []float64) {
	n := g.field.Lanes
	receiver, mirror = make([]float64, n), make([]float64, n)
	isotropic, ground := s.isotropic/1000, m.Rho()*s.ground/1000
	for i := range n {
		receiver[i] = isotropic*float64(g.field.Sky[i]) + ground*float64(g.field.Ground[i])
		mirror[i] = isotropic * float64(g.strains.mirrorSky[i])
	}
	for bin, weight := range s.beam {
		if weight == 0 {
			continue
		}
		row, weight := g.strains.row(bin), weight/1000
		for i := range n {
			receiver[i] += weight * float64(row.uv[i])
			mirror[i] += weight * float64(row.mirror[i])
		}
	}
	return receiver, mirror
}

// storeDoses writes the doses of a year into the stresses of a lane.
func (w *Wear) storeDoses(dst []float32, receiver, mirror float64) {
	dst[result.UVClear] = float32(w.UVShare * receiver)
	dst[result.UVBlack] = float32(w.UVShare * w.ClearUVTransmitted * receiver)
	dst[result.UVMirror] = float32(w.UVShare * mirror)
}
