package fit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// A Result is a fit with all that is needed to judge it. Values are in the
// units their names or Unit fields say.
type Result struct {
	File         string        `json:"file"`
	Points       int           `json:"points"`
	Freedom      int           `json:"degrees_of_freedom"`
	Weighted     bool          `json:"weighted"`                     // by uncertainty_w_m2
	Coefficients []Coefficient `json:"coefficients"`                 // fitted, in the order of the study file
	Correlation  [][]float64   `json:"correlation"`                  // of the coefficients, same order
	Held         []Held        `json:"held,omitempty"`               // given, not fitted
	Dropped      []Dropped     `json:"dropped,omitempty"`            // left out; they count as 0 (the gain as 1)
	Kd           float64       `json:"kd"`                           // diffuse modifier that goes with b0
	RMS          float64       `json:"rms_w_m2"`                     // root mean square of the residuals
	StdDev       float64       `json:"residual_std_w_m2"`            // the same over the degrees of freedom
	ReducedChi2  float64       `json:"reduced_chi_square,omitempty"` // weighted fits only: scatter over stated uncertainty, squared
	Condition    float64       `json:"condition_number"`             // columns scaled to the same length
	OutlierLimit float64       `json:"outlier_limit"`                // of the studentised residual
	Residuals    []Residual    `json:"residuals"`
	Tested       []Range       `json:"tested"`              // conditions the coefficients rest on
	LossTest     *LossTest     `json:"loss_test,omitempty"` // two sets only
	Notes        []string      `json:"notes,omitempty"`
}

// A Coefficient with its standard error and 95 % interval (Student's t).
type Coefficient struct {
	Name   string  `json:"name"`
	Unit   string  `json:"unit"`
	Value  float64 `json:"value"`
	StdErr float64 `json:"std_error"`
	Lower  float64 `json:"lower_95"`
	Upper  float64 `json:"upper_95"`
	TRatio float64 `json:"t_ratio"`
}

// Held is a coefficient that was given.
type Held struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
}

// Dropped is a coefficient that the points could not bear, and why.
type Dropped struct {
	Name   string `json:"name"`
	Reason string `json:"reason"`
}

// A Residual is one point against the fit.
type Residual struct {
	Line        int     `json:"line"`
	Time        string  `json:"time,omitempty"`
	Set         string  `json:"set,omitempty"`
	DeltaT      float64 `json:"delta_t_k"`
	Measured    float64 `json:"measured_w_m2"`
	Fitted      float64 `json:"fitted_w_m2"`
	Residual    float64 `json:"residual_w_m2"` // measured − fitted
	Studentised float64 `json:"studentised"`   // against a fit without the point
	Outlier     bool    `json:"outlier,omitempty"`
}

// A Range is what one condition spanned over the test.
type Range struct {
	Name string  `json:"name"`
	Unit string  `json:"unit"`
	Min  float64 `json:"min"`
	Max  float64 `json:"max"`
}

// LossTest asks whether the mirror set lost heat otherwise than the plain one
// (common practice, no source: it does not), by the F-test of nested models.
type LossTest struct {
	F           float64       `json:"f"`
	Terms       int           `json:"degrees_of_freedom_terms"`
	Freedom     int           `json:"degrees_of_freedom"`
	P           float64       `json:"p"`
	Differ      bool          `json:"differ"` // p under 0.05
	Differences []Coefficient `json:"differences"`
}

// Coefficient returns the fitted coefficient of that name.
func (r *Result) Coefficient(name string) (Coefficient, bool) {
	for _, c := range r.Coefficients {
		if c.Name == name {
			return c, true
		}
	}
	return Coefficient{}, false
}

// Outliers returns the residuals beyond the limit, in file order.
func (r *Result) Outliers() []Residual {
	var out []Residual
	for _, e := range r.Residuals {
		if e.Outlier {
			out = append(out, e)
		}
	}
	return out
}

