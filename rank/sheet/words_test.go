package sheet

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgsvg"

	"stillrow/rank/cost"
)

// The page leads with whether the heat beats gas; nine of ten draws decide, and
// draws that speak against the likely cost leave it open.
func TestVerdict(t *testing.T) {
	for _, tt := range []struct {
		lcoh float64
		sure *float64
		want string
	}{
		{0.03, new(0.99), "Beats gas here"},
		{0.03, nil, "Beats gas here"},
		{0.24, new(0.0), "Does not beat gas here: 3.0 times as dear"},
		{0.12, nil, "Does not beat gas here: 1.5 times as dear"},
		{0.079, new(0.45), "May beat gas here: chance 45 %"},
		{0.081, new(0.45), "May beat gas here: chance 45 %"},
		{0.03, new(0.05), "May beat gas here: chance 5 %"},
	} {
		s := sample()
		s.Cost.LCOH, s.Cost.Sure = tt.lcoh, tt.sure
		if got := s.Verdict(); got != tt.want {
			t.Errorf("%g against 0.08: %q, want %q", tt.lcoh, got, tt.want)
		}
	}
}

// 342 kWh/m² on 48 m² are 16 416 kWh; 0.0803 less 0.08 is 0.0003, and 4.92 a
// year: the difference is printed with digits that give it.
func TestMoneyMultipliesOut(t *testing.T) {
	s := sample()
	s.Cost.LCOH, s.Cost.Saving, s.Cost.Payback = 0.0803, -0.1026, nil
	for _, want := range []string{"16416 kWh × 0.000300 = 5 EUR a year more than gas costs", "the savings of 20 years do not return the first cost"} {
		if got := s.Extra(); !strings.Contains(got, want) {
			t.Errorf("%q lacks %q", got, want)
		}
	}
}

// Lines of the bill that are printed add up to the sum that is printed.
func TestBillAddsUp(t *testing.T) {
	s := sample()
	s.RowLength = 7.77
	for i := range s.Items {
		s.Items[i].Price *= 1.0371
	}
	rows := s.billRows()
	for _, column := range []int{4, 5} {
		sum := 0.0
		for i, row := range rows[1:] {
			v, err := strconv.ParseFloat(row[column], 64)
			if err != nil {
				t.Fatal(err)
			}
			if i < len(rows)-2 {
				sum += v
			} else if math.Abs(sum-v) > 1e-6 {
				t.Errorf("column %d: lines %g, sum %g", column, sum, v)
			}
		}
	}
}

func TestSeasons(t *testing.T) {
	for want, list := range map[string][]int{
		"Nov–Mar": {10, 11, 0, 1, 2}, "May–Sep": {4, 5, 6, 7, 8}, "Jan": {0}, "Feb, Dec": {1, 11}, "Mar–Apr, Nov–Jan": {2, 3, 10, 11, 0},
		"the whole year": {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11},
	} {
		var months [12]bool
		for _, m := range list {
			months[m] = true
		}
		if got := season(months); got != want {
			t.Errorf("%v: %q, want %q", list, got, want)
		}
	}
}

// Of 15 kWh a month, five months make 75 and twelve 180.
func TestMonthsThatCount(t *testing.T) {
	s := sample()
	var months [12]float64
	for m := range months {
		months[m] = 15
	}
	if got := s.counted(&months); got != "75 in May–Sep (180 all year)" {
		t.Error(got)
	}
	for m := range s.Months {
		s.Months[m] = true
	}
	if got := s.counted(&months); got != "180 a year" {
		t.Error(got)
	}
}

// On the chart the items lie end to end up to the levelised cost, by kind, with
// a sum before those of a kind that has several.
func TestSharesLieEndToEnd(t *testing.T) {
	s := sample()
	s.Cost.Parts = append(s.Cost.Parts, Part{"edge", cost.RowM, 0})
	var names []string
	at := 0.0
	for _, p := range s.shares() {
		names = append(names, p.name)
		if math.Abs(p.from-at) > 1e-12 {
			t.Errorf("%s begins at %g, want %g", p.name, p.from, at)
		}
		if !p.sum {
			at += p.perKWh
		}
	}
	if got := strings.Join(names, ";"); got != "receiver;clear film;washing;mirror: mirror film;site: pump" || math.Abs(at-s.Cost.LCOH) > 1e-12 {
		t.Errorf("%s, together %g", got, at)
	}
}

// A pump that runs all year has a better hour than one of the use's months.
func TestPumpOfTheUse(t *testing.T) {
	s := sample()
	if strings.Contains(s.pump(), "all year") {
		t.Error("the same hour is told twice")
	}
	// 900 W/m² on 48 m² over 4182 J/kgK and 10 K are 3718.8 kg/h.
	s.Peak = Noon{Hour: "13:00 on 1 April", Heat: 900}
	if got := s.pump(); !strings.Contains(got, "If it runs all year, the best hour is from 13:00 on 1 April: 3719 kg/h") || !strings.Contains(got, "must give this row 3306 kg/h") {
		t.Error(got)
	}
}

// Whatever the size of the text, no cell of a table runs into the one before.
func TestCellsHaveRoom(t *testing.T) {
	p := &page{s: sample(), h: newHand(vgsvg.New(pageWidth, pageHeight)), body: greatestBody}
	rows, ends := p.s.billRows(), []vg.Length{81, 134, 166, 206, 234, 266}
	if p.fits(rows, ends, 12) || !p.fits(rows, ends, 5) {
		t.Errorf("cells fit at 12 points: %v, at 5: %v", p.fits(rows, ends, 12), p.fits(rows, ends, 5))
	}
}
