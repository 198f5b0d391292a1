package fit

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
)

// decimals gives as many places as show a standard error to two digits.
func decimals(se float64) int {
	if !(se > 0) {
		return 6
	}
	return min(6, max(0, 1-int(math.Floor(math.Log10(se)))))
}

func fixed(x float64, places int) string { return strconv.FormatFloat(x, 'f', places, 64) }

// short writes a number as given, to four digits.
func short(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }

// coefficient adds the row of c: value, error, interval, t-ratio, unit.
func (t *table) coefficient(c Coefficient) {
	p := decimals(c.StdErr)
	unit := c.Unit
	if unit == "1" {
		unit = "-"
	}
	t.row(c.Name, fixed(c.Value, p), fixed(c.StdErr, p), fixed(c.Lower, p), fixed(c.Upper, p), strconv.FormatFloat(c.TRatio, 'g', 3, 64), unit)
}

var coefficientHead = []string{"", "value", "std error", "95 % from", "to", "t-ratio", "unit"}

const coefficientAlign = "lrrrrrl"

// WriteText writes the report for a person.
func (r *Result) WriteText(w io.Writer) error {
	var b bytes.Buffer
	weights := ""
	if r.Weighted {
		weights = ", weighted by uncertainty_w_m2"
	}
	fmt.Fprintf(&b, "%s: %d points%s, %d coefficients, %d degrees of freedom%s\n",
		r.File, r.Points, r.setCounts(), len(r.Coefficients), r.Freedom, weights)
	r.writeCoefficients(&b)
	r.writeCorrelation(&b)
	r.writeResiduals(&b)
	r.writeSets(&b)

	fmt.Fprintf(&b, "\nTested from ... to\n")
	t := table{align: "lrrl"}
	for _, q := range r.Tested {
		t.row(q.Name, short(q.Min), short(q.Max), q.Unit)
	}
	t.write(&b)
	if len(r.Notes) > 0 {
		fmt.Fprintf(&b, "\nMind\n")
	}
	for _, n := range r.Notes {
		fmt.Fprintf(&b, "  %s\n", n)
	}
	_, err := w.Write(b.Bytes())
	return err
}

func (r *Result) writeCoefficients(b *bytes.Buffer) {
	fmt.Fprintf(b, "\nCoefficients per m² of receiver, wind as measured (ISO 9806:2013)\n")
	t := table{align: coefficientAlign}
	t.row(coefficientHead...)
	kd := "from b0"
	for _, c := range r.Coefficients {
		t.coefficient(c)
	}
	for _, h := range r.Held {
		if h.Name == "kd" {
			kd = "held"
			continue
		}
		t.row(h.Name, short(h.Value), "held")
	}
	t.row("kd", fixed(r.Kd, 4), kd)
	t.write(b)
	for i, d := range r.Dropped {
		if i == 0 {
			fmt.Fprintf(b, "\nLeft out\n")
		}
		fmt.Fprintf(b, "  %s: %s\n", d.Name, d.Reason)
	}
}

func (r *Result) writeCorrelation(b *bytes.Buffer) {
	fmt.Fprintf(b, "\nCorrelation (condition number %.3g)\n", r.Condition)
	t := table{align: "l"}
	head := []string{""}
	for _, c := range r.Coefficients {
		head = append(head, c.Name)
	}
	t.row(head...)
	for i, c := range r.Coefficients {
		cells := []string{c.Name}
		for _, x := range r.Correlation[i][:i+1] {
			cells = append(cells, fixed(x, 2))
		}
		t.row(cells...)
	}
	t.write(b)
}

func (r *Result) writeResiduals(b *bytes.Buffer) {
	worst := r.Residuals[0]
	for _, e := range r.Residuals {
		if math.Abs(e.Residual) > math.Abs(worst.Residual) {
			worst = e
		}
	}
	fmt.Fprintf(b, "\nResiduals, measured less fitted: RMS %.2f W/m², standard deviation %.2f W/m², largest %+.1f W/m² (line %d)\n",
		r.RMS, r.StdDev, worst.Residual, worst.Line)
	if r.Weighted {
		fmt.Fprintf(b, "Scatter over stated uncertainty: %.2f (reduced chi-square %.2f)\n", math.Sqrt(r.ReducedChi2), r.ReducedChi2)
	}
	out := r.Outliers()
	if len(out) == 0 {
		fmt.Fprintf(b, "No outlier: no studentised residual beyond %.2f (Bonferroni limit, 5 %% over all points)\n", r.OutlierLimit)
		return
	}
	fmt.Fprintf(b, "Outliers, studentised residual beyond %.2f (Bonferroni limit, 5 %% over all points); they are in the fit:\n", r.OutlierLimit)
	t := table{align: "lrrrrl"}
	t.row("", "measured", "fitted", "residual", "studentised", "time")
	for _, e := range out {
		t.row(fmt.Sprintf("line %d", e.Line), fixed(e.Measured, 1), fixed(e.Fitted, 1),
			fmt.Sprintf("%+.1f", e.Residual), fmt.Sprintf("%+.1f", e.Studentised), e.Time)
	}
	t.write(b)
}

func (r *Result) writeSets(b *bytes.Buffer) {
	if g, ok := r.Coefficient(gain.String()); ok {
		p := decimals(g.StdErr)
		fmt.Fprintf(b, "\nMirror: absorbed beam %s ± %s times that without it\n", fixed(g.Value, p), fixed(g.StdErr, p))
	}
	l := r.LossTest
	if l == nil {
		return
	}
	fmt.Fprintf(b, "Loss of the two sets: F(%d, %d) = %.2f, p = %.2g: ", l.Terms, l.Freedom, l.F, l.P)
	if !l.Differ {
		fmt.Fprintf(b, "no difference seen, one set of loss terms serves both\n")
		return
	}
	fmt.Fprintf(b, "they differ, so the gain carries part of that; loss terms of the mirror set less those of the plain one:\n")
	t := table{align: coefficientAlign}
	t.row(coefficientHead...)
	for _, c := range l.Differences {
		t.coefficient(c)
	}
	t.write(b)
}

// setCounts says how many points each set has, if they are labelled.
func (r *Result) setCounts() string {
	n := map[string]int{}
	for _, e := range r.Residuals {
		n[e.Set]++
	}
	if n[""] == r.Points {
		return ""
	}
	return fmt.Sprintf(" (%d %s, %d %s)", n[Plain], Plain, n[Mirror], Mirror)
}
