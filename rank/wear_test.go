package rank

import (
	"math"
	"testing"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// A film that gets twice the dose its rated life stands for lasts half as
// long, and the price of heat rises by what the plan asks for at that life;
// less than the rated dose changes nothing.
func TestDosesShortenLives(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(1, 90)}, wholeYear)
	o.Table.Stress = true
	o.Markets[0].Plan.Items = []cost.Item{{Name: "clear", Unit: cost.ReceiverM2, Price: 5, LifeYears: 4, Film: cost.ClearFilm}, {Name: "rest", Unit: cost.ReceiverM2, Price: 20, LifeYears: 20}}
	o.Lives = Lives{cost.ClearFilm: {UV: 100, Warm: 5000}}
	for _, tt := range []struct {
		name     string
		uv, warm float32
		life     float64
	}{
		{"ultraviolet twice the rated", 200, 1000, 2},
		{"warmth four times the rated", 50, 20000, 1},
		{"less than rated", 50, 1000, 4},
	} {
		b := flat("A", 40, 360)
		b.Stress = make([]float32, result.Stresses)
		b.Stress[result.UVClear], b.Stress[result.WarmReceiver] = tt.uv, tt.warm
		picks, err := Picks(o, b)
		if err != nil {
			t.Fatal(err)
		}
		plan := o.Markets[0].Plan
		plan.Items = []cost.Item{o.Markets[0].Plan.Items[0], o.Markets[0].Plan.Items[1]}
		plan.Items[0].LifeYears = tt.life
		want, err := plan.PVCost(o.Table.Designs[0])
		if err != nil {
			t.Fatal(err)
		}
		if got := picks[0].PVCost[0]; math.Abs(got-want) > 1e-9*want {
			t.Errorf("%s: present value %g, want %g (life %g years)", tt.name, got, want, tt.life)
		}
	}
}

// An outlet above what a material bears has no design, beats nothing and says
// why; one at the limit is built.
func TestOutletAboveMaterials(t *testing.T) {
	for _, tt := range []struct {
		outlet float64
		m      Materials
		why    string
	}{
		{75, Materials{Clear: 98, Black: 98, Foam: 75}, ""},
		{76, Materials{Clear: 98, Black: 98, Foam: 75}, "the foam bears 75 °C"},
		{99, Materials{Clear: 98, Black: 90, Foam: math.NaN()}, "the black film bears 90 °C"},
		{99, Materials{}, ""},
	} {
		if got := tt.m.refuse(tt.outlet); got != tt.why {
			t.Errorf("outlet %g: %q, want %q", tt.outlet, got, tt.why)
		}
	}
	o := handOptions(t, []result.Design{mirror(1, 90)}, wholeYear)
	o.Materials = Materials{Foam: o.Table.Outlets[0] - 1}
	s := summarise(t, o, flat("A", 40, 600))
	if r := s.Results[0]; r.Refused == "" || r.BeatGas != 0 || r.Cheapest != nil {
		t.Errorf("%+v", r)
	}
}
