package sheet

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
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

// counted says the heat of the months of the use, and of the year where that is
// more months.
func (s *Sheet) counted(months *[12]float64) string {
	part, all := 0.0, true
	for m, counts := range s.Months {
		if counts {
			part += months[m]
		}
		all = all && counts
	}
	if all {
		return fmt.Sprintf("%.0f a year", part)
	}
	return fmt.Sprintf("%.0f in %s (%.0f all year)", part, season(s.Months), sum(*months))
}

func (s *Sheet) saysMonths() string {
	var parts []string
	for _, q := range s.shown() {
		text := fmt.Sprintf("at %s °C %s", plain(q.Outlet), s.counted(&q.With))
		if s.mirrored() {
			text += " with the mirror, " + s.counted(&q.Without) + " without"
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
	p := letter.Pen{Size: 7.6, Y: -0.5}
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
		h.write(letter.Pen{Size: 7.2, Ink: inkQuiet, X: -1, Y: -0.5}, drawingWidth-2, y, fmt.Sprintf("%d more outlets not shown", n))
		return
	}
	h.write(letter.Pen{Size: 7.2, Ink: inkQuiet, X: -1, Y: -0.5}, drawingWidth-2, y, "grey: not in the use's months")
}

// monthField draws the twelve months of one outlet in a box of the paper.
func (s *Sheet) monthField(h *hand, q *Heat, x, y, width, height vg.Length, step, top float64) {
	left, bottom, head := vg.Length(22), vg.Length(10), vg.Length(11)
	plot := height - bottom - head
	title := letter.Pen{Size: 8, Bold: q.Outlet == s.Outlet}
	words := plain(q.Outlet) + " °C: " + s.counted(&q.With)
	for title.Size > 5.5 && h.Wide(title, words) > width-6 {
		title.Size -= 0.1
	}
	h.write(title, x+4, y+height-head+3, h.short(title, width-5, words))
	per := plot / vg.Length(top)
	for v := 0.0; v <= top*1.0001; v += step {
		at := y + bottom + per*vg.Length(v)
		h.line(inkLine, 0.4, nil, vg.Point{X: x + left, Y: at}, vg.Point{X: x + width - 3, Y: at})
		h.write(letter.Pen{Size: 7, Ink: inkQuiet, X: -1, Y: -0.4}, x+left-2, at, plain(v))
	}
	slot := (width - left - 3) / 12
	for m := range q.With {
		at := x + left + slot*vg.Length(m)
		wide, with, without := slot*0.7, inkWith, inkWithout
		if !s.Months[m] {
			with, without = inkIdle, inkIdleWithout
		}
		if s.mirrored() {
			wide = slot * 0.4
			h.box(without, at+slot*0.1+wide, y+bottom, at+slot*0.1+2*wide, y+bottom+per*vg.Length(q.Without[m]))
		}
		h.box(with, at+slot*0.1, y+bottom, at+slot*0.1+wide, y+bottom+per*vg.Length(q.With[m]))
		p := letter.Pen{Size: 7, X: -0.5, Ink: inkQuiet}
		if s.Months[m] {
			p.Bold, p.Ink = true, inkText
		}
		h.write(p, at+slot/2, y+2, initials[m])
	}
}
