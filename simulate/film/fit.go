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
