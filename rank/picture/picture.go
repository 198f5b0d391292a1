// Package picture draws a survey for print and screen: a map for each use and
// outlet temperature, and how the best tilt and the cost change with latitude.
// The same survey gives the same bytes.
package picture

import (
	"bytes"
	"image/color"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"github.com/paulmach/orb"

	"stillrow/rank/letter"
)

// Options say what stands around a picture.
type Options struct {
	Title   string     // of the study
	Source  string     // one line: where the weather comes from
	Outline []orb.Ring // coasts and borders to draw, degrees of longitude and latitude
	Within  []orb.Ring // the border of the area asked for; may be nil
}

// caution stands on every picture.
const caution = "Screening estimate from typical years: no design, permit or guarantee. Local codes and licensed practice decide."

const dotsPerInch = 144

// Ink of what is no data.
var (
	inkText  = color.NRGBA{0x26, 0x26, 0x26, 0xff}
	inkQuiet = color.NRGBA{0x5c, 0x5c, 0x5c, 0xff}
	inkLine  = color.NRGBA{0xb5, 0xb9, 0xbd, 0xff}
	inkCoast = color.NRGBA{0x4a, 0x4a, 0x4a, 0xff}
	inkHalo  = color.NRGBA{0xff, 0xff, 0xff, 0x90}
	inkArea  = color.NRGBA{0x9b, 0x1d, 0x6a, 0xff}
	inkSea   = color.NRGBA{0xee, 0xf1, 0xf2, 0xff}
	inkLand  = color.NRGBA{0xfb, 0xfb, 0xf9, 0xff}
	inkPaper = color.NRGBA{0xff, 0xff, 0xff, 0xff}
	inkTilt  = color.NRGBA{0xa9, 0xae, 0xb3, 0xff}

	// Of bands; as the shades of maps, below and above gas parity.
	inkCheap    = color.NRGBA{0x1a, 0x45, 0x88, 0xff}
	inkCheapBar = color.NRGBA{0x52, 0x8f, 0xca, 0xff}
	inkDear     = color.NRGBA{0xa8, 0x66, 0x00, 0xff}
	inkDearBar  = color.NRGBA{0xe8, 0xa3, 0x2c, 0xff}
)

// A Drawing is a picture that can be written in several forms.
type Drawing struct {
	width, height vg.Length
	draw          func(*sheet)
}

// WritePNG writes it as pixels, at twice the density of a common screen.
func (d *Drawing) WritePNG(w io.Writer) error {
	c := vgimg.NewWith(vgimg.UseWH(d.width, d.height), vgimg.UseDPI(dotsPerInch), vgimg.UseBackgroundColor(inkPaper))
	d.draw(newSheet(c))
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

// WriteSVG writes it as lines and text.
func (d *Drawing) WriteSVG(w io.Writer) error {
	c := vgsvg.New(d.width, d.height)
	s := newSheet(c)
	s.color(inkPaper)
	s.fill(rectangle(0, 0, d.width, d.height))
	d.draw(s)
	var buf bytes.Buffer
	if _, err := c.WriteTo(&buf); err != nil {
		return err
	}
	_, err := w.Write(buf.Bytes())
	return err
}

// A sheet is a canvas with our hand.
type sheet struct {
	c vg.Canvas
	letter.Hand
}

func newSheet(c vg.Canvas) *sheet {
	return &sheet{c, letter.New(c)}
}

func (s *sheet) color(c color.Color) { s.c.SetColor(c) }
func (s *sheet) fill(p vg.Path)      { s.c.Fill(p) }

func (s *sheet) stroke(p vg.Path, width vg.Length, c color.Color, dashes ...vg.Length) {
	s.c.SetColor(c)
	s.c.SetLineWidth(width)
	s.c.SetLineDash(dashes, 0)
	s.c.Stroke(p)
	s.c.SetLineDash(nil, 0)
}

func (s *sheet) line(x1, y1, x2, y2, width vg.Length, c color.Color, dashes ...vg.Length) {
	var p vg.Path
	p.Move(vg.Point{X: x1, Y: y1})
	p.Line(vg.Point{X: x2, Y: y2})
	s.stroke(p, width, c, dashes...)
}

func rectangle(x1, y1, x2, y2 vg.Length) vg.Path {
	var p vg.Path
	addRectangle(&p, x1, y1, x2, y2)
	return p
}

func addRectangle(p *vg.Path, x1, y1, x2, y2 vg.Length) {
	p.Move(vg.Point{X: x1, Y: y1})
	p.Line(vg.Point{X: x2, Y: y1})
	p.Line(vg.Point{X: x2, Y: y2})
	p.Line(vg.Point{X: x1, Y: y2})
	p.Close()
}

func disc(x, y, r vg.Length) vg.Path {
	var p vg.Path
	p.Move(vg.Point{X: x + r, Y: y})
	p.Arc(vg.Point{X: x, Y: y}, r, 0, 6.283185307179586)
	p.Close()
	return p
}
