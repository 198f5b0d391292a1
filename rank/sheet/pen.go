package sheet

import (
	"image/color"
	"math"
	"strings"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// Ink. The suns differ in dashes too, for grey print.
var (
	inkText    = color.NRGBA{0x22, 0x22, 0x22, 0xff}
	inkQuiet   = color.NRGBA{0x59, 0x59, 0x59, 0xff}
	inkLine    = color.NRGBA{0xb9, 0xb9, 0xb9, 0xff}
	inkPaper   = color.NRGBA{0xff, 0xff, 0xff, 0xff}
	inkGround  = color.NRGBA{0xe7, 0xdf, 0xd2, 0xff}
	inkFoam    = color.NRGBA{0xd8, 0xd3, 0xc6, 0xff}
	inkWater   = color.NRGBA{0x2f, 0x6f, 0x9f, 0xff}
	inkMirror  = color.NRGBA{0x3b, 0x3b, 0x3b, 0xff}
	inkWith    = color.NRGBA{0x1c, 0x4c, 0x8f, 0xff}
	inkWithout = color.NRGBA{0xb7, 0xc9, 0xdd, 0xff}
	// Of months that do not count for the use.
	inkIdle        = color.NRGBA{0x9a, 0x9a, 0x9a, 0xff}
	inkIdleWithout = color.NRGBA{0xdc, 0xdc, 0xdc, 0xff}
	inkSuns        = [3]color.NRGBA{{0xb0, 0x3a, 0x10, 0xff}, {0x2a, 0x74, 0x3a, 0xff}, {0x5a, 0x3b, 0x9c, 0xff}}
	dashSuns       = [3][]vg.Length{nil, {6, 2}, {1.5, 2}}
)

// A hand draws on a canvas.
type hand struct {
	c    vg.Canvas
	text text.Plain
}

func newHand(c vg.Canvas) *hand {
	vg.Initialize(c)
	return &hand{c, text.Plain{Fonts: font.NewCache(liberation.Collection())}}
}

func (h *hand) fill(ink color.Color, at ...vg.Point) {
	h.c.SetColor(ink)
	h.c.Fill(outline(at))
}

func outline(at []vg.Point) vg.Path {
	var p vg.Path
	for i, a := range at {
		if i == 0 {
			p.Move(a)
		} else {
			p.Line(a)
		}
	}
	p.Close()
	return p
}

// box fills a rectangle.
func (h *hand) box(ink color.Color, x1, y1, x2, y2 vg.Length) {
	h.fill(ink, vg.Point{X: x1, Y: y1}, vg.Point{X: x2, Y: y1}, vg.Point{X: x2, Y: y2}, vg.Point{X: x1, Y: y2})
}

func (h *hand) line(ink color.Color, width vg.Length, dashes []vg.Length, at ...vg.Point) {
	var p vg.Path
	for i, a := range at {
		if i == 0 {
			p.Move(a)
		} else {
			p.Line(a)
		}
	}
	h.c.SetColor(ink)
	h.c.SetLineWidth(width)
	h.c.SetLineDash(dashes, 0)
	h.c.Stroke(p)
	h.c.SetLineDash(nil, 0)
}

// tip draws an arrow head at b of a line from a.
func (h *hand) tip(ink color.Color, a, b vg.Point, size vg.Length) {
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	n := math.Hypot(dx, dy)
	if n == 0 {
		return
	}
	ux, uy := vg.Length(dx/n)*size, vg.Length(dy/n)*size
	h.fill(ink, b, vg.Point{X: b.X - ux - uy/3, Y: b.Y - uy + ux/3}, vg.Point{X: b.X - ux + uy/3, Y: b.Y - uy - ux/3})
}

// A pen is how text looks and on which side of its point it stands.
type pen struct {
	size vg.Length
	bold bool
	ink  color.Color
	x    text.XAlignment
	y    text.YAlignment
}

func (p pen) font() font.Font {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: p.size}
	if p.bold {
		f.Weight = xfont.WeightBold
	}
	return f
}

// write puts one line of text at a point.
func (h *hand) write(p pen, x, y vg.Length, line string) {
	if p.ink == nil {
		p.ink = inkText
	}
	h.text.Draw(h.c, line, text.Style{Color: p.ink, Font: p.font(), XAlign: p.x, YAlign: p.y, Handler: h.text}, vg.Point{X: x, Y: y})
}

// wide is the width of a line of text.
func (h *hand) wide(p pen, line string) vg.Length {
	w, _, _ := h.text.Box(line, p.font())
	return w
}

// fold breaks text into lines of at most a width, at plain spaces.
func (h *hand) fold(p pen, width vg.Length, words string) (lines []string) {
	line := ""
	for w := range strings.SplitSeq(words, " ") {
		longer := w
		if line != "" {
			longer = line + " " + w
		}
		if line != "" && h.wide(p, longer) > width {
			lines = append(lines, line)
			longer = w
		}
		line = longer
	}
	return append(lines, line)
}

// short cuts a line to a width.
func (h *hand) short(p pen, width vg.Length, line string) string {
	if h.wide(p, line) <= width {
		return line
	}
	r := []rune(line)
	for len(r) > 0 && h.wide(p, string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}

// round is the round step next to a rough one: 1, 2 or 5 times a power of ten.
func round(rough float64) float64 {
	if !(rough > 0) {
		return 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(rough)))
	for _, f := range []float64{1, 2, 5} {
		if f*ten >= rough*0.999999 {
			return f * ten
		}
	}
	return 10 * ten
}
