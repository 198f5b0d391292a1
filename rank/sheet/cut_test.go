package sheet

import (
	"math"
	"slices"
	"strings"
	"testing"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// sample is a whole sheet with round numbers.
func sample() *Sheet {
	s := &Sheet{
		Place: "Sandholm & <Co>", Where: "36.00° N 42.00° W, 10 m", Lat: 36, Weather: "invented", Study: "test", Book: "cost book test", Currency: "EUR",
		Use: "washing", Outlet: 60, Inlet: 50, Rho: 0.8,
		Design:    result.Design{ReceiverWidth: 1.2, MirrorLength: 1.6, MirrorTilt: 75, Setback: 0.05, RowPitch: 3.6},
		Layers:    Layers{Clear: []string{"clear film A", "clear film A"}, Black: "black film B", Foam: "foam C", FoamDepth: 0.05, WaterDepth: 0.04},
		Cost:      Cost{LCOH: 0.03, Gas: 0.08, P10: new(0.02), P90: new(0.05), Sure: new(0.996), Payback: new(2.5), Saving: 17.1, Heat: 400, Share: 0.9, Fade: 0.005, Delivered: 342, Years: 20},
		RowLength: 40, Plan: Plan{LabourPerH: 10, SiteReceiverM2: 2000},
		Items: []cost.Item{
			{Name: "clear film", Unit: cost.ReceiverM2, Price: 1, LabourH: 0.1, LifeYears: 3.5, Film: cost.ClearFilm},
			{Name: "mirror film", Unit: cost.MirrorM2, Price: 0.5, RunningPerYear: 0.25, LifeYears: 2},
			{Name: "edge", Unit: cost.RowM, Price: 2},
			{Name: "land", Unit: cost.GroundM2, Price: 3},
			{Name: "pump", Unit: cost.WholeSite, Price: 10000, LabourH: 100},
			{Name: "washing", Unit: cost.ReceiverM2, RunningPerYear: 0.5},
		},
		Noon:       Noon{Hour: "12:00 on 21 June", Heat: 800},
		Peak:       Noon{Hour: "12:00 on 21 June", Heat: 800},
		Cautions:   []string{"Scald: hot water burns.", "Local codes and licensed practice decide."},
		Assumed:    []string{"Weather: none measured.", "Water comes in 10 K colder."},
		Parameters: []Group{{"default", "a 1, b 2"}},
	}
	s.Cost.Parts = []Part{
		{"clear film", cost.ReceiverM2, 0.01}, {"mirror film", cost.MirrorM2, 0.015}, {"nothing", cost.RowM, 0}, {"pump", cost.WholeSite, 0.002}, {"washing", cost.ReceiverM2, 0.003},
	}
	for o, t := range []float64{45, 60} {
		q := Heat{Outlet: t}
		for m := range 12 {
			q.With[m] = float64(80 - 20*o - 5*max(m-6, 6-m))
			q.Without[m] = q.With[m] / 2
		}
		s.Heat = append(s.Heat, q)
	}
	for m := 4; m < 9; m++ {
		s.Months[m] = true
	}
	return s
}

// 40 m of row, 1.2 m wide, a mirror 1.6 m long: films are 40·1.01 = 40.4 m, a
// receiver film 1.2 + 2·0.1 = 1.4 m and 40.4·1.4 = 56.56 m², the mirror film
// 1.8 m and 72.72 m²; foam 40·1.2 = 48 m²; battens across the mirror every 2 m,
// 40/2 + 1 = 21.
func TestCutListByHand(t *testing.T) {
	want := []Piece{
		{"clear film, raised", 1, 40.4, 1.4, 56.56},
		{"clear film on the water", 1, 40.4, 1.4, 56.56},
		{"black film", 1, 40.4, 1.4, 56.56},
		{"foam, 50 mm", 1, 40, 1.2, 48},
		{"mirror film", 1, 40.4, 1.8, 72.72},
		{"battens, receiver edges", 2, 40, 0, 0},
		{"battens, receiver ends", 2, 1.2, 0, 0},
		{"battens, mirror foot, top", 2, 40, 0, 0},
		{"battens across the mirror", 21, 1.6, 0, 0},
	}
	s := sample()
	got := s.CutList()
	if !slices.EqualFunc(got, want, samePiece) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
	// 41 m need a batten at 0, 2 … 40 and at 41: 22.
	s.RowLength = 41
	if got := s.CutList(); got[8].Count != 22 {
		t.Errorf("41 m: %v", got[8])
	}
	s.Design.MirrorLength, s.Layers = 0, Layers{}
	names := ""
	for _, p := range s.CutList() {
		names += p.Part + ";"
	}
	if names != "clear film, each layer;black film;foam;battens, receiver edges;battens, receiver ends;" {
		t.Errorf("no mirror, no films: %s", names)
	}
}

func samePiece(a, b Piece) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) < 1e-9 }
	return a.Part == b.Part && a.Count == b.Count && near(a.Length, b.Length) && near(a.Width, b.Width) && near(a.Area, b.Area)
}

