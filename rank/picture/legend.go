package picture

import (
	"fmt"
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
	"stillrow/rank/shade"
)

// legend explains the colours, from the cheapest above to the dearest below,
// with gas parity as the line between them. It tells how far down it came.
func (v *scene) legend(sh *sheet, x, top vg.Length) (bottom vg.Length) {
	const step, swatch = 21, 26
	head := letter.Pen{Size: 10, Bold: true, Ink: inkText, Y: -1}
	text := letter.Pen{Size: 9, Ink: inkText, Y: -0.5}
	note := letter.Pen{Size: 8, Ink: inkQuiet, Y: -1}
	for k, line := range []string{"Levelised cost of heat (LCOH)", "against heat from gas"} {
		sh.Write(head, x, top-vg.Length(12*k), line)
	}
	y := top - 27
	for _, line := range []string{"LCOH: all costs of a life over the heat it delivers", "heat from gas: running cost of a boiler alone"} {
		sh.Write(note, x, y, line)
		y -= 10
	}
	unit := "LCOH ÷ heat from gas"
	if !math.IsNaN(v.gas) {
		unit += "  (" + v.s.Currency + "/kWh)"
	}
	sh.Write(letter.Pen{Size: 8.5, Bold: true, Ink: inkText, Y: -1}, x, y-3, unit)
	y -= 17
	classes := shade.Classes()
	parity := slices.IndexFunc(classes, func(c shade.Class) bool { return c.From == 1 })
	for i, c := range classes {
		if i == parity {
			y -= 6
			sh.line(x-4, y, x+swatch+4, y, 1.8, inkText)
			text := "gas parity: 1"
			if !math.IsNaN(v.gas) {
				text = fmt.Sprintf("gas parity: 1 = %.4f %s/kWh", v.gas, v.s.Currency)
			}
			sh.Write(letter.Pen{Size: 8.5, Bold: true, Ink: inkText, Y: -0.5}, x+swatch+8, y, text)
			y -= 6
		}
		sh.color(c.Colour)
		sh.fill(rectangle(x, y-step, x+swatch, y))
		sh.stroke(rectangle(x, y-step, x+swatch, y), 0.4, inkQuiet)
		sh.Write(text, x+swatch+8, y-step/2, v.classText(c))
		y -= step
	}
	y -= 8
	sh.color(shade.Without())
	bare := rectangle(x, y-14, x+swatch, y)
	sh.fill(bare)
	hatch(sh, bare)
	sh.stroke(bare, 0.4, inkQuiet)
	sh.Write(text, x+swatch+8, y-7, "no usable heat")
	y -= 22
	if v.asked {
		for k, c := range []color.NRGBA{classes[parity].Colour, classes[parity-2].Colour} {
			left := x + vg.Length(k)*swatch/2
			sh.color(c)
			sh.fill(rectangle(left, y-16, left+swatch/2, y-2))
			sh.color(inkText)
			if dark(c) {
				sh.color(inkPaper)
			}
			sh.fill(disc(left+swatch/4, y-9, 1))
		}
		sh.Write(text, x+swatch+8, y-4, "not sure which is cheaper:")
		sh.Write(text, x+swatch+8, y-15, fmt.Sprintf("probability between %.0f and %g %%", 100*(1-sure), 100*sure))
		y -= 30
	}
	if len(v.o.Within) > 0 {
		sh.line(x, y-6, x+swatch, y-6, 1.2, inkArea)
		sh.Write(text, x+swatch+8, y-6, "border of the area")
		y -= 20
	}
	return y
}

// classText says what a class means, with the cost where there is one price of
// gas.
func (v *scene) classText(c shade.Class) string {
	from, to := plain(c.From), plain(c.To)
	var text string
	switch {
	case c.From == 0:
		text = "under " + to
	case math.IsInf(c.To, 1):
		text = from + " and more"
	default:
		text = from + " to " + to
	}
	if math.IsNaN(v.gas) {
		return text
	}
	switch {
	case c.From == 0:
		return fmt.Sprintf("%s  (under %.3f)", text, c.To*v.gas)
	case math.IsInf(c.To, 1):
		return fmt.Sprintf("%s  (from %.3f)", text, c.From*v.gas)
	}
	return fmt.Sprintf("%s  (%.3f to %.3f)", text, c.From*v.gas, c.To*v.gas)
}

// A lean is how the best mirrors of a slice of latitude stand.
type lean struct {
	lat            float64 // the slice's middle, absolute
	low, mid, high float64 // degrees; NaN where no site is best with a mirror
	bare           bool    // most sites are best without a mirror
}

