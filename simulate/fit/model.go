package fit

import (
	"fmt"
	"math"
	"slices"
)

// A term is one coefficient of the collector equation.
type term int

const (
	noTerm term = iota - 1
	eta0b
	b0
	c1
	c2
	c3
	c4
	gain
	d1 // c1 of the mirror set less that of the plain one; d2 to d4 likewise
	d2
	d3
	d4
	termCount
)

// values holds one number for each term; a term that is neither fitted nor
// held is 0, the gain 1.
type values [termCount]float64

var termNames = [termCount]string{"eta0b", "b0", "c1", "c2", "c3", "c4", "mirror_gain",
	"c1 mirror - plain", "c2 mirror - plain", "c3 mirror - plain", "c4 mirror - plain"}

func (t term) String() string { return termNames[t] }

// unit of the coefficient, as text and in JSON.
func (t term) unit() string {
	switch t {
	case c1, d1:
		return "W/(m²K)"
	case c2, d2:
		return "W/(m²K²)"
	case c3, d3:
		return "J/(m³K)"
	}
	return "1"
}

// difference gives the term that lets the mirror set have its own t.
func (t term) difference() term {
	if t >= c1 && t <= c4 {
		return t - c1 + d1
	}
	return noTerm
}

// stefanBoltzmann in W/(m²K⁴), exact in the SI of 2019 (CODATA 2018).
const stefanBoltzmann = 5.670374419e-8

// A row is a point as the equation sees it.
type row struct {
	heat          float64 // W/m²
	weight        float64 // 1/uncertainty, or 1
	beam, diffuse float64 // W/m²
	oblique       float64 // 1/cosθ − 1
	deltaT, wind  float64 // K, m/s
	sky           float64 // EL − σ·Ta⁴, W/m², 0 when not measured
	mirror        bool    // the gain applies
}

// A model is the equation over all points.
type model struct {
	points        []Point
	rows          []row
	plain, mirror bool // which sets there are
	sky, weighted bool // which optional columns there are
	heldKd        float64
}

func newModel(points []Point) (*model, error) {
	first := &points[0]
	m := &model{points: points, sky: !math.IsNaN(first.SkyInfrared), weighted: !math.IsNaN(first.Uncertainty)}
	for i := range points {
		p := &points[i]
		if err := p.Validate(); err != nil {
			return nil, p.locate(err)
		}
		if (p.Set == "") != (first.Set == "") {
			return nil, p.locate(fmt.Errorf("set: %q beside %q: label every point or none", p.Set, first.Set))
		}
		if m.sky == math.IsNaN(p.SkyInfrared) || m.weighted == math.IsNaN(p.Uncertainty) {
			return nil, p.locate(fmt.Errorf("sky_infrared_w_m2 and uncertainty_w_m2 must be given for every point or none"))
		}
		m.plain = m.plain || p.Set != Mirror
		m.mirror = m.mirror || p.Set == Mirror
		r := row{
			heat: p.Heat(), weight: 1, beam: p.Beam, diffuse: p.Diffuse,
			oblique: 1/math.Cos(p.Incidence*math.Pi/180) - 1,
			deltaT:  p.DeltaT(), wind: p.WindSpeed, mirror: p.Set == Mirror,
		}
		if m.weighted {
			r.weight = 1 / p.Uncertainty
		}
		if m.sky {
			r.sky = p.SkyInfrared - stefanBoltzmann*math.Pow(p.AirTemperature+273.15, 4)
		}
		m.rows = append(m.rows, r)
	}
	return m, nil
}

// kd gives Kd = 2∫Kb·cosθ·sinθ dθ over the half sphere and its derivative by
// b0. With Kb cut at 0, which happens at cosθ = b0/(1+b0), the integral is
// 1/(1+b0); for a negative b0 nothing is cut and it is 1 − b0.
func (m *model) kd(b0 float64) (kd, slope float64) {
	switch {
	case m.heldKd > 0:
		return m.heldKd, 0
	case b0 >= 0:
		return 1 / (1 + b0), -1 / ((1 + b0) * (1 + b0))
	}
	return 1 - b0, -1
}

