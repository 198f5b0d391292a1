package rank

import (
	"fmt"
	"math"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// A Dose is what ages a film in a year: ultraviolet light, kWh/m², and hours
// at the reference temperature that age it as the year's own temperatures do.
type Dose struct {
	UV   float64
	Warm float64
}

// Lives says, film by film, which yearly dose a rated life stands for. A film
// that gets more in a year wears out sooner, by the dose it exceeds most.
type Lives map[cost.Film]Dose

// Strain gives, for every film of l, the greater of its two doses over those
// its rated life stands for.
func (l Lives) Strain(b *result.Block, t *result.Table, outlet, design int) map[cost.Film]float64 {
	strain := make(map[cost.Film]float64, len(l))
	for film := range l {
		strain[film] = l.strain(b, t, outlet, design, film)
	}
	return strain
}

// strain is that of one film of l.
func (l Lives) strain(b *result.Block, t *result.Table, outlet, design int, film cost.Film) float64 {
	rated := l[film]
	at := func(s result.Stress) float64 { return float64(b.Strain(t, outlet, design, s)) }
	switch film {
	case cost.ClearFilm:
		return max(at(result.UVClear)/rated.UV, at(result.WarmReceiver)/rated.Warm)
	case cost.BlackFilm:
		return max(at(result.UVBlack)/rated.UV, at(result.WarmReceiver)/rated.Warm)
	}
	return max(at(result.UVMirror)/rated.UV, at(result.WarmMirror)/rated.Warm)
}

// Materials are the temperatures, °C, that the receiver's materials bear; 0 or NaN
// where a limit is not stated.
type Materials struct {
	Clear, Black, Foam float64
}

// refuse says why water of an outlet temperature cannot be had from these
// materials; it is empty when it can.
func (m Materials) refuse(outlet float64) string {
	least := math.Inf(1)
	why := ""
	for _, c := range []struct {
		name  string
		limit float64
	}{{"clear film", m.Clear}, {"black film", m.Black}, {"foam", m.Foam}} {
		if c.limit > 0 && outlet > c.limit && c.limit < least {
			least, why = c.limit, fmt.Sprintf("the %s bears %g °C", c.name, c.limit)
		}
	}
	return why
}