// The row has 48 m² of receiver, 64 m² of mirror, 144 m² of ground and
// 48/2000 = 0.024 of the site. Prices: 48 + 32 + 80 + 432 + 240 = 832; labour
// 4.8 + 2.4 = 7.2 h; running 64·0.25 + 48·0.5 = 40 a year.
func TestBillByHand(t *testing.T) {
	lines, sum, running := sample().Bill()
	if len(lines) != 5 || math.Abs(sum.Price-832) > 1e-9 || math.Abs(sum.Labour-7.2) > 1e-9 || math.Abs(running-40) > 1e-9 {
		t.Errorf("%v, %v, running %g", lines, sum, running)
	}
	if l := lines[4]; l.Item != "pump" || math.Abs(l.Amount-0.024) > 1e-12 || math.Abs(l.Price-240) > 1e-9 {
		t.Errorf("%+v", l)
	}
	s := sample()
	s.Design.MirrorLength, s.Design.RowPitch = 0, 0
	if lines, _, _ := s.Bill(); len(lines) != 3 {
		t.Errorf("a single row without a mirror: %v", lines)
	}
}

// 800 W/m² on 48 m² are 38.4 kW; over 4182 J/kgK and 10 K that is 0.91822 kg/s,
// 3305.6 kg/h, at 998 kg/m³ 55.20 l/min. The water is 48 m²·0.04 m = 1.92 m³,
// 1.2·0.04·998 = 47.9 kg per m.
func TestFlowByHand(t *testing.T) {
	s := sample()
	kg, litres, ok := s.Flow(s.Noon)
	if !ok || math.Abs(kg-3305.6) > 0.1 || math.Abs(litres-55.20) > 0.01 {
		t.Errorf("%g kg/h, %g l/min", kg, litres)
	}
	if v, m := s.Water(); math.Abs(v-1.92) > 1e-12 || math.Abs(m-47.904) > 1e-9 {
		t.Errorf("%g m³, %g kg/m", v, m)
	}
	s.Inlet = 60
	if _, _, ok := s.Flow(s.Noon); ok || !strings.Contains(s.pump(), "does not say the flow") {
		t.Errorf("no rise: %s", s.pump())
	}
}

// Whatever the number of items, the bars shown add up to the levelised cost.
func TestPartsAddUp(t *testing.T) {
	s := sample()
	s.Cost.Parts, s.Cost.LCOH = nil, 0
	for i := range 40 {
		s.Cost.Parts = append(s.Cost.Parts, Part{"item", cost.RowM, float64(i)})
		s.Cost.LCOH += float64(i)
	}
	var sum float64
	for _, p := range s.parts() {
		sum += p.PerKWh
	}
	if n := len(s.parts()); n != mostParts || math.Abs(sum-s.Cost.LCOH) > 1e-9 {
		t.Errorf("%d bars, together %g of %g", n, sum, s.Cost.LCOH)
	}
}

func TestWordsOfChance(t *testing.T) {
	for v, want := range map[float64]string{1: "100 %", 0: "0 %", 0.996: "over 99 %", 0.004: "under 1 %", 0.73: "73 %"} {
		if got := percent(v); got != want {
			t.Errorf("%g: %s, want %s", v, got, want)
		}
	}
}
