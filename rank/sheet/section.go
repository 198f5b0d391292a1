package sheet

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
)

// Size of every drawing, points: half of an A4 page, and the width of a phone.
const (
	drawingWidth  = 266
	drawingHeight = 158
)

// A drawing is one panel of the page, with what it says to those who do not see
// it.
type drawing struct {
	title string
	says  string
	draw  func(*hand)
}

// drawings are the panels in their order.
func (s *Sheet) drawings() []drawing {
	light := "Noon sun"
	if s.mirrored() {
		light = "Noon sun and where the mirror's light lands"
	}
	return []drawing{
		{"Section, to scale", s.saysSection(), s.drawSection},
		{light, s.saysSuns(), s.drawSuns},
		{"Heat at the receiver by month, kWh per m² of it", s.saysMonths(), s.drawMonths},
		{"What the cost adds up from, " + s.Currency + "/kWh reaching the user", s.saysSplit(), s.drawSplit},
	}
}

func (s *Sheet) saysSection() string {
	d := &s.Design
	text := fmt.Sprintf("Section seen from the %s end of the row: receiver %s m wide on foam", s.from(), plain(d.ReceiverWidth))
	if s.mirrored() {
		text += fmt.Sprintf(", poleward of it, in the %s, a mirror %s m long at %s", s.poleward(), plain(d.MirrorLength), s.angle())
	}
	if d.RowPitch > 0 {
		text += fmt.Sprintf("; rows every %s m", plain(d.RowPitch))
	}
	return text + "."
}

// from is the end of the row from which the poleward side lies right.
func (s *Sheet) from() string {
	if s.Lat < 0 {
		return "west"
	}
	return "east"
}

// A scale puts metres of the section plane on the paper.
type scale struct {
	x, y vg.Length // of x = 0, z = 0
	per  vg.Length // of a metre
}

func (c scale) at(p point) vg.Point {
	return vg.Point{X: c.x + c.per*vg.Length(p.x), Y: c.y + c.per*vg.Length(p.z)}
}

// fit finds the scale that shows x from lo to hi and z up to top between margins
// of the paper.
func fit(lo, hi, top float64, left, bottom, right, above vg.Length) scale {
	per := min((drawingWidth-left-right)/vg.Length(hi-lo), (drawingHeight-bottom-above)/vg.Length(top))
	free := drawingWidth - left - right - per*vg.Length(hi-lo)
	return scale{left + free/2 - per*vg.Length(lo), bottom, per}
}

// extent is how far the heater reaches: x from lo to hi, z to top, m.
func (s *Sheet) extent() (lo, hi, top float64) {
	d := &s.Design
	lo, hi = 0, d.ReceiverWidth
	if s.mirrored() {
		a, b := s.mirrorAt(0), s.mirrorAt(d.MirrorLength)
		lo, hi, top = min(lo, b.x), max(hi, a.x, b.x), max(a.z, b.z)
	}
	return lo, hi, top
}

// heater draws receiver and mirror of the row that stands x metres poleward.
func (s *Sheet) heater(h *hand, c scale, x float64, faint bool) {
	d := &s.Design
	foam, water, mirror := inkFoam, inkWater, inkMirror
	width := vg.Length(1.6)
	if faint {
		foam, water, mirror, width = color.NRGBA{0xef, 0xec, 0xe6, 0xff}, color.NRGBA{0xa9, 0xc2, 0xd3, 0xff}, color.NRGBA{0xa0, 0xa0, 0xa0, 0xff}, 1
	}
	left, right := c.at(point{x, 0}), c.at(point{x + d.ReceiverWidth, 0})
	depth := max(2.5, c.per*vg.Length(s.Layers.FoamDepth))
	sheet := max(1.2, c.per*vg.Length(s.Layers.WaterDepth))
	h.box(foam, left.X, left.Y-sheet-depth, right.X, left.Y-sheet)
	h.box(water, left.X, left.Y-sheet, right.X, left.Y)
	if s.mirrored() {
		a, b := s.mirrorAt(0), s.mirrorAt(d.MirrorLength)
		h.line(mirror, width, nil, c.at(point{a.x + x, a.z}), c.at(point{b.x + x, b.z}))
		if d.Raise > 0 {
			h.line(mirror, 0.6, nil, c.at(point{a.x + x, 0}), c.at(point{a.x + x, a.z}))
		}
	}
}

// ground draws the earth under the section, and the sides' names.
func (s *Sheet) ground(h *hand, c scale) {
	h.box(inkGround, 0, c.y-16, drawingWidth, c.y)
	h.line(inkQuiet, 0.5, nil, vg.Point{X: 0, Y: c.y}, vg.Point{X: drawingWidth, Y: c.y})
	h.write(letter.Pen{Size: 7.5, Ink: inkQuiet, Y: -0.5}, 2, c.y-22, "← "+s.equatorward()+", equatorward")
	h.write(letter.Pen{Size: 7.5, Ink: inkQuiet, X: -1, Y: -0.5}, drawingWidth-2, c.y-22, "poleward, "+s.poleward()+" →")
}