// leans sorts the best tilts by slices of absolute latitude: at most a dozen.
func (v *scene) leans() (list []lean, slice float64) {
	least, most := 90., 0.
	for i, m := range v.marks {
		if m.class >= 0 {
			lat := math.Abs(v.s.Place(i).Lat)
			least, most = min(least, lat), max(most, lat)
		}
	}
	if least > most {
		return nil, 0
	}
	slice = max(1, degrees((most-least)/10))
	tilts, all := make(map[int][]float64), make(map[int]int)
	for i, m := range v.marks {
		if m.class < 0 {
			continue
		}
		k := int(math.Floor(math.Abs(v.s.Place(i).Lat) / slice))
		all[k]++
		if m.tilt == m.tilt {
			tilts[k] = append(tilts[k], float64(m.tilt))
		}
	}
	for k := int(least / slice); k <= int(most/slice); k++ {
		if all[k] == 0 {
			continue
		}
		l := lean{lat: (float64(k) + 0.5) * slice, bare: 2*len(tilts[k]) < all[k]}
		if t, ok := spreadOf(tilts[k]); ok {
			l.low, l.mid, l.high = t.low, t.mid, t.high
		} else {
			l.low, l.mid, l.high = math.NaN(), math.NaN(), math.NaN()
		}
		list = append(list, l)
	}
	return list, slice
}

// tiltsHigh is the height that tilts takes, and tiltRow that of one of its rows.
func (v *scene) tiltsHigh() vg.Length {
	list, _ := v.leans()
	return 61 + tiltRow(len(list))*vg.Length(len(list))
}

func tiltRow(rows int) vg.Length { return min(13, 132/vg.Length(max(rows, 1))) }

// tilts draws the best mirror's tilt over latitude: which tilt here?
func (v *scene) tilts(sh *sheet, x, top vg.Length) {
	list, slice := v.leans()
	head := letter.Pen{Size: 9, Bold: true, Ink: inkText, Y: -1}
	text := letter.Pen{Size: 8, Ink: inkQuiet, Y: -0.5, X: -1}
	sh.Write(head, x, top, "Best mirror tilt by latitude")
	if !slices.ContainsFunc(list, func(l lean) bool { return l.mid == l.mid }) {
		sh.Write(letter.Pen{Size: 8, Ink: inkQuiet, Y: -1}, x, top-13, "no mirror is best anywhere")
		return
	}
	low, high := 180., 0.
	for _, l := range list {
		if l.mid == l.mid {
			low, high = min(low, l.low), max(high, l.high)
		}
	}
	low, high = math.Floor(low/10)*10-5, math.Ceil(high/10)*10+5
	left, right := x+40, x+mapRight-40
	row := tiltRow(len(list))
	y := top - 18
	at := func(tilt float64) vg.Length { return left + (right-left)*vg.Length((tilt-low)/(high-low)) }
	bottom := y - row*vg.Length(len(list))
	step := max(5, degrees((high-low)/5))
	for t := math.Ceil(low/step) * step; t <= high; t += step {
		sh.line(at(t), bottom, at(t), y, 0.4, inkLine)
		sh.Write(letter.Pen{Size: 8, Ink: inkQuiet, X: -0.5, Y: -1}, at(t), bottom-3, plain(t)+"°")
	}
	hollow := false
	for k := len(list) - 1; k >= 0; k-- {
		l := list[k]
		mid := y - row/2
		if row >= 9 || k%2 == 0 {
			label := plain(l.lat-slice/2) + "–" + plain(l.lat+slice/2) + "°"
			sh.Write(text, left-6, mid, label)
		}
		y -= row
		if l.mid != l.mid {
			p := letter.Pen{Size: 7.5, Ink: inkQuiet, Y: -0.5}
			sh.color(inkPaper)
			sh.fill(rectangle(left+2, mid-4, left+6+sh.Wide(p, "no mirror"), mid+4))
			sh.Write(p, left+4, mid, "no mirror")
			continue
		}
		sh.line(at(l.low), mid, at(l.high), mid, 2.2, inkLine)
		sh.color(inkText)
		if l.bare {
			sh.color(inkPaper)
		}
		sh.fill(disc(at(l.mid), mid, 2.2))
		sh.stroke(disc(at(l.mid), mid, 2.2), 0.7, inkText)
		hollow = hollow || l.bare
	}
	note := letter.Pen{Size: 7.5, Ink: inkQuiet, Y: -1}
	sh.Write(note, x, bottom-15, "median, and where 8 of 10 sites lie;")
	sh.Write(note, x, bottom-24, "from the ground behind the mirror: 90° is upright,")
	sh.Write(note, x, bottom-33, "less leans back, more overhangs the receiver")
	if hollow {
		sh.Write(note, x, bottom-42, "hollow: most sites do best without a mirror")
	}
}

// foot says where it comes from and what it is not.
func (v *scene) foot(sh *sheet, width vg.Length) {
	p := letter.Pen{Size: 7.5, Ink: inkQuiet, Y: -1}
	y := vg.Length(30)
	if v.o.Source != "" {
		lines := sh.Fold(p, width-32, v.o.Source)
		if len(lines) > 2 { // the rest is in run.json
			lines = append(lines[:1], lines[1]+" …")
		}
		y += vg.Length(9 * (len(lines) - 1))
		for _, line := range lines {
			sh.Write(p, 16, y, line)
			y -= 9
		}
	}
	sh.Write(p, 16, 19, caution)
}
