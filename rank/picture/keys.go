package picture

import (
	"image/color"

	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
)

// A bandKey explains a mark of the panels of Bands.
type bandKey struct {
	text string
	mark func(sh *sheet, x, y vg.Length) // about a point
}

const keyMark = 18 // width of a key's mark, points

func tiltKeys() []bandKey {
	return []bandKey{
		{"median of sites", func(sh *sheet, x, y vg.Length) {
			sh.color(inkText)
			sh.fill(disc(x, y, 1.9))
		}},
		{"eight of ten sites", barKey(inkTilt)},
		{"best single design for the whole band", func(sh *sheet, x, y vg.Length) { sh.stroke(disc(x, y, 3.4), 0.9, inkArea) }},
		{"most sites do best without a mirror", func(sh *sheet, x, y vg.Length) {
			sh.stroke(rectangle(x-2, y-2, x+2, y+2), 0.8, inkText)
		}},
	}
}

func costKeys() []bandKey {
	spot := func(bar, dot color.Color) func(*sheet, vg.Length, vg.Length) {
		return func(sh *sheet, x, y vg.Length) {
			barKey(bar)(sh, x, y)
			sh.color(dot)
			sh.fill(disc(x, y, 2))
		}
	}
	return []bandKey{
		{"median cheaper than gas", spot(inkCheapBar, inkCheap)},
		{"median dearer than gas", spot(inkDearBar, inkDear)},
		{"heat from gas, running cost alone (median)", func(sh *sheet, x, y vg.Length) { sh.line(x, y-4, x, y+4, 1.4, inkText) }},
	}
}

func barKey(c color.Color) func(*sheet, vg.Length, vg.Length) {
	return func(sh *sheet, x, y vg.Length) { sh.line(x-7, y, x+7, y, 2.4, c) }
}

// keys writes them side by side, and in as many lines as a width needs.
func (s *sheet) keys(list []bandKey, left, y, width vg.Length) {
	p := letter.Pen{Size: 8.5, Ink: inkText, Y: -0.5}
	x := left
	for _, k := range list {
		wide := keyMark + s.Wide(p, k.text) + 12
		if x > left && x+wide > left+width {
			x, y = left, y-12
		}
		k.mark(s, x+keyMark/2-2, y)
		s.Write(p, x+keyMark, y, k.text)
		x += wide
	}
}
