package film

import "math"

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
