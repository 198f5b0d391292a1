package fit

import (
	"image/color"
	"io"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// Ink of the pictures. The two data colours differ in lightness as well as in
// hue, so that they part on a grey print and for colour-blind eyes.
var (
	inkText  = color.NRGBA{0x2b, 0x2b, 0x2b, 0xff}
	inkGrid  = color.NRGBA{0xe4, 0xe4, 0xe0, 0xff}
	inkGuide = color.NRGBA{0x8a, 0x8a, 0x86, 0xff}
	inkFirst = color.NRGBA{0x1d, 0x3f, 0x5e, 0xff}
	inkOther = color.NRGBA{0xd0, 0x7c, 0x2a, 0xff}
	inkBar   = color.NRGBA{0xe6, 0xbd, 0x8e, 0xff}
	inkAlarm = color.NRGBA{0xa8, 0x1c, 0x32, 0xff}
)

const dotsPerInch = 160

func sans(size vg.Length) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
}

// newPanel returns an empty plot in our dress. gonum's default font is a
// package variable; setting each style leaves it alone.
func newPanel(title, x, y string) *plot.Plot {
	p := plot.New()
	p.Title.Text, p.X.Label.Text, p.Y.Label.Text = title, x, y
	p.Title.Padding = 8
	for s, size := range map[*text.Style]vg.Length{
		&p.Title.TextStyle: 11, &p.X.Label.TextStyle: 10, &p.Y.Label.TextStyle: 10,
		&p.X.Tick.Label: 9, &p.Y.Tick.Label: 9, &p.Legend.TextStyle: 9,
	} {
		s.Font, s.Color = sans(size), inkText
	}
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Color, a.Tick.Color = inkGuide, inkGuide
		a.Label.Padding = 4
		a.Padding = 0
		a.Tick.Marker = roundTicks{}
	}
	p.Legend.Padding = 4
	p.Legend.ThumbnailWidth = 18
	grid := plotter.NewGrid()
	grid.Vertical.Color, grid.Horizontal.Color = inkGrid, inkGrid
	p.Add(grid)
	return p
}

// guide draws a straight helping line.
func guide(p *plot.Plot, x1, y1, x2, y2 float64, dashed bool) error {
	l, err := plotter.NewLine(plotter.XYs{{X: x1, Y: y1}, {X: x2, Y: y2}})
	if err != nil {
		return err
	}
	l.Color, l.Width = inkGuide, 1
	if dashed {
		l.Dashes = []vg.Length{4, 3}
	}
	p.Add(l)
	return nil
}

// roundTicks labels an axis at about six round numbers.
type roundTicks struct{}

func (roundTicks) Ticks(lo, hi float64) []plot.Tick {
	rough := (hi - lo) / 6
	unit := math.Pow(10, math.Floor(math.Log10(rough)))
	step := unit
	for _, f := range []float64{2, 5, 10} {
		if rough > 1.4*step {
			step = f * unit
		}
	}
	places := max(0, -int(math.Floor(math.Log10(step)+1e-9)))
	var ticks []plot.Tick
	for k := math.Ceil(lo / step); k*step <= hi; k++ {
		label := strconv.FormatFloat(math.Abs(k*step), 'f', places, 64)
		if k < 0 {
			label = "−" + label
		}
		ticks = append(ticks, plot.Tick{Value: k * step, Label: label})
	}
	return ticks
}

// widen returns the range lo to hi with a margin of its own share on each side,
// never empty.
func widen(lo, hi, share float64) (float64, float64) {
	m := share * (hi - lo)
	if m == 0 {
		m = max(1, math.Abs(hi)*share)
	}
	return lo - m, hi + m
}

// writePNG draws the panels side by side on a sheet of the given size.
func writePNG(w io.Writer, width, height vg.Length, panels ...*plot.Plot) error {
	sheet := vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(dotsPerInch))
	tiles := draw.Tiles{Rows: 1, Cols: len(panels), PadX: 18, PadTop: 10, PadBottom: 8, PadLeft: 8, PadRight: 16}
	for k, c := range plot.Align([][]*plot.Plot{panels}, tiles, draw.New(sheet))[0] {
		panels[k].Draw(c)
	}
	_, err := vgimg.PngCanvas{Canvas: sheet}.WriteTo(w)
	return err
}
