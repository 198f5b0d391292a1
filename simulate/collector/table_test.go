package collector

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"stillrow/simulate/sun"
)

// byErfc fills a table as Tabulator.Tabulate does, by the quadrature that takes
// the complementary error function in double precision.
func byErfc(h *Heater, beam []float32) {
	edge := h.Factors(inside)
	for i := range PsiBins {
		mid, next := h.Factors(BinMiddle(i)), h.Factors(sun.Angle(float64(i+1)*psiBin-inside))
		a := mid
		a.Direct = (edge.Direct + 4*mid.Direct + next.Direct) / 6
		a.Fmir = (edge.Fmir + 4*mid.Fmir + next.Fmir) / 6
		if mid.Path == 0 {
			a.Path = max(edge.Path, next.Path)
		}
		for j := range S2Bins {
			beam[i*S2Bins+j] = float32(h.beam(a, BinMiddle(i), binS2(j)))
		}
		edge = next
	}
}

// tableDesigns are of the kinds that cost most and least to tabulate.
var tableDesigns = []Design{
	{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 75},
	{ReceiverWidth: 1, MirrorLength: 1.25, MirrorTilt: 65, RowPitch: 3},
	{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 75, RowPitch: 2.5},
	{ReceiverWidth: 1, MirrorLength: 1.5, MirrorTilt: 110, RowPitch: 3},
	{ReceiverWidth: 1.2, MirrorLength: .75, MirrorTilt: 95, Setback: .2, RowPitch: 4},
}

// Tables are those by the error function to 1e-6, on rows with ends too.
func TestTableAgainstErfc(t *testing.T) {
	r := &Receiver{Kb: Sample(FilmStack{{N: 1.5, KL: .02}}), Eta0b: .8, Kd: .9}
	tab := NewTabulator(r)
	m := Mirror{Reflectance: .85, Cleanliness: .95, SlopeError: 2, Scatter: 1}
	ended := Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 90, Raise: .2, RowPitch: 3, RowLength: 20}
	for _, d := range append(tableDesigns[:len(tableDesigns):len(tableDesigns)], ended) {
		h := NewHeater(d, r, m)
		want, got, direct := make([]float32, Rows), make([]float32, Rows), make([]float32, PsiBins)
		byErfc(h, want)
		tab.Tabulate(h, got, direct, 1, 0)
		var worst float64
		for row, w := range want {
			worst = max(worst, math.Abs(float64(got[row])-float64(w)))
		}
		t.Logf("%+v: off by %.1e at worst", d, worst)
		if worst > 1e-6 {
			t.Errorf("%+v: off by %.1e at worst", d, worst)
		}
		for range 100 {
			row := rand.IntN(Rows)
			byMirror := float64(got[row]) - float64(direct[row/S2Bins])*tab.Gain()[row]
			if byMirror < -1e-6 {
				t.Fatalf("%+v, row %d: %g beyond the direct light", d, row, byMirror)
			}
		}
	}
}

// BenchmarkTable sets the tables against those by the error function, turn about.
func BenchmarkTable(b *testing.B) {
	r := &Receiver{Kb: Sample(FilmStack{{N: 1.5, KL: .02}}), Eta0b: .8, Kd: .9}
	tab := NewTabulator(r)
	m := Mirror{Reflectance: .85, Cleanliness: .95, SlopeError: 2, Scatter: 1}
	var heaters []*Heater
	for _, d := range tableDesigns {
		heaters = append(heaters, NewHeater(d, r, m))
	}
	beam, direct := make([]float32, Rows), make([]float32, PsiBins)
	want := make([]float32, Rows)
	var worst float32
	for _, h := range heaters {
		byErfc(h, want)
		tab.Tabulate(h, beam, direct, 1, 0)
		for row := range want {
			worst = max(worst, want[row]-beam[row], beam[row]-want[row])
		}
	}
	quick, erfc := time.Duration(math.MaxInt64), time.Duration(math.MaxInt64)
	for range b.N {
		from := time.Now()
		for _, h := range heaters {
			byErfc(h, beam)
		}
		between := time.Now()
		for _, h := range heaters {
			tab.Tabulate(h, beam, direct, 1, 0)
		}
		quick, erfc = min(quick, time.Since(between)), min(erfc, between.Sub(from))
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(quick.Seconds()*1000/float64(len(heaters)), "ms/design")
	b.ReportMetric(quick.Seconds()*1e9/float64(len(heaters)*Rows), "ns/entry")
	b.ReportMetric(erfc.Seconds()/quick.Seconds(), "table:erfc")
	b.ReportMetric(float64(worst), "error")
}
