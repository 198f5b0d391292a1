package result

import "math"

// A Response is the heat of a set of months as a function of relative changes
// of all Params at once.
//
// Along each Param alone it runs through what was simulated at both steps and
// without a change: two parabolas that share their slope there, monotone; past
// two steps, or where a parabola turns, heat stays as it is.
//
// Two Params together add a bilinear term. Light is a product of its factors:
// efficiency, irradiance and reflectance changed together give the product of
// the changes, on the light that both act on, the lesser of their slopes. And
// heat bends where hours begin or cease to deliver: those hours bend it along
// both Params, so that by Cauchy and Schwarz the mixed second derivative is at
// most the geometric mean of the two own ones, of which it is taken to be the
// share hinge.
//
// Against whole simulations at seven stations and two cells of the demo
// (tropics to 65° N, 35 to 75 °C, four receivers, held and drained nights) with
// eta0b ±5 %, c1 ±30 %, reflectance −10 to +5 % and irradiance ±8 % drawn
// evenly, a quarter of the draws at the corners of that box: where the heat of a
// year or of three months exceeds 50 kWh/m², the error is under 1 % in 95 of 100
// draws, under 3 % in 99, and under 1 % in root mean square; where it does not,
// under 2 kWh/m² in 95 of 100. It is greatest at corners where all four push the
// heat one way: where it falls to a quarter, it can be a quarter off.
type Response struct {
	base     float64
	slope    [Params]float64    // of heat at no change
	bend     [Params][2]float64 // half the second derivative below and above no change
	from, to [Params]float64    // changes past which heat stays as it is
	cross    [Params][Params]float64
}

// hinge is the share of its greatest possible value that the mixed second
// derivative of two Params has; fitted to simulations at six of the stations.
const hinge = 0.9

// Response makes the response of the months marked. base is the heat of the
// pick without a change, as Block.Months gives it.
func (s *Sensitivity) Response(base []float32, months [12]bool) Response {
	var r Response
	var low, high [Params]float64
	for m, counts := range months {
		if !counts {
			continue
		}
		b := float64(base[m])
		r.base += b
		var slope, bend [Params]float64
		for p := range Params {
			l, h := float64(s.Low[p][m]), float64(s.High[p][m])
			low[p] += l
			high[p] += h
			slope[p] = (h - l) / (2 * Steps[p])
			bend[p] = max(0, (h+l-2*b)/(Steps[p]*Steps[p]))
		}
		for p := range Params {
			for q := range p {
				c := hinge * math.Sqrt(bend[p]*bend[q])
				if slope[p]*slope[q] < 0 {
					c = -c
				}
				if p != C1 && q != C1 {
					c += min(slope[p], slope[q])
				}
				r.cross[p][q] += c
			}
		}
	}
	for p := range Params {
		r.along(p, low[p], high[p])
	}
	return r
}

// along sets the curve of one Param.
func (r *Response) along(p Param, low, high float64) {
	step := Steps[p]
	below, above := (r.base-low)/step, (high-r.base)/step
	if below*above > 0 {
		// A slope up to twice that of each side's chord keeps both parabolas
		// monotone between the steps.
		limit := 2 * min(math.Abs(below), math.Abs(above))
		r.slope[p] = max(-limit, min(limit, (below+above)/2))
	}
	r.bend[p] = [2]float64{(r.slope[p] - below) / step, (above - r.slope[p]) / step}
	r.from[p], r.to[p] = -2*step, 2*step
	if turn := -r.slope[p] / (2 * r.bend[p][0]); turn < 0 { // not for NaN
		r.from[p] = max(r.from[p], turn)
	}
	if turn := -r.slope[p] / (2 * r.bend[p][1]); turn > 0 {
		r.to[p] = min(r.to[p], turn)
	}
}

// Heat gives the heat under relative changes of the Params, kWh per m² of
// receiver: 0.1 stands for an input 1.1 times as large.
func (r *Response) Heat(change [Params]float64) float64 {
	heat := r.base
	var to [Params]float64
	for p := range to {
		x := change[p]
		if x < r.from[p] {
			x = r.from[p]
		}
		if x > r.to[p] {
			x = r.to[p]
		}
		to[p] = x
		side := ^math.Float64bits(x) >> 63 // 0 below no change, 1 above
		heat += x * (r.slope[p] + r.bend[p][side]*x)
		cross := &r.cross[p]
		for q, y := range to[:p] {
			heat += cross[q] * x * y
		}
	}
	if heat < 0 {
		return 0
	}
	return heat
}
