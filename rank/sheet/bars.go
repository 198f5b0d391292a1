package sheet

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
)

// initials of the months.
var initials = [12]string{"J", "F", "M", "A", "M", "J", "J", "A", "S", "O", "N", "D"}

// most is how many outlets have bars of their own; beyond, those nearest to the
// sheet's own are shown.
const most = 6

// shown are the outlets with bars, the sheet's own among them.
func (s *Sheet) shown() []Heat {
	if len(s.Heat) <= most {
		return s.Heat
	}
	own := 0
	for i := range s.Heat {
		if s.Heat[i].Outlet == s.Outlet {
			own = i
		}
	}
	from := min(max(0, own-most/2), len(s.Heat)-most)
	return s.Heat[from : from+most]
}

func sum(months [12]float64) (all float64) {
	for _, q := range months {
		all += q
	}
	return all
}

func (s *Sheet) saysMonths() string {
	var parts []string
	for _, q := range s.shown() {
		text := fmt.Sprintf("at %s °C %.0f a year", plain(q.Outlet), sum(q.With))
		if s.mirrored() {
			text += fmt.Sprintf(" with the mirror, %.0f without", sum(q.Without))
		}
		parts = append(parts, text)
	}
	text := "Bars of this design's heat by month, kWh per m² of receiver: " + strings.Join(parts, "; ") + "."
	if n := len(s.Heat) - len(s.shown()); n > 0 {
		text += fmt.Sprintf(" %d more outlets not shown.", n)
	}
	return text
}

// drawMonths draws a field of bars for each outlet, all on one scale.
func (s *Sheet) drawMonths(h *hand) {
	list := s.shown()
	columns := 2
	if len(list) == 1 {
		columns = 1
	}
	rows := (len(list) + columns - 1) / columns
	top := 1.0
	for _, q := range list {
		for m := range q.With {
			top = max(top, q.With[m])
			if s.mirrored() {
				top = max(top, q.Without[m])
			}
		}
	}
	step := round(top / 3)
	const legend = 13
	width, height := drawingWidth/vg.Length(columns), (drawingHeight-legend)/vg.Length(rows)
	for i := range list {
		x := width * vg.Length(i%columns)
		y := drawingHeight - legend - height*vg.Length(i/columns+1)
		s.monthField(h, &list[i], x, y, width, height, step, top)
	}
	s.legend(h)
}

func (s *Sheet) legend(h *hand) {
	p := pen{size: 7.6, y: -0.5}
	y := vg.Length(drawingHeight - 5)
	with := "without a mirror, as built here"
	if s.mirrored() {
		with = "with the mirror"
		h.box(inkWithout, 92, y-3, 102, y+3)
		h.write(p, 105, y, "without")
	}
	h.box(inkWith, 22, y-3, 32, y+3)
	h.write(p, 35, y, with)
	if n := len(s.Heat) - len(s.shown()); n > 0 {
		h.write(pen{size: 7.2, ink: inkQuiet, x: -1, y: -0.5}, drawingWidth-2, y, fmt.Sprintf("%d more outlets not shown", n))
		return
	}
	h.write(pen{size: 7.2, ink: inkQuiet, x: -1, y: -0.5}, drawingWidth-2, y, "bold: months of "+h.short(pen{size: 7.2}, 62, s.Use))
}

// monthField draws the twelve months of one outlet in a box of the paper.
func (s *Sheet) monthField(h *hand, q *Heat, x, y, width, height vg.Length, step, top float64) {
	left, bottom, head := vg.Length(22), vg.Length(10), vg.Length(11)
	plot := height - bottom - head
	title := fmt.Sprintf("%s °C: %.0f a year", plain(q.Outlet), sum(q.With))
	h.write(pen{size: 8, bold: q.Outlet == s.Outlet}, x+left, y+height-head+3, title)
	per := plot / vg.Length(top)
	for v := 0.0; v <= top*1.0001; v += step {
		at := y + bottom + per*vg.Length(v)
		h.line(inkLine, 0.4, nil, vg.Point{X: x + left, Y: at}, vg.Point{X: x + width - 3, Y: at})
		h.write(pen{size: 7, ink: inkQuiet, x: -1, y: -0.4}, x+left-2, at, plain(v))
	}
	slot := (width - left - 3) / 12
	for m := range q.With {
		at := x + left + slot*vg.Length(m)
		wide := slot * 0.7
		if s.mirrored() {
			wide = slot * 0.4
			h.box(inkWithout, at+slot*0.1+wide, y+bottom, at+slot*0.1+2*wide, y+bottom+per*vg.Length(q.Without[m]))
		}
		h.box(inkWith, at+slot*0.1, y+bottom, at+slot*0.1+wide, y+bottom+per*vg.Length(q.With[m]))
		p := pen{size: 7, x: -0.5, ink: inkQuiet}
		if s.Months[m] {
			p.bold, p.ink = true, inkText
		}
		h.write(p, at+slot/2, y+2, initials[m])
	}
}

