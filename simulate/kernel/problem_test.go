package kernel

import (
	"math"
	"math/rand/v2"
)

// A problem is a made-up year: everything the kernel is handed.
type problem struct {
	field   Field
	hours   []Hour
	regimes []Regime
	lines   [][]Line // of each regime
}

// newProblem makes a number of days for n lanes at four outlets. The sun's
// rows go with its height, so that days near each other and both halves of a
// day share rows, as real ones do. drained is water that leaves each night;
// otherwise frost sends it away now and then. The lanes' optics do not depend
// on how many there are.
func newProblem(n, days int, drained bool, seed uint64) *problem {
	const heights, seasons = 512, 8
	p := &problem{field: Field{Lanes: n, Beam: make([]float32, heights*seasons*n), Sky: make([]float32, n), Ground: make([]float32, n)}}
	for i := range n {
		r := rand.New(rand.NewPCG(seed, uint64(i)))
		p.field.Sky[i], p.field.Ground[i] = .4+.5*r.Float32(), .2*r.Float32()
		gain, peak := .3+.5*r.Float32(), r.Float32()
		for row := range heights * seasons {
			x := float32(row/seasons)/heights - peak
			p.field.Beam[row*n+i] = gain * (1 - x*x)
		}
	}
	r := rand.New(rand.NewPCG(seed, 1<<40))
	cloud, air := 1.0, 10.0
	frozen := false
	for day := range days {
		season := math.Sin(2 * math.Pi * float64(day) / float64(max(days, 365))) // from the equinox on
		cloud = .5*cloud + .5*r.Float64()
		frost := !drained && r.IntN(12) == 0
		for clock := range 24 {
			h := Hour{}
			angle := 2 * math.Pi * (float64(clock) - 11.5) / 24
			height := math.Cos(angle) + .4*season
			if height > 0 {
				beam, sky := 900*cloud*min(1, 2*height), 60+120*(1-cloud)
				h.N, h.Sky, h.Ground = 6, float32(.75*sky), float32(30*height)
				for k := range h.N {
					at := max(0, math.Cos(angle+(float64(k)-2.5)/6*math.Pi/12)+.4*season) / 1.4
					h.Row[k] = int32(min(heights-1, int(at*heights))*seasons + min(seasons-1, int((season+1)/2*seasons)))
					h.Weight[k] = float32(.7 * beam / 6)
				}
			}
			switch {
			case drained && h.N > 0:
				h.Event = Refill
			case drained && len(p.hours) > 0 && p.hours[len(p.hours)-1].N > 0:
				h.Event = Leave
			case frost && clock == 0:
				h.Event = Leave
			case frozen && clock == 0:
				h.Event = Return
			}
			p.hours = append(p.hours, h)
		}
		frozen = frost
	}
	for _, out := range []float32{35, 45, 60, 75} {
		p.regimes = append(p.regimes, Regime{In: out - 10, Out: out, Run: out - 5, Dry: 2, Wet: 60, StartDry: drained, FirstAirC: 8})
		var lines []Line
		for h := range p.hours {
			air = 14 + 9*math.Sin(float64(h)/24*2*math.Pi) + 3*math.Sin(float64(h)/900)
			u := float32(5 + 3*r.Float64())
			lines = append(lines, Line{
				Base: float32(air) - 20/u, InvU: 1 / u, U: u,
				Wet: decay(u, 60), Dry: decay(u, 2),
			})
		}
		p.lines = append(p.lines, lines)
	}
	return p
}

func decay(u, capacity float32) Decay {
	return Decay{Hour: float32(math.Exp(-float64(u / capacity))), Time: capacity / u}
}

// start gives a bank at the beginning of the year for each outlet.
func (p *problem) start() []*Bank {
	var banks []*Bank
	for range p.regimes {
		banks = append(banks, NewBank(p.field.Lanes))
	}
	p.restart(banks)
	return banks
}

func (p *problem) restart(banks []*Bank) {
	for o, b := range banks {
		b.Start(&p.regimes[o])
	}
}

// run takes all lanes through all hours. s is room for their light.
func (p *problem) run(banks []*Bank, s []float32) {
	for h := range p.hours {
		p.field.Light(s, 0, &p.hours[h])
		for o, b := range banks {
			b.Advance(s, &p.regimes[o], &p.hours[h], &p.lines[o][h])
		}
	}
}

// march is a year from its beginning.
func (p *problem) march() []*Bank {
	banks := p.start()
	p.run(banks, make([]float32, p.field.Lanes))
	return banks
}
