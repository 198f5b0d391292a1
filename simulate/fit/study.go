package fit

import (
	"fmt"
	"math"
	"strings"
)

// StudyBlock returns the [receiver] table of a study file with the fitted
// coefficients, each with its standard error as a comment. What was left out
// is written as 0, so that no default takes its place.
func (r *Result) StudyBlock() string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Receiver fitted to %d outdoor test points of %s (%d degrees of freedom,\n", r.Points, r.File, r.Freedom)
	fmt.Fprintf(&b, "# residual standard deviation %.1f W/m²). After each value: its standard error.\n", r.StdDev)
	for _, q := range r.Tested {
		if q.Name == "water less air" {
			fmt.Fprintf(&b, "# Tested with water %.4g to %.4g K above the air; beyond that it is an extrapolation.\n", q.Min, q.Max)
		}
	}
	if g, ok := r.Coefficient(gain.String()); ok {
		p := decimals(g.StdErr)
		fmt.Fprintf(&b, "# The mirror of the test multiplied the absorbed beam by %s ± %s; that is no property\n", fixed(g.Value, p), fixed(g.StdErr, p))
		fmt.Fprintf(&b, "# of the receiver and is not in here.\n")
	}
	b.WriteString("[receiver]\n")
	r.studyLine(&b, "eta0b", "eta0b = %s")
	r.studyLine(&b, "b0", "iam = {b0 = %s}")
	for _, h := range r.Held {
		if h.Name == "kd" {
			r.studyLine(&b, "kd", "kd = %s")
		}
	}
	for _, t := range []term{c1, c2, c3, c4} {
		r.studyLine(&b, t.String(), t.String()+" = %s")
	}
	b.WriteString("# c3 goes with the wind at the receiver: wind_factor must bring the 10 m wind down to it.\n")
	return b.String()
}

// studyLine writes one key with where its value comes from.
func (r *Result) studyLine(b *strings.Builder, name, format string) {
	value, comment := "0.0", "not measured"
	if c, ok := r.Coefficient(name); ok {
		// One digit more than the report: the rounding stays below 1 % of the error.
		p := max(1, min(8, decimals(c.StdErr)+1))
		value, comment = fixed(c.Value, p), "± "+fixed(c.StdErr, p-1)
		if c.Unit != "1" {
			comment += " " + c.Unit
		}
	}
	for _, h := range r.Held {
		if h.Name == name {
			value, comment = heldText(h.Value), "held, not fitted"
		}
	}
	for _, d := range r.Dropped {
		if d.Name == name {
			comment = "left out: " + d.Reason
		}
	}
	fmt.Fprintf(b, "%-22s # %s\n", fmt.Sprintf(format, value), comment)
}

// heldText writes x in full, as a TOML float.
func heldText(x float64) string {
	if x == math.Trunc(x) {
		return fixed(x, 1)
	}
	return fixed(x, -1)
}
