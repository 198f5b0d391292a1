package risk

import (
	"cmp"
	"math"
	"slices"

	"stillrow/simulate/result"
)

// A Bar is what one input does alone: the levelised cost with it at its low and
// its high value and everything else as it is likely. Low and high are those of
// a Range as stated, two standard deviations of a Normal as far as it is not
// cut, and the stated percentiles of the year.
type Bar struct {
	Input         string
	Low, High     float64 // of the input; of physics and weather the relative change
	AtLow, AtHigh float64 // levelised cost
	Relative      bool    // low and high are changes, 0.1 for a tenth more
}

// Width is how far the input moves the cost.
func (b *Bar) Width() float64 { return math.Abs(b.AtHigh - b.AtLow) }

// Tornado gives the levelised cost with everything as likely, and one bar for
// each input that is not known, the widest first and by name among equals.
func (m *Model) Tornado(money *Money, w *Weather, d *Design, h Heater) (base float64, bars []Bar) {
	heat := h.Heat([result.Params]float64{})
	base = money.Likely(d, heat)
	market := &money.market
	add := func(name string, r Range, put func(*figures) *float64) {
		if r.known() {
			return
		}
		at := func(v float64) float64 {
			f := market.likely()
			*put(&f) = v
			s := market.settle(&f, nil)
			return s.lcoh(d, heat)
		}
		bars = append(bars, Bar{Input: name, Low: r.Low, High: r.High, AtLow: at(r.Low), AtHigh: at(r.High)})
	}
	for k, it := range market.Items {
		if d.Per[it.Unit] == 0 {
			continue
		}
		add("price of "+it.Name, it.Price, func(f *figures) *float64 { return &f.price[k] })
		add("labour for "+it.Name, it.LabourH, func(f *figures) *float64 { return &f.labourH[k] })
		add("life of "+it.Name, it.Life, func(f *figures) *float64 { return &f.life[k] })
		add("running cost of "+it.Name, it.Running, func(f *figures) *float64 { return &f.running[k] })
	}
	for _, one := range market.single() {
		add(one.name, one.Range, one.put)
	}
	changed := func(name string, p result.Param, low, high float64) {
		if low == high {
			return
		}
		at := func(v float64) float64 {
			var change [result.Params]float64
			change[p] = v
			return money.Likely(d, h.Heat(change))
		}
		bars = append(bars, Bar{name, low, high, at(low), at(high), true})
	}
	for p, n := range m.o.Physics {
		low, high := n.cut()
		changed(inputs[p], result.Param(p), max(low, -2*n.SD), min(high, 2*n.SD))
	}
	if s := &w.site; s.yearKnown() {
		z := quantile(0.9)
		changed(s.yearName(), result.Irradiance, s.year(-z)-1, s.year(z)-1)
	}
	slices.SortStableFunc(bars, func(a, b Bar) int {
		return cmp.Or(cmp.Compare(b.Width(), a.Width()), cmp.Compare(a.Input, b.Input))
	})
	return base, bars
}

// inputs names the parameters of heat as people do.
var inputs = [result.Params]string{
	result.Eta0b: "optical efficiency of the receiver", result.C1: "heat loss of the receiver",
	result.Reflectance: "reflectance of the mirror", result.Irradiance: "bias of the weather's source",
}