// heat is the right-hand side of the equation, W/m².
func (m *model) heat(v *values, r *row) float64 {
	kd, _ := m.kd(v[b0])
	g, e1, e2, e3, e4 := 1.0, v[c1], v[c2], v[c3], v[c4]
	if r.mirror {
		g = v[gain]
		e1, e2, e3, e4 = e1+v[d1], e2+v[d2], e3+v[d3], e4+v[d4]
	}
	return v[eta0b]*(g*(1-v[b0]*r.oblique)*r.beam+kd*r.diffuse) -
		e1*r.deltaT - e2*r.deltaT*r.deltaT - e3*r.wind*r.deltaT + e4*r.sky
}

// slope is the derivative of heat by t.
func (m *model) slope(t term, v *values, r *row) float64 {
	kd, kdSlope := m.kd(v[b0])
	g := 1.0
	if r.mirror {
		g = v[gain]
	}
	switch t {
	case eta0b:
		return g*(1-v[b0]*r.oblique)*r.beam + kd*r.diffuse
	case b0:
		return v[eta0b] * (-g*r.oblique*r.beam + kdSlope*r.diffuse)
	case c1:
		return -r.deltaT
	case c2:
		return -r.deltaT * r.deltaT
	case c3:
		return -r.wind * r.deltaT
	case c4:
		return r.sky
	}
	if !r.mirror {
		return 0
	}
	if t == gain {
		return v[eta0b] * (1 - v[b0]*r.oblique) * r.beam
	}
	return m.slope(t-d1+c1, v, r)
}

// column is the weighted derivative by t at every point.
func (m *model) column(t term, v *values) []float64 {
	c := make([]float64, len(m.rows))
	for i := range m.rows {
		c[i] = m.rows[i].weight * m.slope(t, v, &m.rows[i])
	}
	return c
}

// residuals are the weighted differences measured − fitted.
func (m *model) residuals(v *values) []float64 {
	e := make([]float64, len(m.rows))
	for i := range m.rows {
		r := &m.rows[i]
		e[i] = r.weight * (r.heat - m.heat(v, r))
	}
	return e
}

// extent gives the least and greatest of what f reads off the points that keep
// accepts; ok is false when it accepts none.
func (m *model) extent(keep func(*row) bool, f func(*Point, *row) float64) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for i := range m.rows {
		if keep == nil || keep(&m.rows[i]) {
			x := f(&m.points[i], &m.rows[i])
			lo, hi, ok = min(lo, x), max(hi, x), true
		}
	}
	return lo, hi, ok
}

func sunny(r *row) bool { return r.beam > 0 }

func (m *model) iamSpread() float64 {
	lo, hi, ok := m.extent(sunny, func(_ *Point, r *row) float64 { return r.oblique })
	if !ok {
		return 0
	}
	return hi - lo
}

// exceeds tells whether any point's water was further from the air than limit,
// K.
func (m *model) exceeds(limit float64) bool {
	return slices.ContainsFunc(m.rows, func(r row) bool { return math.Abs(r.deltaT) > limit })
}

// span says in words how far the data move the coefficient t.
func (m *model) span(t term) string {
	type reading struct {
		name, unit string
		keep       func(*row) bool
		f          func(*Point, *row) float64
	}
	var q reading
	switch t {
	case c1, c2:
		q = reading{"temperature difference to the air", "K", nil, func(_ *Point, r *row) float64 { return r.deltaT }}
	case c3:
		q = reading{"wind", "m/s", nil, func(_ *Point, r *row) float64 { return r.wind }}
	case c4:
		q = reading{"sky infrared less σTa⁴", "W/m²", nil, func(_ *Point, r *row) float64 { return r.sky }}
	case b0:
		q = reading{"incidence", "deg", sunny, func(p *Point, _ *row) float64 { return p.Incidence }}
	case gain:
		q = reading{"beam of the mirror set", "W/m²", func(r *row) bool { return r.mirror }, func(_ *Point, r *row) float64 { return r.beam }}
	default:
		q = reading{"beam", "W/m²", nil, func(_ *Point, r *row) float64 { return r.beam }}
	}
	lo, hi, ok := m.extent(q.keep, q.f)
	if !ok {
		return "no beam at any point"
	}
	return fmt.Sprintf("%s %.4g to %.4g %s", q.name, lo, hi, q.unit)
}
