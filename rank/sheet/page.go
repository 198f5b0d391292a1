package sheet

import (
	"io"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"

	"stillrow/rank/letter"
)

// A4, points, and what the picture leaves white around.
const (
	pageWidth  = 595.28
	pageHeight = 841.89
	margin     = 26
	gutter     = pageWidth - 2*margin - 2*drawingWidth
)

const dotsPerInch = 200

// PNG writes the page as one A4 picture.
func (s *Sheet) PNG(w io.Writer) error {
	c := vgimg.NewWith(vgimg.UseWH(pageWidth, pageHeight), vgimg.UseDPI(dotsPerInch), vgimg.UseBackgroundColor(inkPaper))
	h := newHand(c)
	p := &page{s: s, h: h, body: s.body(h)}
	p.write()
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}

// A page is written from the top down.
type page struct {
	s    *Sheet
	h    *hand
	body vg.Length // size of running text
	y    vg.Length // next line's top
	dry  bool      // nothing is drawn: only y counts
}

// Sizes of running text that are tried, the greatest that fits taken.
const greatestBody, leastBody = 7.6, 5.4

// body finds the size of running text with which all fits on the page.
func (s *Sheet) body(h *hand) vg.Length {
	size := vg.Length(greatestBody)
	for ; size > leastBody; size -= 0.1 {
		p := &page{s: s, h: h, body: size, dry: true}
		if p.write(); p.y > margin {
			break
		}
	}
	return size
}

func (p *page) write() {
	p.y = pageHeight - margin
	p.head()
	p.panels()
	p.dangers()
	p.tables()
	p.prose()
}

// lines writes folded text in a column and gives where it ends.
func (p *page) lines(pn letter.Pen, x, y, width vg.Length, words string) vg.Length {
	for _, line := range p.h.Fold(pn, width, words) {
		y -= pn.Size * 1.22
		if !p.dry {
			p.h.write(pn, x, y, line)
		}
	}
	return y
}

func (p *page) head() {
	const width = pageWidth - 2*margin
	p.y = p.lines(letter.Pen{Size: 14, Bold: true}, margin, p.y, width, p.s.Title())
	p.y = p.lines(letter.Pen{Size: 8, Ink: inkQuiet}, margin, p.y-1, width, p.s.Where+" · "+p.s.Study+" · prices: "+p.s.Book+" · weather: "+p.s.Weather)
	p.y = p.lines(letter.Pen{Size: 11, Bold: true}, margin, p.y-2, width, p.s.Verdict()+".")
	p.y = p.lines(letter.Pen{Size: 9, Bold: true, Ink: inkWith}, margin, p.y-1, width, p.s.Build()+".")
	p.y = p.lines(letter.Pen{Size: 8.2}, margin, p.y-1, width, p.s.Costs()+". "+p.s.Extra())
	p.y -= 3
}

// panels puts the drawings in two columns.
func (p *page) panels() {
	for i, d := range p.s.drawings() {
		x := vg.Length(margin) + vg.Length(i%2)*(drawingWidth+gutter)
		if !p.dry {
			p.h.write(letter.Pen{Size: 8.5, Bold: true}, x, p.y-9, d.title)
			p.h.c.Push()
			p.h.c.Translate(vg.Point{X: x, Y: p.y - 13 - drawingHeight})
			d.draw(p.h)
			p.h.c.Pop()
		}
		if i%2 == 1 {
			p.y -= 13 + drawingHeight + 5
		}
	}
}

// tables are the cut list and the bill, side by side.
func (p *page) tables() {
	top := p.y
	left := p.table(margin, top, p.s.cutTitle(), p.s.cutRows(), []vg.Length{104, 138, 180, 222, 266})
	right := p.table(margin+drawingWidth+gutter, top, p.s.billTitle(), p.s.billRows(), []vg.Length{81, 134, 166, 206, 234, 266})
	p.y = min(left, right) - 3
}

