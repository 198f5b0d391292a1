package sheet

import (
	"fmt"
	"slices"

	"gonum.org/v1/plot/vg"

	"stillrow/rank/cost"
	"stillrow/rank/letter"
)

// kinds are what the items of a cost count by, in the order of the chart, with a
// name for each; the last takes what is left.
var kinds = []struct {
	unit cost.Unit
	name string
}{
	{cost.ReceiverM2, "receiver"}, {cost.MirrorM2, "mirror"}, {cost.RowM, "row"}, {cost.GroundM2, "ground"}, {cost.WholeSite, "site"}, {"", "other"},
}

func kindOf(u cost.Unit) int {
	for i, k := range kinds {
		if k.unit == u {
			return i
		}
	}
	return len(kinds) - 1
}

// mostParts is how many items of cost the chart has; the least share one.
const mostParts = 13

// parts are the items that cost something, by kind; the rest beyond mostParts is
// one.
func (s *Sheet) parts() []Part {
	var list []Part
	for _, p := range s.Cost.Parts {
		if p.PerKWh != 0 {
			list = append(list, p)
		}
	}
	slices.SortStableFunc(list, func(a, b Part) int { return kindOf(a.Unit) - kindOf(b.Unit) })
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

// A share is a line of the chart: an item, or the sum of a kind that has several.
type share struct {
	name         string
	from, perKWh float64 // where it begins on the scale, and how much it adds
	sum          bool
}

// shares lays the parts end to end, a sum before the items of each kind that has
// more than one.
func (s *Sheet) shares() (list []share) {
	parts := s.parts()
	from := 0.0
	for len(parts) > 0 {
		kind := kindOf(parts[0].Unit)
		n, sum := 0, 0.0
		for n < len(parts) && kindOf(parts[n].Unit) == kind {
			sum += parts[n].PerKWh
			n++
		}
		if n > 1 {
			list = append(list, share{kinds[kind].name, from, sum, true})
		}
		for _, p := range parts[:n] {
			name := p.Item
			if n == 1 && kind < len(kinds)-1 {
				name = kinds[kind].name + ": " + name
			}
			list = append(list, share{name, from, p.PerKWh, false})
			from += p.PerKWh
		}
		parts = parts[n:]
	}
	return list
}

func (s *Sheet) saysSplit() string {
	text := "Bars of the levelised cost, " + s.Currency + " per kWh that reaches the user, all on one scale, each beginning where the one before ends: "
	for _, p := range s.shares() {
		if p.sum {
			text += fmt.Sprintf("%s %s, of which: ", p.name, money(p.perKWh))
			continue
		}
		text += fmt.Sprintf("%s %s, ", p.name, money(p.perKWh))
	}
	return fmt.Sprintf("%stogether %s; heat from gas %s.", text, money(s.Cost.LCOH), money(s.Cost.Gas))
}

// drawSplit draws on one scale the items of the cost end to end, their sum with
// the range of the draws, and gas.
func (s *Sheet) drawSplit(h *hand) {
	list := s.shares()
	most := max(s.Cost.LCOH, s.Cost.Gas, 1e-9)
	if s.Cost.P90 != nil {
		most = max(most, min(*s.Cost.P90, 1.5*most))
	}
	const names, values, axis = 104, 34, 10
	pitch := min(14, (drawingHeight-axis)/(vg.Length(len(list))+2.3))
	per := (drawingWidth - names - values) / vg.Length(most)
	size := min(8, pitch*0.84)
	step := round(most / 4)
	for v := 0.0; v <= most*1.0001; v += step {
		x := names + per*vg.Length(v)
		h.line(inkLine, 0.4, nil, vg.Point{X: x, Y: axis}, vg.Point{X: x, Y: drawingHeight})
		h.write(letter.Pen{Size: 7, Ink: inkQuiet, X: -0.5}, x, 1, plain(v))
	}
	y := drawingHeight - pitch/2
	bar := func(p share, bold bool) {
		pn := letter.Pen{Size: size, Bold: bold, X: -1, Y: -0.4}
		name := pn
		for name.Size > 5.5 && h.Wide(name, p.name) > names-6 {
			name.Size -= 0.1
		}
		h.write(name, names-4, y, h.short(name, names-6, p.name))
		ink, half := inkWith, pitch*0.32
		if p.sum {
			ink, half = inkWithout, pitch*0.4
		}
		a := names + per*vg.Length(p.from)
		h.box(ink, a, y-half, a+max(per*vg.Length(p.perKWh), 0.3), y+half)
		h.write(pn, drawingWidth, y, money(p.perKWh))
		y -= pitch
	}
	for _, p := range list {
		bar(p, p.sum)
	}
	y -= pitch * 0.3
	at := y
	h.line(inkQuiet, 0.5, nil, vg.Point{X: 2, Y: y + pitch*0.62}, vg.Point{X: drawingWidth, Y: y + pitch*0.62})
	bar(share{name: "this heat", perKWh: s.Cost.LCOH}, true)
	if s.Cost.P10 != nil && s.Cost.P90 != nil {
		a, b := names+per*vg.Length(min(*s.Cost.P10, most)), names+per*vg.Length(min(*s.Cost.P90, most))
		for _, x := range []vg.Length{a, b} {
			if x == b && *s.Cost.P90 > most {
				continue // it goes on beyond the scale
			}
			h.line(inkText, 0.9, nil, vg.Point{X: x, Y: at - 2.5}, vg.Point{X: x, Y: at + 2.5})
		}
		h.line(inkPaper, 1.8, nil, vg.Point{X: a, Y: at}, vg.Point{X: b, Y: at})
		h.line(inkText, 0.9, nil, vg.Point{X: a, Y: at}, vg.Point{X: b, Y: at})
	}
	bar(share{name: "heat from gas", perKWh: s.Cost.Gas}, true)
}