func (s *Sheet) saysSplit() string {
	text := "Bars of the levelised cost by item, " + s.Currency + " per kWh delivered: "
	for _, p := range s.parts() {
		text += fmt.Sprintf("%s %s, ", p.Item, money(p.PerKWh))
	}
	return fmt.Sprintf("%stogether %s; heat from gas %s.", text, money(s.Cost.LCOH), money(s.Cost.Gas))
}

// mostParts is how many bars of cost there are; the least items share one.
const mostParts = 13

// parts are the items that cost something; the rest beyond mostParts is one.
func (s *Sheet) parts() []Part {
	var list []Part
	for _, p := range s.Cost.Parts {
		if p.PerKWh != 0 {
			list = append(list, p)
		}
	}
	for len(list) > mostParts {
		least := 0
		for i, p := range list[:len(list)-1] {
			if p.PerKWh < list[least].PerKWh {
				least = i
			}
		}
		last := &list[len(list)-1]
		if last.Item != "other items" {
			list = append(list, Part{Item: "other items"})
			last = &list[len(list)-1]
		}
		last.PerKWh += list[least].PerKWh
		list = append(list[:least], list[least+1:]...)
	}
	return list
}

// drawSplit draws a bar for each item of the cost, one for their sum, and one for
// gas, with the range of the draws on the sum.
func (s *Sheet) drawSplit(h *hand) {
	list := s.parts()
	top := 0.0
	for _, p := range list {
		top = max(top, p.PerKWh)
	}
	const names, values = 112, 36
	rows := vg.Length(len(list)) + 2.6
	pitch := min(14, drawingHeight/rows)
	p := pen{size: min(8, pitch*0.82), y: -0.4}
	per := (drawingWidth - names - values) / vg.Length(max(top, 1e-9))
	y := drawingHeight - pitch/2
	bar := func(name, value string, long vg.Length, wide float64, past vg.Length) {
		p.x = -1
		h.write(p, names-4, y, h.short(p, names-8, name))
		p.x = 0
		h.box(inkWith, names, y-pitch*vg.Length(wide), names+max(long, 0.3), y+pitch*vg.Length(wide))
		h.write(p, names+max(long, past, 0)+4, y, value)
		y -= pitch
	}
	for _, part := range list {
		bar(part.Item, money(part.PerKWh), per*vg.Length(part.PerKWh), 0.32, 0)
	}
	// The sum and gas are on a scale of their own.
	y -= pitch * 0.3
	h.line(inkLine, 0.5, nil, vg.Point{X: 2, Y: y + pitch*0.62}, vg.Point{X: drawingWidth - 2, Y: y + pitch*0.62})
	p.bold = true
	most := max(s.Cost.LCOH, s.Cost.Gas)
	if s.Cost.P90 != nil {
		most = max(most, min(*s.Cost.P90, 2*most))
	}
	per = (drawingWidth - names - values) / vg.Length(most)
	at, past := y, vg.Length(0)
	if s.Cost.P10 != nil && s.Cost.P90 != nil {
		past = per * vg.Length(min(*s.Cost.P90, most))
	}
	bar("this heat", money(s.Cost.LCOH), per*vg.Length(s.Cost.LCOH), 0.3, past)
	if past > 0 {
		a, b := names+per*vg.Length(*s.Cost.P10), names+past
		for _, x := range []vg.Length{a, b} {
			h.line(inkText, 0.9, nil, vg.Point{X: x, Y: at - 2.5}, vg.Point{X: x, Y: at + 2.5})
		}
		h.line(inkPaper, 1.8, nil, vg.Point{X: a, Y: at}, vg.Point{X: b, Y: at})
		h.line(inkText, 0.9, nil, vg.Point{X: a, Y: at}, vg.Point{X: b, Y: at})
	}
	bar("heat from gas", money(s.Cost.Gas), per*vg.Length(s.Cost.Gas), 0.3, 0)
}
