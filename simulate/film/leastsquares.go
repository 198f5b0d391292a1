package film

import (
	"fmt"
	"math"
)

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
