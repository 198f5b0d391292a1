package collector

import (
	"fmt"
	"math"

	"stillrow/simulate/sun"
)

// An IAM is an incidence angle modifier: the optical efficiency at incidence
// angle theta over that at normal incidence. It is 1 at 0 and never below 0.
type IAM interface {
	At(theta sun.Angle) float64
}

// B0 is the one-parameter modifier 1 − b0·(1/cos θ − 1), cut at 0.
// Source: ANSI/ASHRAE 93.
type B0 float64

// At gives the modifier at incidence angle theta.
func (b B0) At(theta sun.Angle) float64 {
	c := math.Cos(float64(theta))
	if c <= 0 {
		return 0
	}
	return max(0, 1-float64(b)*(1/c-1))
}

// A MeasuredIAM is a table of modifiers, linear in the angle between its
// points. Past the last point it falls linearly to 0 at 90°.
type MeasuredIAM struct {
	deg, k []float64
}

// NewMeasuredIAM takes points [degrees, modifier] from [0, 1] on with rising
// angles up to 90; an error names the first point that does not fit.
func NewMeasuredIAM(points [][2]float64) (*MeasuredIAM, error) {
	if len(points) == 0 || points[0] != [2]float64{0, 1} {
		return nil, fmt.Errorf("table must begin with [0, 1]")
	}
	m := new(MeasuredIAM)
	for i, p := range points {
		if i > 0 && !(p[0] > points[i-1][0] && p[0] <= 90) {
			return nil, fmt.Errorf("table[%d] = %v: want an angle above %g and at most 90", i, p, points[i-1][0])
		}
		if !(p[1] >= 0 && p[1] <= 2) {
			return nil, fmt.Errorf("table[%d] = %v: want a modifier of 0 to 2", i, p)
		}
		m.deg, m.k = append(m.deg, p[0]), append(m.k, p[1])
	}
	if last := points[len(points)-1]; last[0] < 90 {
		m.deg, m.k = append(m.deg, 90), append(m.k, 0)
	}
	return m, nil
}

// At gives the modifier at incidence angle theta.
func (m *MeasuredIAM) At(theta sun.Angle) float64 {
	d := theta.Degrees()
	if d >= 90 {
		return m.k[len(m.k)-1]
	}
	i := 1
	for i < len(m.deg)-1 && d > m.deg[i] {
		i++
	}
	f := (d - m.deg[i-1]) / (m.deg[i] - m.deg[i-1])
	return max(0, m.k[i-1]+f*(m.k[i]-m.k[i-1]))
}

// Diffuse gives Kd, the modifier of isotropic light from the hemisphere:
// 2∫K·cos θ·sin θ dθ from 0 to 90°, good to 1e-6 of smooth modifiers.
func Diffuse(k IAM) float64 {
	// In u = sin²θ the weight is even; midpoints keep off θ = 90°.
	const n = 20000
	var sum float64
	for i := range n {
		u := (float64(i) + 0.5) / n
		sum += k.At(sun.Angle(math.Asin(math.Sqrt(u))))
	}
	return sum / n
}

// sampled is an IAM at steps of 1/sampledPerDeg degree, for modifiers that are
// costly to compute; the chord errs by less than 1e-5 where K matters.
type sampled []float64

const sampledPerDeg = 20

// Sample tabulates k finely, so that building optical tables does not pay for
// a film stack at every entry.
func Sample(k IAM) IAM {
	s := make(sampled, 90*sampledPerDeg+1)
	for i := range s {
		s[i] = k.At(sun.Angle(i) * sun.Degree / sampledPerDeg)
	}
	return s
}

// At gives the modifier at incidence angle theta.
func (s sampled) At(theta sun.Angle) float64 {
	d := theta.Degrees() * sampledPerDeg
	i := int(d)
	if i >= len(s)-1 {
		return s[len(s)-1]
	}
	f := d - float64(i)
	return s[i] + f*(s[i+1]-s[i])
}
