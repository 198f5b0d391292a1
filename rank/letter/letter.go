// Package letter writes text on the canvases of pictures and sheets, in one
// typeface.
package letter

import (
	"image/color"
	"strings"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// A Pen is how text looks and on which side of its point it stands.
type Pen struct {
	Size vg.Length
	Bold bool
	Ink  color.Color
	X    text.XAlignment
	Y    text.YAlignment
}

func (p *Pen) font() font.Font {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: p.Size}
	if p.Bold {
		f.Weight = xfont.WeightBold
	}
	return f
}

// A Hand writes on a canvas.
type Hand struct {
	canvas vg.Canvas
	text   text.Plain
}

// New gives a hand and makes the canvas ready.
func New(c vg.Canvas) Hand {
	vg.Initialize(c)
	return Hand{c, text.Plain{Fonts: font.NewCache(liberation.Collection())}}
}

// Write puts one line of text at a point.
func (h *Hand) Write(p Pen, x, y vg.Length, line string) {
	h.text.Draw(h.canvas, line, text.Style{Color: p.Ink, Font: p.font(), XAlign: p.X, YAlign: p.Y, Handler: h.text}, vg.Point{X: x, Y: y})
}

// Wide is the width of a line of text.
func (h *Hand) Wide(p Pen, line string) vg.Length {
	w, _, _ := h.text.Box(line, p.font())
	return w
}

// Fold breaks text into lines of at most a width, at plain spaces.
func (h *Hand) Fold(p Pen, width vg.Length, words string) (lines []string) {
	line := ""
	for w := range strings.SplitSeq(words, " ") {
		longer := w
		if line != "" {
			longer = line + " " + w
		}
		if line != "" && h.Wide(p, longer) > width {
			lines = append(lines, line)
			longer = w
		}
		line = longer
	}
	return append(lines, line)
}
