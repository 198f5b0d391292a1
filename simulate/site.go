package simulate

import (
	"stillrow/ingest/weather"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
)

// block is how many lanes go through the year together: their state at one
// outlet stays in the first-level cache.
const block = 256

// Site simulates one site: all designs and outlets.
func (p *Plan) Site(s weather.Site, y *weather.Year) (*result.Block, error) {
	if err := y.Validate(); err != nil {
		return nil, err
	}
	sy := newSiteYear(s, y, &p.Receiver)
	lines := make([][]kernel.Line, len(p.Outlets))
	regimes := make([]kernel.Regime, len(p.Outlets))
	for o, out := range p.Outlets {
		lines[o] = make([]kernel.Line, weather.Hours)
		sy.kernelLines(lines[o], out, &p.Receiver)
		regimes[o] = sy.regime(out, &p.Receiver)
	}
	months := make([][]float32, len(p.groups)) // [outlet][lane][12], flat
	hours := make([]kernel.Hour, weather.Hours)
	for g := range p.groups {
		grp := &p.groups[g]
		sy.kernelHours(hours, grp.azimuth, &p.Options)
		months[g] = make([]float32, len(p.Outlets)*grp.field.Lanes*12)
		for lo := 0; lo < grp.field.Lanes; lo += block {
			n := min(block, grp.field.Lanes-lo)
			march(months[g], &grp.field, lo, n, sy.month, hours, lines, regimes)
		}
	}
	b := &result.Block{Site: result.Site(s), Heat: make([]float32, len(p.Outlets)*len(p.Designs)*12)}
	for o := range p.Outlets {
		for d, l := range p.lanes {
			from := (o*p.groups[l.group].field.Lanes + l.lane) * 12
			copy(b.Heat[(o*len(p.Designs)+d)*12:][:12], months[l.group][from:])
		}
	}
	return b, nil
}

// march takes lanes lo to lo+n of a field through the year at every outlet and
// writes their monthly heat, kWh/m².
func march(months []float32, f *kernel.Field, lo, n int, month []uint8, hours []kernel.Hour, lines [][]kernel.Line, regimes []kernel.Regime) {
	banks := make([]*kernel.Bank, len(regimes))
	for o := range regimes {
		banks[o] = kernel.NewBank(n)
		banks[o].Start(&regimes[o])
	}
	s := make([]float32, n)
	for h := range hours {
		f.Light(s, lo, &hours[h])
		for o, b := range banks {
			b.Advance(s, &regimes[o], &hours[h], &lines[o][h])
		}
		if h == len(hours)-1 || month[h+1] != month[h] {
			for o, b := range banks {
				for i, q := range b.Heat {
					months[(o*f.Lanes+lo+i)*12+int(month[h])] = q / 1000
					b.Heat[i] = 0
				}
			}
		}
	}
}
