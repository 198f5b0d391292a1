package film

import (
	"fmt"

	"stillrow/simulate/collector"
)

// Names lists the presets, the plainest first.
func Names() []string { return []string{"wet film", "film over air gap", "two films"} }

// Preset builds a receiver by construction:
//
//   - "wet film": one clear film, lying on the water.
//   - "film over air gap": one clear film over an air gap, and a second one
//     lying on the water.
//   - "two films": two clear films, each over an air gap, and a third one lying
//     on the water.
//
// The films are those of lowPriced, an assumption to be replaced by the film
// bought; the coefficients are fitted over WorkingRange.
func Preset(name string) (collector.Receiver, Stack, error) {
	s, err := layers(name)
	if err != nil {
		return collector.Receiver{}, Stack{}, err
	}
	r, _, err := s.Fit(WorkingRange())
	return r, s, err
}

// layers gives the stack of a preset.
func layers(name string) (Stack, error) {
	over := map[string]int{"wet film": 0, "film over air gap": 1, "two films": 2}
	n, ok := over[name]
	if !ok {
		return Stack{}, fmt.Errorf("preset = %q, want one of %q", name, Names())
	}
	return lowPriced(name, n), nil
}

// lowPriced gives a receiver of commodity films, with the given number of
// clear films over air gaps above the one on the water. All values are
// assumptions:
//
//   - Clear film: low-density polyethylene, 0.18 mm. Index 1.50 and extinction
//     0.02 for two per cent absorbed (common practice, no source). Long-wave
//     transmittance 0.5 to 0.6 for this thickness, reflectance near 0.07: from
//     memory of published ranges. On water these make an emittance of 0.92.
//   - Black film: polyethylene with carbon black, 0.20 mm; absorptance 0.95,
//     emittance 0.92 (from memory).
//   - Softening 98 °C: the low end of 98 to 115 °C at which data sheets of
//     low-density polyethylene give its melting. It creeps under load from 40 °C.
//   - Foam: expanded polystyrene, 50 mm, 0.035 W/mK dry, 20 kg/m³, 1450 J/kgK
//     (from memory); 75 °C long-term limit as in data sheets to ASTM C578.
//   - Cleanliness 0.95: dust and ageing between washings (no source; films have
//     been measured to lose far more in a desert year).
//   - Water 40 mm, air gaps 50 mm: common practice, no source.
func lowPriced(name string, over int) Stack {
	const (
		polyethylene = 920 * 2300 // J/m³K: density × specific heat, from memory
		softening    = 98         // °C
	)
	clear := Clear{
		Name: "clear polyethylene (LDPE), 0.18 mm", N: 1.50, KL: 0.02,
		Transmittance: 0.55, Reflectance: 0.07,
		HeatCapacity: polyethylene * 0.18e-3, Softening: softening,
	}
	s := Stack{
		Name: name, Cleanliness: 0.95, WaterDepth: 0.04,
		Black: Black{
			Name: "black polyethylene (LDPE), 0.20 mm", Absorptance: 0.95, Emittance: 0.92,
			HeatCapacity: polyethylene * 0.20e-3, Softening: softening,
		},
		Foam: Foam{
			Name: "expanded polystyrene (EPS)", Thickness: 0.05, Conductivity: 0.035,
			HeatCapacity: 20 * 1450, Limit: 75,
		},
	}
	for range over {
		raised := clear
		raised.Gap = 0.05
		s.Clear = append(s.Clear, raised)
	}
	s.Clear = append(s.Clear, clear)
	return s
}
