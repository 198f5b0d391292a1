package sheet

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
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
	c vg.Canvas
	letter.Hand
}

func newHand(c vg.Canvas) *hand {
	return &hand{c, letter.New(c)}
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

// write puts one line of text at a point, in the common ink where the pen has
// none.
func (h *hand) write(p letter.Pen, x, y vg.Length, line string) {
	if p.Ink == nil {
		p.Ink = inkText
	}
	h.Write(p, x, y, line)
}

// short cuts a line to a width.
func (h *hand) short(p letter.Pen, width vg.Length, line string) string {
	if h.Wide(p, line) <= width {
		return line
	}
	r := []rune(line)
	for len(r) > 0 && h.Wide(p, string(r)+"…") > width {
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
