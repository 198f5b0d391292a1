package sheet

import (
	"fmt"
	"io"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
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
	p.tables()
	p.prose()
}

// lines writes folded text in a column and gives where it ends.
func (p *page) lines(pn pen, x, y, width vg.Length, words string) vg.Length {
	for _, line := range p.h.fold(pn, width, words) {
		y -= pn.size * 1.22
		if !p.dry {
			p.h.write(pn, x, y, line)
		}
	}
	return y
}

func (p *page) head() {
	const width = pageWidth - 2*margin
	p.y = p.lines(pen{size: 14, bold: true}, margin, p.y, width, p.s.Title())
	p.y = p.lines(pen{size: 8, ink: inkQuiet}, margin, p.y-1, width, p.s.Where+" · "+p.s.Study+" · prices: "+p.s.Book+" · weather: "+p.s.Weather)
	p.y = p.lines(pen{size: 9.5, bold: true, ink: inkWith}, margin, p.y-2, width, p.s.Build()+".")
	p.y = p.lines(pen{size: 9}, margin, p.y-1, width, p.s.Verdict()+". "+p.s.Extra())
	p.y -= 4
}

// panels puts the drawings in two columns.
func (p *page) panels() {
	for i, d := range p.s.drawings() {
		x := vg.Length(margin) + vg.Length(i%2)*(drawingWidth+gutter)
		if !p.dry {
			p.h.write(pen{size: 8.5, bold: true}, x, p.y-9, d.title)
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
	left := p.table(margin, top, p.s.cutTitle(), p.s.cutRows(), false, []vg.Length{104, 138, 180, 222, 266})
	right := p.table(margin+drawingWidth+gutter, top, p.s.billTitle(), p.s.billRows(), true, []vg.Length{118, 196, 232, 266})
	p.y = min(left, right) - 3
}

// table writes rows of cells, of which all but the first end at the columns
// given; it gives where the table ends. The last row may be a sum.
func (p *page) table(x, y vg.Length, title string, rows [][]string, sum bool, ends []vg.Length) vg.Length {
	p.lines(pen{size: 8.5, bold: true}, x, y, drawingWidth, title)
	y -= 8.5*1.22 + 1
	size := p.body
	for i, row := range rows {
		y -= size * 1.26
		if p.dry {
			continue
		}
		last := sum && i == len(rows)-1
		if i == 1 || last {
			p.h.line(inkQuiet, 0.5, nil, vg.Point{X: x, Y: y + size*1.02}, vg.Point{X: x + drawingWidth, Y: y + size*1.02})
		}
		for k, cell := range row {
			pn := pen{size: size, bold: i == 0 || last}
			if k == 0 {
				p.h.write(pn, x, y, p.h.short(pn, ends[0]-2, cell))
				continue
			}
			pn.x = -1
			p.h.write(pn, x+ends[k], y, cell)
		}
	}
	return y
}

// prose is the rest, text across the page and in two columns.
func (p *page) prose() {
	const wide = pageWidth - 2*margin
	text, bold := pen{size: p.body}, pen{size: p.body + 1, bold: true}
	p.y = p.lines(pen{size: p.body, ink: inkQuiet}, margin, p.y, wide, p.s.allowances()+" "+p.s.billNote())
	p.y = p.lines(bold, margin, p.y-3, wide, "Water and pump")
	p.y = p.lines(text, margin, p.y, wide, p.s.pump())
	p.y = p.lines(bold, margin, p.y-3, wide, "Cautions")
	p.y = p.columns(text, p.s.cautions())
	p.y = p.lines(bold, margin, p.y-3, wide, "What was assumed")
	p.assumptions(pen{size: p.body - 0.6, ink: inkQuiet})
}

// assumptions are written as far as the page goes.
func (p *page) assumptions(pn pen) {
	const wide = pageWidth - 2*margin
	words := make([]string, len(p.s.Assumptions))
	heights := make([]vg.Length, len(words))
	var left vg.Length // of what is still to be written
	for i, g := range p.s.Assumptions {
		words[i] = g.Source + ": " + g.Text
		heights[i] = pn.size * 1.22 * vg.Length(len(p.h.fold(pn, wide, words[i])))
		left += heights[i]
	}
	for i, w := range words {
		if room := p.y - margin; !p.dry && left > room && heights[i]+pn.size*1.22 > room {
			p.lines(pn, margin, p.y, wide, "… for the rest see the page or the text of stillrow site")
			return
		}
		p.y = p.lines(pn, margin, p.y, wide, w)
		left -= heights[i]
	}
}

// columns writes texts in two columns, the first as long as the second or longer.
func (p *page) columns(pn pen, list []string) vg.Length {
	heights := make([]vg.Length, len(list))
	var all vg.Length
	for i, t := range list {
		heights[i] = pn.size*1.22*vg.Length(len(p.h.fold(pn, drawingWidth, t))) + 1
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

// Extra says what the row gives and what it saves.
func (s *Sheet) Extra() string {
	text := fmt.Sprintf("%s\u00a0m of row give %.0f kWh a year, at the receiver, in the months of %s", plain(s.RowLength), s.Cost.Heat*s.area(), s.Use)
	saved := s.Cost.Saving * s.area()
	switch {
	case saved < 0:
		text += fmt.Sprintf(" and cost %.0f %s a year more than gas", -saved, s.Currency)
	default:
		text += fmt.Sprintf(" and save %.0f %s a year against gas", saved, s.Currency)
	}
	if s.Cost.Payback != nil {
		text += fmt.Sprintf("; paid back in %.1f years, interest not counted", *s.Cost.Payback)
	} else {
		text += "; never paid back"
	}
	if s.NextBest != "" {
		text += "; next best: " + s.NextBest
	}
	return text + "."
}

func (s *Sheet) cutTitle() string {
	return fmt.Sprintf("To cut for %s m of row", plain(s.RowLength))
}

// cutRows is the cut list as text, its head first.
func (s *Sheet) cutRows() [][]string {
	rows := [][]string{{"piece", "number", "length m", "width m", "area m²"}}
	for _, c := range s.CutList() {
		row := []string{c.Part, fmt.Sprint(c.Count), fmt.Sprintf("%.2f", c.Length), "", ""}
		if c.Width > 0 {
			row[3], row[4] = fmt.Sprintf("%.2f", c.Width), fmt.Sprintf("%.1f", c.Area)
		}
		rows = append(rows, row)
	}
	return rows
}

func (s *Sheet) billTitle() string {
	return fmt.Sprintf("To buy for %s m of row", plain(s.RowLength))
}

// billRows is the bill as text, its head first and its sum last.
func (s *Sheet) billRows() [][]string {
	rows := [][]string{{"item", "for", s.Currency, "labour h"}}
	lines, sum, _ := s.Bill()
	for _, l := range lines {
		amount := fmt.Sprintf("%.1f %s", l.Amount, l.Unit)
		if l.Unit == "of the site" {
			amount = fmt.Sprintf("%.1f %% of the site", 100*l.Amount)
		}
		rows = append(rows, []string{l.Item, amount, fmt.Sprintf("%.0f", l.Price), fmt.Sprintf("%.1f", l.Labour)})
	}
	return append(rows, []string{sum.Item, "", fmt.Sprintf("%.0f", sum.Price), fmt.Sprintf("%.1f", sum.Labour)})
}

// billNote says what stands beside the bill.
func (s *Sheet) billNote() string {
	_, sum, running := s.Bill()
	return fmt.Sprintf("Bill: prices of the book per net m² or m, no allowance; labour at %s %s/h comes to %.0f %s more; running %.0f %s a year. Materials: %s.",
		plain(s.Plan.LabourPerH), s.Currency, sum.Labour*s.Plan.LabourPerH, s.Currency, running, s.Currency, s.materials())
}

// materials names what the receiver's layers are.
func (s *Sheet) materials() string {
	l := &s.Layers
	text := ""
	for i, name := range l.Clear {
		if i == 0 || name != l.Clear[i-1] {
			text += name + ", "
		}
	}
	if text == "" {
		return "clear films, black film and foam are not named by the study, which gives coefficients"
	}
	return fmt.Sprintf("%s%s, %s %.0f mm", text, l.Black, l.Foam, 1000*l.FoamDepth)
}

// cautions are marked as items of a list.
func (s *Sheet) cautions() []string {
	list := make([]string, len(s.Cautions))
	for i, c := range s.Cautions {
		list[i] = "• " + c
	}
	return list
}
