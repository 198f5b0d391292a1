package fit

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// leastSquares is the linear problem min ‖y − A·x‖ solved.
type leastSquares struct {
	x        []float64
	inverse  *mat.SymDense // (AᵀA)⁻¹; times σ² it is the covariance of x
	leverage []float64     // diagonal of the hat matrix
	cond     float64       // condition number of A with columns scaled to length 1
}

var errSingular = errors.New("the coefficients cannot be told apart")

// linear solves the problem by the singular value decomposition of A with its
// columns scaled to length 1, so that units do not matter. columns holds A.
func linear(columns [][]float64, y []float64) (*leastSquares, error) {
	n, p := len(y), len(columns)
	a := mat.NewDense(n, p, nil)
	length := make([]float64, p)
	for k, c := range columns {
		length[k] = floats.Norm(c, 2)
		if length[k] == 0 {
			return nil, errSingular
		}
		for i, x := range c {
			a.Set(i, k, x/length[k])
		}
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return nil, errors.New("the singular value decomposition does not converge")
	}
	s := svd.Values(nil)
	if s[p-1] <= 1e-13*s[0] {
		return nil, errSingular
	}
	var u, v mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)

	ls := &leastSquares{cond: s[0] / s[p-1], x: make([]float64, p), leverage: make([]float64, n)}
	inverse := make([]float64, p*p)
	for j := range p {
		uj := mat.Col(nil, j, &u)
		along := floats.Dot(uj, y) / s[j]
		for i, x := range uj {
			ls.leverage[i] += x * x
		}
		for k := range p {
			ls.x[k] += v.At(k, j) * along / length[k]
			for l := range p {
				inverse[k*p+l] += v.At(k, j) * v.At(l, j) / (s[j] * s[j] * length[k] * length[l])
			}
		}
	}
	ls.inverse = mat.NewSymDense(p, inverse)
	return ls, nil
}

// A solution is the model at its best values of the free terms.
type solution struct {
	*leastSquares        // at v; x is the last step, not the coefficients
	free          []term // in the order of the columns
	v             values
	residual      []float64 // weighted, measured − fitted
	sse, floor    float64   // sum of squares, and the least σ that rounding allows
}

// solve minimises the weighted sum of squares over the free terms by
// Gauss-Newton with halved steps. η0b·b0, η0b·gain and Kd(b0) are all that is
// not linear, so a handful of steps does.
func (m *model) solve(free []term, v values) (*solution, error) {
	e := m.residuals(&v)
	sse := floats.Dot(e, e)
	heat := make([]float64, len(m.rows))
	for i, r := range m.rows {
		heat[i] = r.weight * r.heat
	}
	size := floats.Norm(heat, 2)
	for range 100 {
		columns := make([][]float64, len(free))
		for k, t := range free {
			columns[k] = m.column(t, &v)
		}
		ls, err := linear(columns, e)
		if err != nil {
			return nil, err
		}
		var move float64 // how far the step moves the fitted heat, at most
		for k := range free {
			move += math.Abs(ls.x[k]) * floats.Norm(columns[k], 2)
		}
		if move <= 1e-9*(size+math.Sqrt(sse)) {
			return &solution{leastSquares: ls, free: free, v: v, residual: e, sse: sse,
				floor: 1e-12 * size / math.Sqrt(float64(len(heat)))}, nil
		}
		for step := 1.0; ; step /= 2 {
			next := v
			for k, t := range free {
				next[t] += step * ls.x[k]
			}
			e2 := m.residuals(&next)
			if sse2 := floats.Dot(e2, e2); sse2 <= sse*(1+1e-12) {
				v, e, sse = next, e2, sse2
				break
			}
			if step < 1e-6 {
				return nil, fmt.Errorf("no step lowers the sum of squares from %.6g", sse)
			}
		}
	}
	return nil, errors.New("the least squares do not converge in 100 steps")
}

func (s *solution) freedom() int { return len(s.residual) - len(s.free) }

// sigma is the residual standard deviation: W/m² without weights, in units of
// the stated uncertainty with them. Rounding keeps it from 0 on exact data.
func (s *solution) sigma() float64 {
	return max(math.Sqrt(s.sse/float64(s.freedom())), s.floor)
}

func (s *solution) stdErr(k int) float64 { return s.sigma() * math.Sqrt(s.inverse.At(k, k)) }

// coefficient gives the k-th free term with its error and interval.
func (s *solution) coefficient(k int) Coefficient {
	t, se := s.free[k], s.stdErr(k)
	half := se * studentQuantile(1-significance/2, s.freedom())
	x := s.v[t]
	return Coefficient{Name: t.String(), Unit: t.unit(), Value: x, StdErr: se, Lower: x - half, Upper: x + half, TRatio: x / se}
}

// studentised returns each residual over its own standard error, the latter
// from a fit without that point. Source: Cook and Weisberg, Residuals and
// Influence in Regression, 1982, section 2.2.1 (from memory). A point that the
// fit must pass through has no residual to judge: 0.
func (s *solution) studentised() []float64 {
	t := make([]float64, len(s.residual))
	exact := s.sigma() <= 1e3*s.floor // what is left is rounding, with nothing to judge
	nu := float64(s.freedom() - 1)
	for i, e := range s.residual {
		open := 1 - s.leverage[i]
		if exact || open < 1e-9 {
			continue
		}
		rest := max(s.sse-e*e/open, 1e-12*s.sse) // sum of squares without the point
		t[i] = e / math.Sqrt(open*rest/nu)
	}
	return t
}

// outlierLimit is the studentised residual that a sound set of n points
// exceeds anywhere with 5 % probability at most (Bonferroni).
func (s *solution) outlierLimit() float64 {
	return studentQuantile(1-significance/(2*float64(len(s.residual))), s.freedom()-1)
}

func studentQuantile(p float64, freedom int) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(freedom)}.Quantile(p)
}
