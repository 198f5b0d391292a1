package film

import (
	"fmt"
	"math"

	"stillrow/simulate/collector"
)

// A Span is a closed range of values.
type Span struct{ Low, High float64 }

// A Range is the working range over which coefficients are fitted: every
// combination of evenly spaced values counts the same, but those with water
// above Boiling are left out.
type Range struct {
	Rise    Span // K, water above air
	Air     Span // °C
	Wind    Span // m/s at the height of the receiver
	Deficit Span // W/m², the air's black radiation σ·Ta⁴ less the sky's
}

// Boiling is the water temperature no point of a fit exceeds, °C.
const Boiling = 100

// WorkingRange is the range of the presets: from water as cold as the air to
// the hottest outlets, the air of sunny days from cool to hot, still air to a
// strong breeze, overcast to clear dry sky. The coefficients know no air
// temperature though radiation does, so for one climate a narrower Air fits
// better: FitReport's Cold and Warm say by how much this one errs.
func WorkingRange() Range {
	return Range{Rise: Span{0, 70}, Air: Span{5, 35}, Wind: Span{0, 6}, Deficit: Span{0, 140}}
}

// A Point is one condition of a fit: how warm the water is above the air, and
// the rest as in Range.
type Point struct{ Rise, Air, Wind, Deficit float64 }

// loss asks the layers.
func (p Point) loss(s *Stack) float64 {
	loss, _ := s.Loss(p.Air+p.Rise, p.Air, p.sky(), p.Wind)
	return loss
}

func (p Point) sky() float64 { return SkyTemperature(black(p.Air) - p.Deficit) }

// terms are what c1 to c4 multiply.
func (p Point) terms() [4]float64 {
	return [4]float64{p.Rise, p.Rise * p.Rise, p.Wind * p.Rise, p.Deficit}
}

// A FitReport says how near the coefficients come to the layers: errors are
// the coefficients' loss less the layers', W/m².
type FitReport struct {
	Range  Range
	Points int
	Mean   float64 // of the layers' loss
	RMS    float64 // of the errors
	Worst  float64 // the error largest in size
	At     Point   // where it is
	Cold   float64 // mean error at the lowest air temperature
	Warm   float64 // at the highest: the coefficients know no air temperature, radiation does
	Dry    []Dry
}

// Dry compares the stagnation of the emptied receiver, which lies far outside
// the working range: its black film's temperature by the layers, and by the
// coefficients that were fitted to the receiver with water.
type Dry struct {
	Irradiance   float64 // W/m² of beam at normal incidence
	Layers, Coef float64 // °C
}

// dryPoint is the weather of the dry comparison: a warm clear day, little wind.
var dryPoint = Point{Air: 25, Wind: 1, Deficit: 90}

// Fit computes the receiver that stands for the stack: optical efficiency and
// incidence angle modifiers from its films, c1 to c4 by least squares on Loss
// over the range, c5 from the heat capacities, c6 = 0 because light is taken
// up under water, out of the wind. Night, wind factor and frost lock are the
// usual ones of a row on the ground; see DefaultWindFactor.
func (s *Stack) Fit(r Range) (collector.Receiver, FitReport, error) {
	if err := s.Validate(); err != nil {
		return collector.Receiver{}, FitReport{}, err
	}
	points, err := r.points()
	if err != nil {
		return collector.Receiver{}, FitReport{}, err
	}
	loss := make([]float64, len(points))
	for i, p := range points {
		loss[i] = p.loss(s)
	}
	c, err := leastSquares(points, loss)
	if err != nil {
		return collector.Receiver{}, FitReport{}, err
	}
	own := *s // the modifier must not follow later changes of s
	own.Clear = append([]Clear(nil), s.Clear...)
	o := own.optics()
	rec := collector.Receiver{
		Eta0b: s.Cleanliness * o.normal, Kb: o, Kd: collector.Diffuse(o),
		C1: c[0], C2: c[1], C3: c[2], C4: c[3], C5: s.heatCapacity(),
		WaterDepth: s.WaterDepth, WindFactor: DefaultWindFactor,
		Night: collector.Hold, FrostLock: math.NaN(),
		SofteningBlack: s.Black.Softening, SofteningClear: s.softeningClear(), FoamLimit: s.Foam.Limit,
	}
	if err := rec.Validate(); err != nil {
		return collector.Receiver{}, FitReport{}, fmt.Errorf("no receiver fits the layers over this range: %w", err)
	}
	rep := report(points, loss, c)
	rep.Range = r
	for _, g := range []float64{1000, 2000} {
		rep.Dry = append(rep.Dry, s.dry(g, rec.Eta0b*g, c))
	}
	return rec, rep, nil
}

// report compares the coefficients with the layers' loss at the points.
func report(points []Point, loss []float64, c [4]float64) FitReport {
	rep := FitReport{Points: len(points)}
	low, high := points[0].Air, points[0].Air
	for _, p := range points {
		low, high = min(low, p.Air), max(high, p.Air)
	}
	var losses, squares, cold, warm mean
	for i, p := range points {
		e := dot(c, p.terms()) - loss[i]
		losses.add(loss[i])
		squares.add(e * e)
		switch p.Air {
		case low:
			cold.add(e)
		case high:
			warm.add(e)
		}
		if math.Abs(e) > math.Abs(rep.Worst) {
			rep.Worst, rep.At = e, p
		}
	}
	rep.Mean, rep.RMS = losses.value(), math.Sqrt(squares.value())
	rep.Cold, rep.Warm = cold.value(), warm.value()
	return rep
}

