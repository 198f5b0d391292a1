package fit

import (
	"math"
	"strings"
	"testing"
)

// The points a fit was made from, replayed, leave the fit's own residuals.
func TestReplayOfTheFittedPoints(t *testing.T) {
	points, err := Read(strings.NewReader(Template()), "template")
	if err != nil {
		t.Fatal(err)
	}
	r, err := Fit(points, Options{})
	if err != nil {
		t.Fatal(err)
	}
	d, err := r.Replay("template", points)
	if err != nil {
		t.Fatal(err)
	}
	for i, res := range r.Residuals {
		if math.Abs(d.Measured[i]-d.Modelled[i]-res.Residual) > 1e-6 {
			t.Errorf("point %d: replay leaves %g, the fit %g W/m²", i, d.Measured[i]-d.Modelled[i], res.Residual)
		}
	}
	if _, err := r.Replay("nothing", nil); err == nil {
		t.Error("no points, no error")
	}
}
