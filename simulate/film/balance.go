package film

import "math"

const (
	stefan = 5.670374e-8 // W/m²K⁴; CODATA 2018

	// waterEmittance is that of a plane water surface, long wave.
	// Source: handbook tables give 0.95 to 0.96 (from memory).
	waterEmittance = 0.96

	settled = 1e-10 // K, within which a film's temperature is found
)

// WindCoefficient gives the heat transfer coefficient from the top to air
// moving at the given wind speed over it, W/m²K.
// Source: Watmuff, Charters and Proctor 1977, as quoted in Duffie and Beckman.
func WindCoefficient(wind float64) float64 { return 2.8 + 3.0*wind }

// SkyTemperature gives the temperature of a black sky whose long-wave
// irradiance is infrared, W/m².
func SkyTemperature(infrared float64) float64 { return math.Pow(infrared/stefan, 0.25) - kelvin }

// Loss gives the heat that a valid stack loses upwards and to the ground with
// its water, the air and the sky at the given temperatures and wind, m/s, at
// the height of the receiver. With it come the temperatures of the clear films
// from the top; the last lies on the water and has its temperature. NaN says
// that the heat balance of the films was not found.
func (s *Stack) Loss(water, air, sky, wind float64) (loss float64, films []float64) {
	b := s.balance(waterEmittance, water, air, sky, wind)
	return b.surface() + s.back()*(water-air), b.films
}

// DryLoss is Loss of an emptied receiver: the last clear film has sunk onto
// the black film, which has the given temperature.
func (s *Stack) DryLoss(black, air, sky, wind float64) (loss float64, films []float64) {
	b := s.balance(s.Black.Emittance, black, air, sky, wind)
	return b.surface() + s.back()*(black-air), b.films
}

// back gives the loss coefficient to the ground, W/m²K.
func (s *Stack) back() float64 { return s.Foam.Conductivity / s.Foam.Thickness }

// A balance is the heat flowing through the regions between the layers: region
// 0 lies over the top, the last one over the film that lies on the water.
type balance struct {
	stack          *Stack
	emittance      float64 // of water and film on it, together
	air, sky, wind float64
	films          []float64 // temperatures from the top
	up, down       []float64 // long-wave radiation in each region
	convection     []float64 // upwards, in each region
}

// balance finds the temperatures at which no film over an air gap gains heat,
// by settling one film after the other until all stand still. A film's gain
// falls with its own temperature and rises with the others', so this converges
// whatever the layers.
func (s *Stack) balance(underEmittance, under, air, sky, wind float64) *balance {
	n := len(s.Clear)
	b := &balance{
		stack: s, air: air, sky: sky, wind: wind,
		films: make([]float64, n), up: make([]float64, n), down: make([]float64, n), convection: make([]float64, n),
	}
	// The lowest film and what it lies on radiate as one surface.
	low := s.Clear[n-1]
	reflect := 1 - underEmittance
	b.emittance = 1 - low.Reflectance - low.Transmittance*low.Transmittance*reflect/(1-low.Reflectance*reflect)
	for i := range b.films {
		b.films[i] = air + (under-air)*float64(i+1)/float64(n)
	}
	for range 1000 {
		var moved float64
		for i := range n - 1 {
			before := b.films[i]
			b.settle(i, min(under, air, sky), max(under, air, sky))
			moved = max(moved, math.Abs(b.films[i]-before))
		}
		if moved <= settled {
			b.flow()
			return b
		}
	}
	for i := range n {
		b.films[i], b.convection[i] = math.NaN(), math.NaN()
	}
	return b
}

// settle finds the temperature, between cold and hot, at which film i gains no
// heat while the other films keep theirs. It is the false position method with
// the stale end's gain halved (the Illinois rule): convection sets in with a
// kink, on which Newton's method can swing for ever.
func (b *balance) settle(i int, cold, hot float64) {
	gainAt := func(t float64) float64 {
		b.films[i] = t
		return b.gain(i)
	}
	atCold, atHot := gainAt(cold), gainAt(hot)
	for side := 0; hot-cold > settled && atCold != atHot; {
		t := (cold*atHot - hot*atCold) / (atHot - atCold)
		gain := gainAt(t)
		switch {
		case gain > 0:
			cold, atCold = t, gain
			if side > 0 {
				atHot /= 2
			}
			side = 1
		case gain < 0:
			hot, atHot = t, gain
			if side < 0 {
				atCold /= 2
			}
			side = -1
		default:
			return
		}
	}
	b.films[i] = (cold + hot) / 2
}

// gain gives the heat that film i gains, W/m².
func (b *balance) gain(i int) float64 {
	b.flow()
	return b.through(i+1) - b.through(i)
}

// through gives the heat going up through a region, W/m².
func (b *balance) through(region int) float64 {
	return b.up[region] - b.down[region] + b.convection[region]
}

// surface gives the heat that leaves the water upwards, W/m².
func (b *balance) surface() float64 { return b.through(len(b.films) - 1) }

// flow computes radiation and convection of all regions from the temperatures.
// What lies below a region answers the radiation falling on it, D, with
// R·D + E; R and E are built from the water up, then D is followed down.
func (b *balance) flow() {
	n := len(b.films)
	r, e := b.down, b.up // R and E of each region until D is known
	r[n-1] = 1 - b.emittance
	e[n-1] = b.emittance * black(b.films[n-1])
	for i := n - 2; i >= 0; i-- {
		c := b.stack.Clear[i]
		own := c.Emittance() * black(b.films[i])
		between := 1 / (1 - c.Reflectance*r[i+1])
		r[i] = c.Reflectance + c.Transmittance*c.Transmittance*r[i+1]*between
		e[i] = own + c.Transmittance*(e[i+1]+r[i+1]*own)*between
	}
	d := black(b.sky)
	for i := range n {
		up := r[i]*d + e[i]
		r[i], e[i] = d, up
		if i < n-1 {
			c := b.stack.Clear[i]
			d = (c.Transmittance*d + c.Reflectance*e[i+1] + c.Emittance()*black(b.films[i])) / (1 - c.Reflectance*r[i+1])
		}
	}
	b.convection[0] = WindCoefficient(b.wind) * (b.films[0] - b.air)
	for i := 1; i < n; i++ {
		upper, lower := b.films[i-1], b.films[i]
		b.convection[i] = gapCoefficient(b.stack.Clear[i-1].Gap, b.stack.Slope, lower, upper) * (lower - upper)
	}
}

// black gives the radiation of a black body at t °C, W/m².
func black(t float64) float64 {
	k := t + kelvin
	return stefan * k * k * k * k
}
