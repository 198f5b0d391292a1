package simulate

import (
	"iter"

	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
)

// A Step is one hour of one design at one outlet with everything that led to
// its heat. Light and Absorbed are from the optics as they are at each
// instant, without the table; State, Ledger and the heat in it are computed in
// double precision. KernelHeat is what the run itself counts for the hour.
type Step struct {
	Hour     int // of the weather year, from 0
	Month    int // 0…11
	Sky      Sun
	Air      collector.Weather
	DNI, DHI float64 // W/m²
	Light    collector.Light
	Absorbed float64 // W/m²
	Line     collector.Line
	Event    collector.Event
	Before   collector.State
	After    collector.State
	Ledger   collector.Ledger // Wh/m²

	KernelHeat float64 // Wh/m²
}

// A Sun is the sun of an hour: its sunlit fraction and, where that is above 0,
// the altitude and azimuth (clockwise from north) at the instants that stand
// for it, degrees.
type Sun struct {
	Fraction          float64
	Distance          float64 // astronomical units
	Altitude, Azimuth []float64
}

// Hourly walks a site's year for one design and outlet, given by their numbers
// in the plan. The *Step is overwritten by the next one: copy it to keep it.
func (p *Plan) Hourly(s weather.Site, y *weather.Year, design, outlet int) (iter.Seq[*Step], error) {
	if err := y.Validate(); err != nil {
		return nil, err
	}
	sy := newSiteYear(p.sun, s, y, &p.Receiver)
	l := p.lanes[design]
	g := &p.groups[l.group]
	heater := g.heaters[l.lane]
	out := p.Outlets[outlet]
	hours := make([]kernel.Hour, weather.Hours)
	sy.kernelHours(hours, g.azimuth, &p.Options, nil)
	lines := make([]kernel.Line, weather.Hours)
	sy.kernelLines([][]kernel.Line{lines}, []collector.Outlet{out}, &p.Receiver)
	regime := sy.regime(out, &p.Receiver)

	return func(yield func(*Step) bool) {
		bank := kernel.NewBank(1)
		bank.Start(&regime)
		light := make([]float32, 1)
		state := p.Receiver.Start(float64(y.AirTemperature[0]), out)
		var rays [instants]collector.Ray
		for h := range weather.Hours {
			step := Step{
				Hour: h, Month: int(sy.month[h]), Sky: sy.sun(h), Air: sy.air(h),
				DNI: float64(y.DNI[h]), DHI: float64(y.DHI[h]),
				Light: sy.light(rays[:0], h, g.azimuth, p.Ground),
				Event: sy.events[h], Before: state,
			}
			step.Absorbed = heater.Absorbed(step.Light)
			step.Line = p.Receiver.Linear(step.Air, out)
			state, step.Ledger = p.Receiver.Hour(state, step.Absorbed, step.Line, out, step.Event)
			step.After = state

			g.field.Light(light, l.lane, &hours[h])
			bank.Heat[0] = 0
			bank.Advance(light, &regime, &hours[h], &lines[h])
			step.KernelHeat = float64(bank.Heat[0])
			if !yield(&step) {
				return
			}
		}
	}, nil
}
