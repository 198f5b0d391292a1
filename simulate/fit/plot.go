package fit

import (
	"fmt"
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Plot draws the residuals against the temperature difference, and measured
// against fitted heat, as one PNG of about 1900 by 840 pixels. Outliers are
// ringed and bear their line numbers.
func (r *Result) Plot(w io.Writer) error {
	left := newPanel("Residuals (dashed: ± 2 standard deviations)", "Water less air, K", "Measured less fitted, W/m²")
	right := newPanel("Heat per m² of receiver", "Fitted, W/m²", "Measured, W/m²")

	loT, hiT := math.Inf(1), math.Inf(-1)
	loQ, hiQ, big := loT, hiT, 2.5*r.StdDev
	for _, e := range r.Residuals {
		loT, hiT = min(loT, e.DeltaT), max(hiT, e.DeltaT)
		loQ, hiQ = min(loQ, e.Measured, e.Fitted), max(hiQ, e.Measured, e.Fitted)
		big = max(big, math.Abs(e.Residual))
	}
	left.X.Min, left.X.Max = widen(loT, hiT, 0.06)
	left.Y.Min, left.Y.Max = widen(-big, big, 0.06)
	right.X.Min, right.X.Max = widen(loQ, hiQ, 0.06)
	right.Y.Min, right.Y.Max = right.X.Min, right.X.Max

	for _, y := range []float64{-2 * r.StdDev, 0, 2 * r.StdDev} {
		if err := guide(left, left.X.Min, y, left.X.Max, y, y != 0); err != nil {
			return err
		}
	}
	if err := guide(right, right.X.Min, right.X.Min, right.X.Max, right.X.Max, false); err != nil {
		return err
	}

	// The lower right corner below the diagonal is free whatever the data.
	right.Legend.Top, right.Legend.Left = false, false
	right.Legend.XOffs, right.Legend.YOffs = -8, 8
	for _, set := range []struct {
		label, name string
		ink         color.Color
		glyph       draw.GlyphDrawer
	}{
		{"", "test point", inkFirst, draw.CircleGlyph{}},
		{Plain, "plain", inkFirst, draw.CircleGlyph{}},
		{Mirror, "with mirror", inkOther, draw.PyramidGlyph{}},
	} {
		var a, b plotter.XYs
		for _, e := range r.Residuals {
			if e.Set == set.label {
				a = append(a, plotter.XY{X: e.DeltaT, Y: e.Residual})
				b = append(b, plotter.XY{X: e.Fitted, Y: e.Measured})
			}
		}
		if len(a) == 0 {
			continue
		}
		style := draw.GlyphStyle{Color: set.ink, Radius: 2.6, Shape: set.glyph}
		thumb, err := scatter(left, a, style)
		if err != nil {
			return err
		}
		if _, err := scatter(right, b, style); err != nil {
			return err
		}
		right.Legend.Add(set.name, thumb)
	}
	if err := r.ringOutliers(left, right); err != nil {
		return err
	}
	return writePNG(w, 30*vg.Centimeter, 13.3*vg.Centimeter, left, right)
}

func scatter(p *plot.Plot, xy plotter.XYs, style draw.GlyphStyle) (*plotter.Scatter, error) {
	s, err := plotter.NewScatter(xy)
	if err != nil {
		return nil, err
	}
	s.GlyphStyle = style
	p.Add(s)
	return s, nil
}

// ringOutliers marks the outliers in both panels and names their lines in the
// left one, on the side that has room.
func (r *Result) ringOutliers(left, right *plot.Plot) error {
	var a, b plotter.XYs
	var names []string
	for _, e := range r.Outliers() {
		a = append(a, plotter.XY{X: e.DeltaT, Y: e.Residual})
		b = append(b, plotter.XY{X: e.Fitted, Y: e.Measured})
		names = append(names, fmt.Sprintf("line %d", e.Line))
	}
	if len(a) == 0 {
		return nil
	}
	ring := draw.GlyphStyle{Color: inkAlarm, Radius: 6, Shape: draw.RingGlyph{}}
	thumb, err := scatter(left, a, ring)
	if err != nil {
		return err
	}
	if _, err := scatter(right, b, ring); err != nil {
		return err
	}
	labels, err := plotter.NewLabels(plotter.XYLabels{XYs: a, Labels: names})
	if err != nil {
		return err
	}
	for i, at := range a {
		labels.TextStyle[i] = text.Style{Color: inkAlarm, Font: sans(9), Handler: left.TextHandler, XAlign: draw.XLeft, YAlign: draw.YCenter}
		if at.X > (left.X.Min+left.X.Max)/2 {
			labels.TextStyle[i].XAlign = draw.XRight
			labels.Labels[i] += "    "
		} else {
			labels.Labels[i] = "    " + labels.Labels[i]
		}
	}
	left.Add(labels)
	right.Legend.Add("outlier", thumb)
	return nil
}