// table writes rows of cells, of which all but the first end at the columns
// given; it gives where the table ends. The last row is a sum.
func (p *page) table(x, y vg.Length, title string, rows [][]string, ends []vg.Length) vg.Length {
	p.lines(letter.Pen{Size: 8.5, Bold: true}, x, y, drawingWidth, title)
	y -= 8.5*1.22 + 1
	size := p.body
	for size > 4 && !p.fits(rows, ends, size) {
		size -= 0.1
	}
	for i, row := range rows {
		y -= size * 1.26
		if p.dry {
			continue
		}
		last := i == len(rows)-1
		if i == 1 || last {
			p.h.line(inkQuiet, 0.5, nil, vg.Point{X: x, Y: y + size*1.02}, vg.Point{X: x + drawingWidth, Y: y + size*1.02})
		}
		for k, cell := range row {
			pn := letter.Pen{Size: size, Bold: i == 0 || last}
			if k == 0 {
				p.h.write(pn, x, y, p.h.short(pn, ends[0]-2, cell))
				continue
			}
			pn.X = -1
			p.h.write(pn, x+ends[k], y, cell)
		}
	}
	return y
}

// fits tells whether the cells of a table, but those of the first column, have
// room between the columns' ends.
func (p *page) fits(rows [][]string, ends []vg.Length, size vg.Length) bool {
	for i, row := range rows {
		pn := letter.Pen{Size: size, Bold: i == 0 || i == len(rows)-1}
		for k := 1; k < len(row); k++ {
			if p.h.Wide(pn, row[k]) > ends[k]-ends[k-1]-3 {
				return false
			}
		}
	}
	return true
}

// dangers are the cautions, in two columns.
func (p *page) dangers() {
	p.y = p.lines(letter.Pen{Size: p.body + 1, Bold: true}, margin, p.y, pageWidth-2*margin, "Cautions")
	p.y = p.columns(letter.Pen{Size: p.body}, p.s.cautions()) - 3
}

// prose is the rest, text across the page.
func (p *page) prose() {
	const wide = pageWidth - 2*margin
	text, bold := letter.Pen{Size: p.body}, letter.Pen{Size: p.body + 1, Bold: true}
	p.y = p.lines(text, margin, p.y, wide, p.s.allowances()+" "+p.s.billNote())
	p.y = p.lines(bold, margin, p.y-3, wide, "Water and pump")
	p.y = p.lines(text, margin, p.y, wide, p.s.pump())
	p.y = p.lines(bold, margin, p.y-3, wide, "What was assumed")
	p.assumptions(text)
}

// assumptions are written as far as the page goes.
func (p *page) assumptions(pn letter.Pen) {
	const wide = pageWidth - 2*margin
	lines := p.h.Fold(pn, wide, strings.Join(p.s.Assumed, " "))
	for i, line := range lines {
		if room := p.y - margin; !p.dry && i < len(lines)-1 && room < 2*1.22*pn.Size {
			p.lines(pn, margin, p.y, wide, "… for the rest see the page or the text of stillrow site")
			return
		}
		p.y = p.lines(pn, margin, p.y, wide, line)
	}
}

// columns writes texts in two columns, the first as long as the second or longer.
func (p *page) columns(pn letter.Pen, list []string) vg.Length {
	heights := make([]vg.Length, len(list))
	var all vg.Length
	for i, t := range list {
		heights[i] = pn.Size*1.22*vg.Length(len(p.h.Fold(pn, drawingWidth, t))) + 1
		all += heights[i]
	}
	y, end, x := p.y, p.y, vg.Length(margin)
	for i, t := range list {
		if x == margin && p.y-y+heights[i]/2 > all/2 {
			end, y, x = y, p.y, margin+drawingWidth+gutter
		}
		y = p.lines(pn, x, y, drawingWidth, t) - 1
	}
	return min(end, y)
}
