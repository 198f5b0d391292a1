// Package fit finds the coefficients of a receiver from outdoor test points:
// each point is one steady state, its heat measured in the water.
//
// The equation is the steady part of the quasi-dynamic collector test, per m²
// of receiver (ISO 9806:2013; the 2017 edition subtracts 3 m/s from the wind,
// this one does not):
//
//	q = η0b·Kb(θ)·Gb + η0b·Kd·Gd − c1·ΔT − c2·ΔT² − c3·u·ΔT − c4·(σ·Ta⁴ − EL)
//
//	q        heat gained by the water                   W/m²
//	Gb, Gd   beam and diffuse on the receiver plane     W/m²
//	θ        incidence of the beam on that plane        degrees
//	ΔT       Tm − Ta, Tm the mean of inlet and outlet   K
//	u        wind at the receiver                       m/s
//	EL       long-wave irradiance from the sky          W/m²
//
// with Kb = 1 − b0·(1/cosθ − 1) and Kd = 2∫Kb·cosθ·sinθ dθ of that same Kb, so
// that diffuse adds no coefficient of its own. Points of the mirror set count
// Gb as it would be without the mirror; their beam term carries one more
// factor, the gain of the mirror on absorbed beam.
//
// The package needs no state and no files: Read takes a reader, Fit takes
// points, and a Result writes itself as text, as JSON, as the receiver block
// of a study file, and as a picture.
package fit

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// minTRatio is the least ratio of a coefficient to its standard error at
	// which it is kept. Source: ISO 9806:2013, evaluation of the quasi-dynamic
	// test (from memory).
	minTRatio = 3

	// minOwnShare is the least part of a coefficient's column, after the others
	// have been projected out of it, over the whole column. One below it would
	// have the condition number of the scaled problem above 1000, a reading
	// error of a thousandth then being as large as the signal; dependences are
	// called severe from 100 on (Belsley, Kuh and Welsch 1980, chapter 3, from
	// memory), which the t-ratio still judges soundly.
	minOwnShare = 1e-3

	// minFreedom is the least number of points left over.
	minFreedom = 3

	// minIAMSpread is the least spread of 1/cosθ − 1 from which b0 is taken:
	// normal incidence to 25°. Below it b0 would rest on the diffuse alone.
	minIAMSpread = 0.1

	// minDeltaT, K, is how far the water must have been from the air at some
	// point for a loss to be taken from it: ten times what a pair of good
	// thermometers errs by (common practice, no source).
	minDeltaT = 2

	significance = 0.05
)

// Options of a fit; the zero value fits all that the points can bear.
type Options struct {
	// Hold keeps coefficients at values known from elsewhere, b0 from a film
	// stack for instance: b0, kd, c1, c2, c3 or c4, in the units of the study
	// file.
	Hold map[string]float64
}

// holdable lists what Options.Hold takes and up to where; all start at 0.
var holdable = []struct {
	name string
	term term
	max  float64
}{{"b0", b0, 1}, {"kd", noTerm, 1}, {"c1", c1, 100}, {"c2", c2, 10}, {"c3", c3, 50}, {"c4", c4, 2}}

// Fit finds the coefficients by weighted least squares. The weights are
// 1/uncertainty² where the points carry one, and only their ratios count: the
// scale of every error comes from the scatter itself.
//
// A coefficient that the points cannot bear is left out, in this order of
// reasons: too few points, a column that follows from the others, a ratio to
// its standard error below 3. It then counts as 0, and Result.Dropped says
// why. Without eta0b and c1 there is no receiver: that is an error.
func Fit(points []Point, o Options) (*Result, error) {
	if len(points) == 0 {
		return nil, fmt.Errorf("fit: no test points")
	}
	file := points[0].File
	m, err := newModel(points)
	if err != nil {
		return nil, err
	}
	start := values{eta0b: 0.7, b0: 0.1, gain: 1}
	held, err := m.hold(o.Hold, &start)
	if err != nil {
		return nil, err
	}
	res := &Result{File: file, Points: len(points), Weighted: m.weighted, Held: held}

	free, err := m.choose(&start, held, res)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	for {
		s, err := m.solve(free, start)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		weak, t := s.weakest()
		if weak == noTerm {
			res.fill(m, s)
			res.LossTest, err = m.lossTest(s)
			if err != nil {
				return nil, fmt.Errorf("%s: test of the loss terms: %w", file, err)
			}
			res.Notes = m.notes(s, res)
			return res, nil
		}
		k := slices.Index(free, weak)
		reason := fmt.Sprintf("its value %.2g is only %.1f times its standard error, under %d", s.v[weak], t, minTRatio)
		if s.v[weak] < 0 {
			reason = fmt.Sprintf("its best value %.2g ± %.2g is below 0, which no receiver has", s.v[weak], s.stdErr(k))
		}
		res.Dropped = append(res.Dropped, Dropped{Name: weak.String(), Reason: reason})
		free = slices.Delete(free, k, k+1)
		start[weak] = 0
	}
}