// bar draws a scale bar that ends at x.
func (c scale) bar(h *hand, x, y vg.Length) {
	step := round(float64(48 / c.per / 2))
	long := c.per * vg.Length(step)
	h.line(inkText, 1, nil, vg.Point{X: x - long, Y: y + 3}, vg.Point{X: x - long, Y: y}, vg.Point{X: x, Y: y}, vg.Point{X: x, Y: y + 3})
	h.write(letter.Pen{Size: 7.5, X: -0.5}, x-long/2, y+2.5, plain(step)+" m")
}

// dimension draws a measured length between two points on one level.
func dimension(h *hand, x1, x2, y vg.Length, label string) {
	a, b := vg.Point{X: x1, Y: y}, vg.Point{X: x2, Y: y}
	h.line(inkText, 0.5, nil, a, b)
	for _, p := range []vg.Point{a, b} {
		h.line(inkText, 0.5, nil, vg.Point{X: p.X, Y: y - 3}, vg.Point{X: p.X, Y: y + 3})
	}
	p := letter.Pen{Size: 8, X: -0.5}
	if x2-x1 > h.Wide(p, label)+6 {
		w := h.Wide(p, label)/2 + 2
		h.box(inkPaper, (x1+x2)/2-w, y-4, (x1+x2)/2+w, y+4)
		p.Y = -0.4
		h.write(p, (x1+x2)/2, y, label)
		return
	}
	p.X, p.Y = 0, -0.4
	h.write(p, x2+4, y, label)
}

// drawSection draws the row and the next one with their measures.
func (s *Sheet) drawSection(h *hand) {
	d := &s.Design
	lo, hi, top := s.extent()
	right := hi
	if d.RowPitch > 0 {
		right = hi + d.RowPitch
	}
	c := fit(lo, right, max(top, 0.35*d.ReceiverWidth), 30, 66, 12, 16)
	s.ground(h, c)
	if d.RowPitch > 0 {
		s.heater(h, c, d.RowPitch, true)
		h.write(letter.Pen{Size: 7.5, Ink: inkQuiet, X: -0.5}, c.at(point{d.RowPitch + d.ReceiverWidth/2, 0}).X, c.y+4, "next row")
	}
	s.heater(h, c, 0, false)
	zero, edge := c.at(point{}), c.at(point{d.ReceiverWidth, 0})
	level := c.y - 38
	dimension(h, zero.X, edge.X, level, "receiver "+plain(d.ReceiverWidth)+" m")
	if d.RowPitch > 0 {
		dimension(h, zero.X, c.at(point{d.RowPitch, 0}).X, level-13, "rows every "+plain(d.RowPitch)+" m")
	} else {
		h.write(letter.Pen{Size: 8}, 4, level-15, "a single row")
	}
	if s.mirrored() {
		s.measureMirror(h, c)
	}
	c.bar(h, drawingWidth-6, drawingHeight-10)
}

// measureMirror writes length, tilt, setback and raise of the mirror.
func (s *Sheet) measureMirror(h *hand, c scale) {
	d := &s.Design
	foot, head := c.at(s.mirrorAt(0)), c.at(s.mirrorAt(d.MirrorLength))
	mid := vg.Point{X: (foot.X + head.X) / 2, Y: (foot.Y + head.Y) / 2}
	h.write(letter.Pen{Size: 8, Y: -0.5}, mid.X+8, mid.Y+4, "mirror "+plain(d.MirrorLength)+" m")
	// The arc lies on the receiver's side, where a builder measures.
	r := min(18, c.per*vg.Length(d.MirrorLength)*0.4)
	h.line(inkQuiet, 0.4, nil, foot, vg.Point{X: foot.X - r - 6, Y: foot.Y})
	tilt := d.MirrorTilt * math.Pi / 180
	sin, cos := math.Sincos(tilt)
	var arc vg.Path
	arc.Move(vg.Point{X: foot.X + r*vg.Length(cos), Y: foot.Y + r*vg.Length(sin)})
	arc.Arc(foot, r, tilt, math.Pi-tilt)
	h.c.SetColor(inkText)
	h.c.SetLineWidth(0.6)
	h.c.Stroke(arc)
	sin, cos = math.Sincos((tilt + math.Pi) / 2)
	h.write(letter.Pen{Size: 9.5, Bold: true, X: -1, Y: -0.5}, foot.X+(r+3)*vg.Length(cos), foot.Y+(r+3)*vg.Length(sin)+3, plain(180-d.MirrorTilt)+"°")
	level := "on its level"
	if d.Raise > 0 {
		level = plain(d.Raise) + " m above it"
	}
	h.write(letter.Pen{Size: 8}, 4, 2, fmt.Sprintf("mirror's foot %s m behind the receiver, %s; top %.2f m up", plain(d.Setback), level, s.mirrorAt(d.MirrorLength).z))
}