func (r *Result) fill(m *model, s *solution) {
	r.Freedom = s.freedom()
	r.Condition = s.cond
	r.Kd, _ = m.kd(s.v[b0])
	for k := range s.free {
		r.Coefficients = append(r.Coefficients, s.coefficient(k))
		row := make([]float64, len(s.free))
		for l := range row {
			row[l] = s.inverse.At(k, l) / math.Sqrt(s.inverse.At(k, k)*s.inverse.At(l, l))
		}
		r.Correlation = append(r.Correlation, row)
	}

	r.OutlierLimit = s.outlierLimit()
	var sum float64
	for i, t := range s.studentised() {
		p, fitted := &m.points[i], m.heat(&s.v, &m.rows[i])
		e := Residual{Line: p.Line, Time: p.Time, Set: p.Set, DeltaT: p.DeltaT(), Measured: p.Heat(),
			Fitted: fitted, Residual: p.Heat() - fitted, Studentised: t, Outlier: math.Abs(t) > r.OutlierLimit}
		r.Residuals = append(r.Residuals, e)
		sum += e.Residual * e.Residual
	}
	r.RMS = math.Sqrt(sum / float64(r.Points))
	r.StdDev = math.Sqrt(sum / float64(r.Freedom))
	if m.weighted {
		r.ReducedChi2 = s.sigma() * s.sigma()
	}

	add := func(name, unit string, keep func(*row) bool, f func(*Point, *row) float64) {
		if lo, hi, ok := m.extent(keep, f); ok {
			r.Tested = append(r.Tested, Range{name, unit, lo, hi})
		}
	}
	add("beam", "W/m²", nil, func(p *Point, _ *row) float64 { return p.Beam })
	add("diffuse", "W/m²", nil, func(p *Point, _ *row) float64 { return p.Diffuse })
	add("incidence", "deg", sunny, func(p *Point, _ *row) float64 { return p.Incidence })
	add("water less air", "K", nil, func(_ *Point, r *row) float64 { return r.deltaT })
	add("wind", "m/s", nil, func(_ *Point, r *row) float64 { return r.wind })
	add("outlet", "°C", nil, func(p *Point, _ *row) float64 { return p.Outlet })
}

// notes says what a reader must know before using the numbers.
func (m *model) notes(s *solution, r *Result) []string {
	var notes []string
	note := func(format string, args ...any) { notes = append(notes, fmt.Sprintf(format, args...)) }
	if x := s.v[eta0b]; (x <= 0 || x > 1) && !(m.mirror && !m.plain) {
		note("eta0b = %.3g is not between 0 and 1: look for a wrong unit or area", x)
	}
	if c, ok := r.Coefficient(c1.String()); ok && c.TRatio < minTRatio {
		note("c1 = %.3g is only %.1f times its standard error: the loss is not known, measure with hotter water", c.Value, c.TRatio)
	}
	if m.mirror && !m.plain {
		note("every point has the mirror: eta0b contains its gain and must not go into a study that adds a mirror")
	}
	if s.v[b0] == 0 {
		note("without b0, Kb = 1 at any incidence: eta0b holds for the incidence tested, not for the whole day")
	} else if _, hi, ok := m.extent(sunny, func(_ *Point, r *row) float64 { return r.oblique }); ok && hi*s.v[b0] > 1 {
		note("Kb falls below 0 within the incidence tested: leave out the points nearest to grazing")
	}
	if !m.sky {
		note("no sky_infrared_w_m2: the loss to a clear sky is hidden in eta0b and c1, which then hold for skies like those of the test")
	}
	if m.weighted {
		nu := float64(r.Freedom)
		chi := distuv.ChiSquared{K: nu}
		if r.ReducedChi2*nu > chi.Quantile(1-significance/2) || r.ReducedChi2*nu < chi.Quantile(significance/2) {
			note("the scatter is %.2g times the stated uncertainty; the errors here follow the scatter", math.Sqrt(r.ReducedChi2))
		}
	}
	note("the errors are those of the scatter; calibration errors of flow, temperature and irradiance come on top")
	for i, h := range s.leverage {
		if h > 0.95 {
			note("line %d decides a coefficient nearly alone: repeat it", m.points[i].Line)
		}
	}
	if _, hot, _ := m.extent(nil, func(p *Point, _ *row) float64 { return p.Outlet }); hot >= 45 {
		note("the water reached %.0f °C: scald hazard at the rig from 45 °C; local codes and licensed practice decide what it needs", hot)
	}
	if m.mirror {
		note("the gain holds for the sun positions of the test; keep eyes and cameras out of the mirror's beam")
	}
	return notes
}