// hold takes over the given values and returns them in the order of the study
// file.
func (m *model) hold(given map[string]float64, v *values) ([]Held, error) {
	var held []Held
	for _, h := range holdable {
		x, ok := given[h.name]
		if !ok {
			continue
		}
		if !(x >= 0 && x <= h.max) || h.name == "kd" && x == 0 {
			return nil, fmt.Errorf("fit: held %s = %g, want 0 to %g", h.name, x, h.max)
		}
		if h.term == noTerm {
			m.heldKd = x
		} else {
			v[h.term] = x
		}
		held = append(held, Held{Name: h.name, Value: x})
	}
	if len(held) < len(given) {
		return nil, fmt.Errorf("fit: only b0, kd, c1, c2, c3 and c4 can be held")
	}
	return held, nil
}

// choose returns the terms to fit: those that the number of points and their
// spread allow, the indispensable first. What it refuses goes to res.Dropped
// and to 0 in v.
func (m *model) choose(v *values, held []Held, res *Result) ([]term, error) {
	var free, refused []term
	var basis [][]float64
	for _, t := range []term{eta0b, c1, gain, b0, c2, c3, c4} {
		if slices.ContainsFunc(held, func(h Held) bool { return h.Name == t.String() }) ||
			t == c4 && !m.sky || t == gain && !(m.plain && m.mirror) {
			continue
		}
		var reason string
		if len(free)+minFreedom >= len(m.rows) {
			reason = fmt.Sprintf("%d points carry %d coefficients at most", len(m.rows), max(0, len(m.rows)-minFreedom))
		} else if span := m.iamSpread(); t == b0 && span < minIAMSpread {
			reason = fmt.Sprintf("the beam came from %s only; it takes incidences from near 0 to over 25 deg", m.span(b0))
		} else if t == c1 && !m.exceeds(minDeltaT) {
			reason = fmt.Sprintf("the water was never more than %d K from the air; measure with hotter water too", minDeltaT)
		} else if own, share := ownPart(m.column(t, v), basis); share < minOwnShare {
			reason = fmt.Sprintf("%.2g %% of its effect is its own, the rest follows from the coefficients before it (data: %s)", 100*share, m.span(t))
		} else {
			free = append(free, t)
			basis = append(basis, own)
			continue
		}
		if t == eta0b || t == c1 {
			return nil, fmt.Errorf("%s cannot be fitted: %s", t, reason)
		}
		refused = append(refused, t)
		res.Dropped = append(res.Dropped, Dropped{Name: t.String(), Reason: reason})
	}
	// Only now: the columns above must be seen at the values of the start, or
	// eta0b would not know that Kb exists.
	for _, t := range refused {
		v[t] = 0
		if t == gain {
			v[t] = 1
		}
	}
	slices.Sort(free)
	return free, nil
}

// ownPart takes out of column what the orthonormal basis holds already and
// returns the rest, of length 1, with its share of the whole length.
func ownPart(column []float64, basis [][]float64) ([]float64, float64) {
	whole := floats.Norm(column, 2)
	if whole == 0 {
		return column, 0
	}
	own := slices.Clone(column)
	for range 2 { // the second pass removes the rounding of the first
		for _, b := range basis {
			floats.AddScaled(own, -floats.Dot(own, b), b)
		}
	}
	rest := floats.Norm(own, 2)
	if rest > 0 {
		floats.Scale(1/rest, own)
	}
	return own, rest / whole
}

// weakest returns the term with the lowest ratio to its standard error among
// those that may be left out and fall short, or noTerm. None of them is
// negative in nature, so the sign counts.
func (s *solution) weakest() (term, float64) {
	weak, least := noTerm, float64(minTRatio)
	for k, t := range s.free {
		if t != b0 && t != c2 && t != c3 && t != c4 {
			continue
		}
		if ratio := s.v[t] / s.stdErr(k); ratio < least {
			weak, least = t, ratio
		}
	}
	return weak, least
}

// lossTest compares the joint fit with one that gives the mirror set its own
// loss terms, by the F-test of nested models. It is nil without two sets or
// where no term can be told apart.
func (m *model) lossTest(s *solution) (*LossTest, error) {
	if !m.plain || !m.mirror {
		return nil, nil
	}
	free := slices.Clone(s.free)
	var basis [][]float64
	for _, t := range free {
		own, _ := ownPart(m.column(t, &s.v), basis)
		basis = append(basis, own)
	}
	var extra []term
	for _, t := range s.free {
		d := t.difference()
		if d == noTerm || len(free)+minFreedom >= len(m.rows) {
			continue
		}
		if own, share := ownPart(m.column(d, &s.v), basis); share >= minOwnShare {
			free, extra = append(free, d), append(extra, d)
			basis = append(basis, own)
		}
	}
	if len(extra) == 0 {
		return nil, nil
	}
	wide, err := m.solve(free, s.v)
	if err != nil {
		return nil, err
	}
	df1, df2 := len(extra), wide.freedom()
	f := max(0, s.sse-wide.sse) / float64(df1) / math.Pow(wide.sigma(), 2)
	p := distuv.F{D1: float64(df1), D2: float64(df2)}.Survival(f)
	test := &LossTest{F: f, Terms: df1, Freedom: df2, P: p, Differ: p < significance}
	for k, t := range wide.free {
		if slices.Contains(extra, t) {
			test.Differences = append(test.Differences, wide.coefficient(k))
		}
	}
	return test, nil
}
