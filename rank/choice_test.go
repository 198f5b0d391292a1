package rank

import (
	"math"
	"testing"

	"stillrow/simulate/result"
)

func TestBestDesign(t *testing.T) {
	wide := mirror(2, 60)
	wide.ReceiverWidth = 2 // the mirror is 1 m² per m² of receiver
	for _, tt := range []struct {
		name         string
		designs      []result.Design
		heat         []float64
		best, second int
	}{
		// LCOH 10/(10·100) = 0.01, 14/(10·150) = 0.00933, 14/(10·139) = 0.01007
		{"the cheapest heat, then the next", []result.Design{mirror(0, 60), mirror(1, 60), mirror(1, 70)}, []float64{100, 150, 139}, 1, 0},
		// 14/(10·175) = 10/(10·125) = 0.008
		{"a tie goes to less mirror", []result.Design{mirror(1, 60), mirror(0, 60)}, []float64{175, 125}, 1, 0},
		{"then to the lower number", []result.Design{mirror(1, 60), mirror(1, 70), mirror(1, 80)}, []float64{100, 120, 120}, 1, 2},
		{"mirror counts per m² of receiver", []result.Design{mirror(1.5, 60), wide}, []float64{160, 140}, 1, 0},
		{"designs without a mirror are one heater", []result.Design{mirror(0, 50), mirror(0, 60), mirror(1, 60)}, []float64{120, 120, 100}, 0, 2},
		{"and no runner-up of one another", []result.Design{mirror(0, 50), mirror(0, 60)}, []float64{120, 120}, 0, -1},
		{"a design twice in the study is no runner-up of itself", []result.Design{mirror(1, 60), mirror(1, 60), mirror(1, 65)}, []float64{120, 120, 110}, 0, 2},
		{"only designs with heat", []result.Design{mirror(0, 60), mirror(1, 60)}, []float64{0, 5}, 1, -1},
		{"no heat at all", []result.Design{mirror(0, 60), mirror(1, 60)}, []float64{0, 0}, -1, -1},
	} {
		c := decide(t, handOptions(t, tt.designs, wholeYear), flat("x", 10, tt.heat...))
		if c.best != tt.best || c.second != tt.second {
			t.Errorf("%s: design %d, then %d; want %d, then %d (LCOH %v)", tt.name, c.best, c.second, tt.best, tt.second, c.lcoh)
		}
	}
}

// 120 kWh/m² without and 180 with 1 m of mirror: 10/1200 = 0.008333 against
// 14/1800 = 0.007778; half of the heat delivered doubles both.
func TestRow(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 65)}, wholeYear)
	o.Markets[0].Plan.DeliveredShare = 0.5
	o.Table.Designs[1].RowPitch = 4
	b := flat("x", 10, 120, 180)
	b.Site.Name = "Halvane \xff Ness"
	r := rowAt(t, o, b)
	for _, v := range []struct {
		name      string
		got, want float64
	}{
		{"heat", r.Heat, 180},
		{"a month", float64(*r.M07), 15},
		{"LCOH", *r.LCOH, 28. / 1800},
		{"gas heat", r.GasHeat, 0.1},
		{"ratio", *r.GasRatio, 280. / 1800},
		{"break-even gas price", *r.BreakEven, 28. / 1800 * 0.9},
		{"saving", *r.Saving, (0.1 - 28./1800) * 90},
		{"runner-up LCOH", *r.SecondLCOH, 20. / 1200},
		{"runner-up extra", *r.SecondExtra, 100 * (1800./28*20/1200 - 1)}, // 7.14 %
		{"runner-up length", *r.SecondLength, 0},
		{"tilt", *r.MirrorTilt, 65},
		{"pitch", *r.RowPitch, 4},
	} {
		if math.Abs(v.got-v.want) > 1e-12*(1+math.Abs(v.want)) {
			t.Errorf("%s = %v, want %v", v.name, v.got, v.want)
		}
	}
	if !r.BeatsGas || *r.DesignID != 1 || *r.SecondID != 0 || r.RowLength != nil || r.Name != "Halvane \uFFFD Ness" {
		t.Errorf("row %+v: want gas beaten, design 1, then 0, an endless row, and a name of valid text", r)
	}
}

func TestRowWithoutHeat(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 60)}, wholeYear)
	b := flat("x", 10, 0, 0)
	r := rowAt(t, o, b)
	if r.LCOH != nil || r.GasRatio != nil || r.DesignID != nil || r.MirrorTilt != nil || r.BreakEven != nil || r.Saving != nil || r.SecondID != nil || r.M01 != nil || r.BeatsGas || r.Heat != 0 {
		t.Errorf("row %+v, want nulls and gas not beaten", r)
	}
}

func TestMapHasNoTiltWithoutMirror(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60)}, wholeYear)
	b := flat("x", 10, 100)
	r := rowAt(t, o, b)
	if m := r.mark(); m.Tilt != nil || *m.Length != 0 {
		t.Errorf("mark %+v, want no tilt and a length of 0", m)
	}
}
