package fit

import (
	"fmt"
	"io"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
)

// A Day sets measured heat against what a model gives for the same hours.
type Day struct {
	Title    string
	Hours    []string  // label of each hour, such as its start
	Measured []float64 // mean over the hour, W per m² of receiver; NaN where not measured
	Modelled []float64 // likewise; never NaN
}

// Sums returns the heat measured and modelled in the hours that were measured,
// kWh/m².
func (d *Day) Sums() (measured, modelled float64) {
	for i, q := range d.Measured {
		if !math.IsNaN(q) {
			measured += q / 1000
			modelled += d.Modelled[i] / 1000
		}
	}
	return measured, modelled
}

// validate names the first thing that keeps the day from being drawn.
func (d *Day) validate() error {
	if len(d.Hours) == 0 || len(d.Measured) != len(d.Hours) || len(d.Modelled) != len(d.Hours) {
		return fmt.Errorf("day %q: %d labels, %d measured and %d modelled hours, want the same number and at least one",
			d.Title, len(d.Hours), len(d.Measured), len(d.Modelled))
	}
	for i := range d.Hours {
		if math.IsInf(d.Measured[i], 0) || math.IsNaN(d.Modelled[i]) || math.IsInf(d.Modelled[i], 0) {
			return fmt.Errorf("day %q: hour %s: measured %g, modelled %g, want finite numbers", d.Title, d.Hours[i], d.Measured[i], d.Modelled[i])
		}
	}
	return nil
}

// PlotDay draws the day as a PNG of about 1260 by 760 pixels: measured heat as
// bars, modelled heat as a stepped line.
func PlotDay(w io.Writer, d Day) error {
	if err := d.validate(); err != nil {
		return err
	}
	p := newPanel(d.Title, "Hour", "Heat, W per m² of receiver")
	n := float64(len(d.Hours))
	p.X.Min, p.X.Max = 0, n
	p.X.Tick.Marker = hourTicks(d.Hours)

	var line plotter.XYs
	lo, hi := 0.0, 0.0
	var bar *plotter.Polygon
	for i := range d.Hours {
		x, q := float64(i), d.Modelled[i]
		line = append(line, plotter.XY{X: x, Y: q}, plotter.XY{X: x + 1, Y: q})
		lo, hi = min(lo, q), max(hi, q)
		m := d.Measured[i]
		if math.IsNaN(m) {
			continue
		}
		lo, hi = min(lo, m), max(hi, m)
		b, err := plotter.NewPolygon(plotter.XYs{{X: x + .06, Y: 0}, {X: x + .06, Y: m}, {X: x + .94, Y: m}, {X: x + .94, Y: 0}})
		if err != nil {
			return err
		}
		b.Color, b.LineStyle.Width = inkBar, 0
		p.Add(b)
		bar = b
	}
	if err := guide(p, 0, 0, n, 0, false); err != nil {
		return err
	}
	l, err := plotter.NewLine(line)
	if err != nil {
		return err
	}
	l.Color, l.Width = inkFirst, 1.6
	p.Add(l)

	measured, modelled := d.Sums()
	p.Legend.Top, p.Legend.Left = true, true
	p.Legend.XOffs, p.Legend.YOffs = 8, -6
	if bar != nil {
		p.Legend.Add(fmt.Sprintf("measured, %.2f kWh/m² in all", measured), bar)
		name := fmt.Sprintf("modelled, %.2f kWh/m² in the same hours", modelled)
		if measured > 0 {
			name += strings.Replace(fmt.Sprintf(" (%+.1f %%)", 100*(modelled/measured-1)), "-", "−", 1)
		}
		p.Legend.Add(name, l)
	} else {
		p.Legend.Add("modelled", l)
	}
	if hi == lo {
		hi = 1
	}
	p.Y.Min, p.Y.Max = lo-0.03*(hi-lo), hi+0.25*(hi-lo) // the legend's room on top
	if lo == 0 {
		p.Y.Min = 0
	}
	return writePNG(w, 20*vg.Centimeter, 12*vg.Centimeter, p)
}

// hourTicks labels the start of hours, thinned so that labels do not collide.
type hourTicks []string

func (h hourTicks) Ticks(_, _ float64) []plot.Tick {
	const room = 100 // characters along the axis
	longest := 0
	for _, s := range h {
		longest = max(longest, len(strings.TrimSpace(s)))
	}
	every := 1 + len(h)*(longest+2)/room
	var ticks []plot.Tick
	for i, s := range h {
		t := plot.Tick{Value: float64(i)}
		if i%every == 0 {
			t.Label = strings.TrimSpace(s)
			if t.Label == "" {
				t.Label = " " // an empty label would make it a minor tick
			}
		}
		ticks = append(ticks, t)
	}
	return ticks
}
