package sheet

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Extra says what the row gives, by way of the heat that the cost divides by, and
// what that saves.
func (s *Sheet) Extra() string {
	c := &s.Cost
	text := fmt.Sprintf("%s\u00a0m of row give %.0f kWh a year at the receiver in the months of the use (%s); ", plain(s.RowLength), c.Heat*s.area(), season(s.Months))
	text += fmt.Sprintf("%.0f kWh a year reach the user", c.Delivered*s.area())
	if c.Heat > 0 && c.Share > 0 {
		text += fmt.Sprintf(" (× %s that is delivered, × %.3f for %s %% less every year): the cost per kWh counts these", plain(c.Share), c.Delivered/(c.Heat*c.Share), plain(100*c.Fade))
	}
	than := "saved against gas"
	if c.Saving < 0 {
		than = "more than gas costs"
	}
	text += fmt.Sprintf(". %.0f kWh × %s = %.0f %s a year %s", c.Delivered*s.area(), s.apart(), math.Abs(c.Saving*s.area()), s.Currency, than)
	if c.Payback != nil {
		text += fmt.Sprintf("; paid back in %.1f years, interest not counted", *c.Payback)
	} else {
		text += fmt.Sprintf("; the savings of %d years do not return the first cost", c.Years)
	}
	if s.NextBest != "" {
		text += "; next best: " + s.NextBest
	}
	return text + "."
}

// apart is how far heat and gas differ in cost, with digits enough to multiply.
func (s *Sheet) apart() string {
	v := math.Abs(s.Cost.Gas - s.Cost.LCOH)
	if v < 0.01 {
		return fmt.Sprintf("%.6f", v)
	}
	return money(v)
}

func (s *Sheet) cutTitle() string {
	return fmt.Sprintf("To cut for %s m of row", plain(s.RowLength))
}

// cutRows is the cut list as text, its head first and the battens' sum last.
func (s *Sheet) cutRows() [][]string {
	rows := [][]string{{"piece", "number", "length m", "width m", "order"}}
	count, metres := 0, 0.0
	for _, c := range s.CutList() {
		row := []string{c.Part, fmt.Sprint(c.Count), fmt.Sprintf("%.2f", c.Length), "", ""}
		if c.Width > 0 {
			row[3], row[4] = fmt.Sprintf("%.2f", c.Width), fmt.Sprintf("%.1f\u00a0m²", c.Area)
		} else {
			long := float64(c.Count) * c.Length
			count, metres = count+c.Count, metres+long
			row[4] = fmt.Sprintf("%.1f\u00a0m", long)
		}
		rows = append(rows, row)
	}
	return append(rows, []string{"battens in all", fmt.Sprint(count), "", "", fmt.Sprintf("%.1f\u00a0m", metres)})
}

func (s *Sheet) billTitle() string {
	return fmt.Sprintf("To buy for %s m of row", plain(s.RowLength))
}

// billRows is the bill as text, its head first and its sum last: that of the
// numbers printed, so that a reader who adds them up gets it.
func (s *Sheet) billRows() [][]string {
	rows := [][]string{{"item", "priced for", "order", "lasts, years", s.Currency, "labour h"}}
	lines, total, _ := s.Bill()
	var price, labour float64
	for _, l := range lines {
		amount, order := fmt.Sprintf("%.1f %s", l.Amount, l.Unit), ""
		if l.Unit == "of the site" {
			amount = fmt.Sprintf("%.1f %% of site", 100*l.Amount)
		}
		if l.Order > 0 {
			order = fmt.Sprintf("%.1f\u00a0m²", l.Order)
		}
		price, labour = price+tenths(l.Price), labour+tenths(l.Labour)
		rows = append(rows, []string{l.Item, amount, order, fmt.Sprintf("%.1f", l.Life), fmt.Sprintf("%.1f", l.Price), fmt.Sprintf("%.1f", l.Labour)})
	}
	return append(rows, []string{total.Item, "", "", "", fmt.Sprintf("%.1f", price), fmt.Sprintf("%.1f", labour)})
}

// tenths rounds as one decimal is printed.
func tenths(v float64) float64 {
	v, _ = strconv.ParseFloat(strconv.FormatFloat(v, 'f', 1, 64), 64)
	return v
}

// billNote says what stands beside the bill.
func (s *Sheet) billNote() string {
	lines, sum, running := s.Bill()
	text := fmt.Sprintf("Bill: the book prices films by the net area, ordering hems and shrinkage too adds %.0f %s; labour at %s %s/h comes to %.0f %s more; running %.0f %s a year. Lives count the wear of this place.",
		s.hems(lines), s.Currency, plain(s.Plan.LabourPerH), s.Currency, sum.Labour*s.Plan.LabourPerH, s.Currency, running, s.Currency)
	return text + " " + s.battens(lines) + s.shared(lines) + " Materials: " + s.materials() + "."
}

// hems is what the films' allowances cost.
func (s *Sheet) hems(lines []Line) (extra float64) {
	for _, l := range lines {
		if l.Order > 0 {
			extra += l.Price * (l.Order/l.Amount - 1)
		}
	}
	return extra
}

// battens says which lines pay for battens and fixings.
func (s *Sheet) battens(lines []Line) string {
	named := func(words ...string) string {
		var list []string
		for _, l := range lines {
			if slices.ContainsFunc(words, func(w string) bool { return strings.Contains(strings.ToLower(l.Item), w) }) {
				list = append(list, l.Item)
			}
		}
		return strings.Join(list, " and ")
	}
	if own := named("batten"); own != "" {
		return fmt.Sprintf("Battens are priced in the line %s, fixings have none.", own)
	}
	if in := named("edg", "frame"); in != "" {
		return fmt.Sprintf("Battens and fixings have no line of their own: the book must hold them in %s.", in)
	}
	return "Battens and fixings are not priced."
}

// shared says what a share of the site is, where the bill has one.
func (s *Sheet) shared(lines []Line) string {
	for _, l := range lines {
		if l.Unit == "of the site" {
			return fmt.Sprintf(" %.1f %% of the site: this row's part of what one site of %s m² of receiver shares (%s: %.0f %s in all); a row alone needs its own.",
				100*l.Amount, plain(s.Plan.SiteReceiverM2), l.Item, l.Price/l.Amount, s.Currency)
		}
	}
	return ""
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