type mean struct{ sum, n float64 }

func (m *mean) add(v float64)  { m.sum, m.n = m.sum+v, m.n+1 }
func (m *mean) value() float64 { return m.sum / m.n }

// DefaultWindFactor brings wind from 10 m to 0.5 m above open ground by the
// one-seventh power law, (0.5/10)^(1/7), rounded. A mirror or a hedge shelters
// more; an open slope less.
const DefaultWindFactor = 0.65

// points gives the grid of a range.
func (r Range) points() ([]Point, error) {
	for _, c := range []struct {
		name string
		Span
		lo, hi float64
	}{
		{"rise", r.Rise, -50, 200}, {"air", r.Air, -60, 60},
		{"wind", r.Wind, 0, 40}, {"deficit", r.Deficit, -100, 250},
	} {
		if !(c.Low >= c.lo && c.High <= c.hi && c.Low < c.High) {
			return nil, fmt.Errorf("range of %s = %g to %g, want a rising range within %g to %g", c.name, c.Low, c.High, c.lo, c.hi)
		}
	}
	const rises, airs, winds, deficits = 8, 5, 5, 4
	var points []Point
	for i := range rises {
		for j := range airs {
			for k := range winds {
				for l := range deficits {
					p := Point{r.Rise.at(i, rises), r.Air.at(j, airs), r.Wind.at(k, winds), r.Deficit.at(l, deficits)}
					if p.Air+p.Rise <= Boiling && black(p.Air) > p.Deficit {
						points = append(points, p)
					}
				}
			}
		}
	}
	if len(points) == 0 {
		return nil, fmt.Errorf("range of rise and air: water would be above %d °C everywhere", Boiling)
	}
	return points, nil
}

// at gives the i-th of n evenly spaced values, ends included.
func (s Span) at(i, n int) float64 { return s.Low + (s.High-s.Low)*float64(i)/float64(n-1) }

// leastSquares solves the normal equations of loss = c·terms; the terms are
// scaled to unit length first, which keeps four of them well conditioned.
func leastSquares(points []Point, loss []float64) (c [4]float64, err error) {
	var size [4]float64
	for _, p := range points {
		for i, t := range p.terms() {
			size[i] += t * t
		}
	}
	for i := range size {
		size[i] = math.Sqrt(size[i])
	}
	var m [4][5]float64 // the equations, right-hand side last
	for n, p := range points {
		t := p.terms()
		for i := range t {
			for j := range t {
				m[i][j] += t[i] * t[j] / (size[i] * size[j])
			}
			m[i][4] += t[i] * loss[n] / size[i]
		}
	}
	// Elimination without exchange of rows: the matrix is positive definite.
	for i := range m {
		if !(m[i][i] > 1e-9) { // of 1 before elimination
			return c, fmt.Errorf("the range does not tell c%d from the other coefficients", i+1)
		}
		for k := i + 1; k < len(m); k++ {
			f := m[k][i] / m[i][i]
			for j := i; j < len(m[k]); j++ {
				m[k][j] -= f * m[i][j]
			}
		}
	}
	for i := len(m) - 1; i >= 0; i-- {
		x := m[i][4]
		for j := i + 1; j < len(m); j++ {
			x -= m[i][j] * c[j] * size[j]
		}
		c[i] = x / m[i][i] / size[i]
	}
	return c, nil
}

func dot(a, b [4]float64) float64 {
	var sum float64
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}

// dry finds the temperatures at which layers and coefficients lose what the
// dry receiver takes up.
func (s *Stack) dry(irradiance, absorbed float64, c [4]float64) Dry {
	p := dryPoint
	return Dry{
		Irradiance: irradiance,
		Layers: steady(absorbed, func(t float64) float64 {
			loss, _ := s.DryLoss(t, p.Air, p.sky(), p.Wind)
			return loss
		}),
		Coef: steady(absorbed, func(t float64) float64 {
			q := p
			q.Rise = t - p.Air
			return dot(c, q.terms())
		}),
	}
}

// steady finds where a rising loss equals what is absorbed, by halving.
func steady(absorbed float64, loss func(t float64) float64) float64 {
	lo, hi := -100.0, 600.0
	for hi-lo > 1e-6 {
		if t := (lo + hi) / 2; loss(t) < absorbed {
			lo = t
		} else {
			hi = t
		}
	}
	return (lo + hi) / 2
}

// softeningClear gives the lowest softening temperature of the clear films,
// NaN when none is stated.
func (s *Stack) softeningClear() float64 {
	least := math.Inf(1)
	for _, f := range s.Clear {
		if f.Softening < least {
			least = f.Softening
		}
	}
	if math.IsInf(least, 1) {
		return math.NaN()
	}
	return least
}
