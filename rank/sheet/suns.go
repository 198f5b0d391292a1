package sheet

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
)

func (s *Sheet) saysSuns() string {
	text := ""
	for _, n := range s.suns() {
		text += capital(n.name) + ": sun " + s.says(&n, false) + ". "
	}
	return text[:len(text)-1]
}

func (s *Sheet) suns() [3]sun { return suns(s.Lat, s.Design.RowAzimuth) }

// capital begins a text with a capital letter of ASCII.
func capital(text string) string {
	if text == "" || text[0] < 'a' || text[0] > 'z' {
		return text
	}
	return string(text[0]-'a'+'A') + text[1:]
}

// drawSuns draws the rays of the three noon suns, those that the mirror sends
// down, and the spots they make.
func (s *Sheet) drawSuns(h *hand) {
	d := &s.Design
	lo, hi, top := s.extent()
	list := s.suns()
	for i := range list { // spots beside the receiver are worth seeing, too
		if p := s.spotOf(list[i].profile); list[i].up() && p.down {
			lo = min(lo, max(min(p.from, p.to), -0.4*d.ReceiverWidth))
		}
	}
	top = max(top*1.35, 0.9*d.ReceiverWidth)
	c := fit(lo-0.1*d.ReceiverWidth, hi+0.15*d.ReceiverWidth, top, 4, 70, 4, 2)
	s.ground(h, c)
	for i := range list {
		if list[i].up() {
			s.rays(h, c, i, &list[i])
		}
	}
	s.heater(h, c, 0, false)
	for i := range list {
		s.strip(h, c, i, &list[i])
	}
	c.bar(h, drawingWidth-6, drawingHeight-10)
}

// rays draws those of one sun that meet the ends of the mirror, and one that
// meets the receiver.
func (s *Sheet) rays(h *hand, c scale, i int, n *sun) {
	sin, cos := math.Sincos(n.profile * math.Pi / 180)
	ink := inkSuns[i]
	// in draws a ray from the edge of the paper to a point of the section.
	in := func(to point) {
		end := c.at(to)
		long := (drawingHeight - 14 - end.Y) / vg.Length(sin)
		if room := end.X - 8; cos > 0 && long*vg.Length(cos) > room {
			long = room / vg.Length(cos)
		}
		if room := drawingWidth - 8 - end.X; cos < 0 && long*vg.Length(-cos) > room {
			long = room / vg.Length(-cos)
		}
		if long < 4 {
			return
		}
		start := vg.Point{X: end.X - long*vg.Length(cos), Y: end.Y + long*vg.Length(sin)}
		h.line(ink, 0.7, dashSuns[i], start, end)
		h.tip(ink, start, end, 5)
	}
	p := s.spotOf(n.profile)
	if !p.lit || p.low == p.high {
		in(point{s.Design.ReceiverWidth / 2, 0})
		return
	}
	if p.down {
		wash := color.NRGBA{ink.R, ink.G, ink.B, 0x20}
		a, b := clipped(c, p.low, p.from), clipped(c, p.high, p.to)
		h.fill(wash, c.at(p.low), c.at(p.high), b, vg.Point{X: b.X, Y: c.y}, vg.Point{X: a.X, Y: c.y}, a)
		for _, e := range [][2]vg.Point{{c.at(p.low), a}, {c.at(p.high), b}} {
			h.line(ink, 0.7, dashSuns[i], e[0], e[1])
			h.tip(ink, e[0], e[1], 5)
		}
	} else {
		sin, cos := math.Sincos(p.direction * math.Pi / 180)
		for _, e := range []point{p.low, p.high} {
			from := c.at(e)
			to := vg.Point{X: from.X + 24*vg.Length(cos), Y: from.Y + 24*vg.Length(sin)}
			h.line(ink, 0.7, dashSuns[i], from, to)
			h.tip(ink, from, to, 5)
		}
	}
	in(p.high)
	in(p.low)
}

// clipped is where a reflected ray ends on the paper: on the ground, or at the
// paper's edge where it lands farther away.
func clipped(c scale, from point, x float64) vg.Point {
	a, b := c.at(from), c.at(point{x, 0})
	for _, edge := range []vg.Length{2, drawingWidth - 2} {
		if (b.X-edge)*(a.X-edge) < 0 {
			share := (edge - a.X) / (b.X - a.X)
			b = vg.Point{X: edge, Y: a.Y + share*(b.Y-a.Y)}
		}
	}
	return b
}

// strip draws the spot of one sun as a bar under the receiver, with words.
func (s *Sheet) strip(h *hand, c scale, i int, n *sun) {
	y := c.y - 41 - 12.5*vg.Length(i)
	h.line(inkSuns[i], 1.4, dashSuns[i], vg.Point{X: 2, Y: y + 5.6}, vg.Point{X: 20, Y: y + 5.6})
	p := s.spotOf(n.profile)
	if n.up() && p.down && p.onReceiver() {
		a, b := c.at(point{p.onLow, 0}), c.at(point{p.onHigh, 0})
		under := c.y - 3.2*vg.Length(i+1) - 3
		h.box(inkSuns[i], a.X, under-1, b.X, under+1)
	}
	label := letter.Pen{Size: 8, Ink: inkSuns[i], Bold: true}
	name := capital(n.name)
	h.write(label, 24, y+3, name)
	x := 24 + h.Wide(label, name) + 4
	label.Bold = false
	label.Ink = inkText
	says := s.says(n, true)
	for label.Size > 6 && x+h.Wide(label, says) > drawingWidth {
		label.Size -= 0.2
	}
	h.write(label, x, y+3, says)
}
