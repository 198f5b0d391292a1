package picture

import (
	"errors"
	"fmt"
	"image/color"
	"math"
	"slices"

	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
	"stillrow/rank/survey"
)

// A Band is a band of latitude in one layer.
type Band struct {
	Layer    int     // of the survey
	From, To float64 // degrees
	Tilt     float64 // of the mirror that one design for the whole band has; NaN without one
}

// A spread is where the middle and eight of ten of some values lie.
type spread struct{ low, mid, high float64 }

func spreadOf(values []float64) (spread, bool) {
	if len(values) == 0 {
		return spread{}, false
	}
	slices.Sort(values)
	at := func(share float64) float64 { return values[int(math.Round(share*float64(len(values)-1)))] }
	return spread{at(0.1), at(0.5), at(0.9)}, true
}

// A strip is a band with what its sites come to.
type strip struct {
	Band
	tilt, cost, gas    spread
	someTilt, someCost bool
	bare               bool // most of its sites are best without a mirror
}

// Sizes of the panels of Bands, points.
const (
	panelWide, panelHigh = 138, 132
	panelGap             = 16
	bandsLeft            = 96
	bandsTop             = 62
	blockHead            = 64
	tiltGutter           = 11 // left of the tilts, for bands without a mirror
)

// Bands draws how the best tilt and the cost change with latitude, in a panel
// for every use and outlet temperature.
func Bands(s *survey.Survey, bands []Band, o Options) (*Drawing, error) {
	var uses []string
	var outlets []float64
	for _, l := range s.Layers {
		if !slices.Contains(uses, l.Use) {
			uses = append(uses, l.Use)
		}
		if !slices.Contains(outlets, l.Outlet) {
			outlets = append(outlets, l.Outlet)
		}
	}
	if len(bands) == 0 {
		return nil, errors.New("picture: no bands of latitude")
	}
	b := &bandSheet{s: s, o: o, uses: uses, outlets: outlets, strips: make([][]strip, len(s.Layers))}
	for _, band := range bands {
		if band.Layer < 0 || band.Layer >= len(s.Layers) {
			return nil, fmt.Errorf("picture: layer %d of a band, want 0 to %d", band.Layer, len(s.Layers)-1)
		}
		b.strips[band.Layer] = append(b.strips[band.Layer], strip{Band: band})
	}
	for l := range s.Layers {
		if err := b.measure(l); err != nil {
			return nil, err
		}
	}
	b.scale()
	block := blockHead + vg.Length(len(uses))*(panelHigh+panelGap)
	return &Drawing{
		width:  max(430, bandsLeft+vg.Length(len(outlets))*(panelWide+panelGap)+8),
		height: bandsTop + 2*block + 58, draw: b.draw,
	}, nil
}

type bandSheet struct {
	s                  *survey.Survey
	o                  Options
	uses               []string
	outlets            []float64
	strips             [][]strip // by layer
	south, north       float64
	leastTilt, topTilt float64
	leastCost, topCost float64
	capped             bool // some cost lies above topCost
}

// measure sorts the best tilts and costs of a layer's sites by its bands.
func (b *bandSheet) measure(layer int) error {
	strips := b.strips[layer]
	tilts, costs, gas := make([][]float64, len(strips)), make([][]float64, len(strips)), make([][]float64, len(strips))
	err := b.s.Each(layer, func(i int, f *survey.Finding) error {
		lat := b.s.Place(i).Lat
		k := slices.IndexFunc(strips, func(s strip) bool { return lat >= s.From && (lat < s.To || s.To == 90 && lat == 90) })
		if k < 0 {
			return nil
		}
		gas[k] = append(gas[k], f.GasHeat)
		if f.Design < 0 {
			return nil
		}
		costs[k] = append(costs[k], f.LCOH)
		if d := &b.s.Designs[f.Design]; d.MirrorLength > 0 {
			tilts[k] = append(tilts[k], d.MirrorTilt)
		}
		return nil
	})
	for k := range strips {
		strips[k].tilt, strips[k].someTilt = spreadOf(tilts[k])
		strips[k].cost, strips[k].someCost = spreadOf(costs[k])
		strips[k].gas, _ = spreadOf(gas[k])
		strips[k].bare = 2*len(tilts[k]) < len(costs[k])
	}
	return err
}

// scale finds axes that hold all panels: they are the same, to be compared.
func (b *bandSheet) scale() {
	b.south, b.north = 90, -90
	b.leastTilt, b.topTilt = 180, 0
	b.leastCost, b.topCost = math.Inf(1), 0
	for _, strips := range b.strips {
		for _, s := range strips {
			b.south, b.north = min(b.south, s.From), max(b.north, s.To)
			if s.someTilt {
				b.leastTilt, b.topTilt = min(b.leastTilt, s.tilt.low), max(b.topTilt, s.tilt.high)
			}
			if s.someCost && s.cost.low > 0 {
				b.leastCost, b.topCost = min(b.leastCost, s.cost.low), max(b.topCost, s.cost.high)
			}
			if s.gas.mid > 0 {
				b.leastCost, b.topCost = min(b.leastCost, s.gas.mid), max(b.topCost, s.gas.mid)
			}
		}
	}
	if b.leastTilt > b.topTilt {
		b.leastTilt, b.topTilt = 60, 120
	}
	b.leastTilt, b.topTilt = math.Floor(b.leastTilt/10)*10-5, math.Ceil(b.topTilt/10)*10+5
	if b.leastCost > b.topCost {
		b.leastCost, b.topCost = 0.01, 1
	}
	// Heat that costs a hundred times the cheapest is off the scale, not in the way.
	b.capped = b.topCost > 300*b.leastCost
	b.topCost = min(b.topCost, 300*b.leastCost)
	b.leastCost = b.leastCost / 1.3
	if !b.capped {
		b.topCost = max(b.topCost*1.3, b.leastCost*4)
	}
}

func (b *bandSheet) draw(sh *sheet) {
	block := blockHead + vg.Length(len(b.uses))*(panelHigh+panelGap)
	top := bandsTop + 2*block + 58
	title := "Best mirror tilt and cost of heat by latitude"
	if b.o.Title != "" {
		title = b.o.Title + ": " + title
	}
	width := max(430, bandsLeft+vg.Length(len(b.outlets))*(panelWide+panelGap)+8)
	p := letter.Pen{Size: 15, Bold: true, Ink: inkText, Y: -1}
	for p.Size > 8 && sh.Wide(p, title) > width-32 {
		p.Size--
	}
	sh.Write(p, 16, top-12, title)
	sh.Write(letter.Pen{Size: 9, Ink: inkText, Y: -1}, 16, top-34, "Each line is a band of latitude: the dot is the median of its sites, the bar where eight of ten lie.")
	b.block(sh, top-bandsTop, "Tilt of the best mirror, degrees from the ground behind it (90 is upright, less leans back, more overhangs)", tiltKeys(), b.tiltPanel)
	b.block(sh, top-bandsTop-block, "Levelised cost of heat, "+b.s.Currency+" per kWh, each step tenfold", costKeys(), b.costPanel)
	v := scene{o: b.o}
	v.foot(sh, width)
}

// block draws a panel for each use and outlet.
func (b *bandSheet) block(sh *sheet, top vg.Length, head string, keys []bandKey, panel func(*sheet, int, vg.Rectangle)) {
	p := letter.Pen{Size: 10, Bold: true, Ink: inkText, Y: -1}
	width := bandsLeft + vg.Length(len(b.outlets))*(panelWide+panelGap) - 16
	low := top
	for k, line := range sh.Fold(p, max(width, 400), head) {
		sh.Write(p, 16, top-vg.Length(12*k), line)
		if k > 0 {
			low -= 12
		}
	}
	sh.keys(keys, 16, low-20, width)
	for row, use := range b.uses {
		high := top - blockHead - vg.Length(row)*(panelHigh+panelGap)
		for k, line := range sh.Fold(letter.Pen{Size: 9, Bold: true}, 56, use) {
			if k < 4 {
				sh.Write(letter.Pen{Size: 9, Bold: true, Ink: inkText, Y: -1}, 12, high-vg.Length(11*k)-2, line)
			}
		}
		for column, outlet := range b.outlets {
			left := vg.Length(bandsLeft) + vg.Length(column)*(panelWide+panelGap)
			box := vg.Rectangle{Min: vg.Point{X: left, Y: high - panelHigh + 14}, Max: vg.Point{X: left + panelWide, Y: high}}
			if row == 0 {
				sh.Write(letter.Pen{Size: 9, Bold: true, Ink: inkText, X: -0.5}, left+panelWide/2, high+4, plain(outlet)+" °C")
			}
			b.axes(sh, box, column == 0)
			layer := slices.IndexFunc(b.s.Layers, func(l survey.Layer) bool { return l.Use == use && l.Outlet == outlet })
			if layer >= 0 {
				panel(sh, layer, box)
			}
			sh.stroke(rectangle(box.Min.X, box.Min.Y, box.Max.X, box.Max.Y), 0.6, inkQuiet)
		}
	}
}

func (b *bandSheet) y(box vg.Rectangle, lat float64) vg.Length {
	return box.Min.Y + (box.Max.Y-box.Min.Y)*vg.Length((lat-b.south)/(b.north-b.south))
}

func (b *bandSheet) axes(sh *sheet, box vg.Rectangle, labels bool) {
	step := degrees((b.north - b.south) / 5)
	for k := math.Ceil(b.south / step); k*step <= b.north; k++ {
		y := b.y(box, k*step)
		sh.line(box.Min.X, y, box.Max.X, y, 0.4, inkLine)
		if labels {
			sh.Write(letter.Pen{Size: 8, Ink: inkQuiet, X: -1, Y: -0.5}, box.Min.X-4, y, north(k*step))
		}
	}
}

// room is how much smaller than usual the marks of a strip are, so that they do
// not run into those of its neighbours.
func (b *bandSheet) room(box vg.Rectangle, s *strip) (scale vg.Length) {
	return min(1, max(0.25, (b.y(box, s.To)-b.y(box, s.From))/7))
}

func (b *bandSheet) tiltPanel(sh *sheet, layer int, box vg.Rectangle) {
	at := func(tilt float64) vg.Length {
		left := box.Min.X + tiltGutter
		return left + (box.Max.X-left)*vg.Length((tilt-b.leastTilt)/(b.topTilt-b.leastTilt))
	}
	sh.line(box.Min.X+tiltGutter, box.Min.Y, box.Min.X+tiltGutter, box.Max.Y, 0.4, inkQuiet)
	step := degrees((b.topTilt - b.leastTilt) / 6)
	for k := math.Ceil(b.leastTilt / step); k*step <= b.topTilt; k++ {
		sh.line(at(k*step), box.Min.Y, at(k*step), box.Max.Y, 0.4, inkLine)
		sh.Write(letter.Pen{Size: 8, Ink: inkQuiet, X: -0.5, Y: -1}, at(k*step), box.Min.Y-3, plain(k*step))
	}
	for _, s := range b.strips[layer] {
		if scale := b.room(box, &s); s.someTilt {
			y := b.y(box, (s.From+s.To)/2)
			sh.line(at(s.tilt.low), y, at(s.tilt.high), y, 2.4*scale, inkTilt)
		}
	}
	for _, s := range b.strips[layer] {
		scale := b.room(box, &s)
		y := b.y(box, (s.From+s.To)/2)
		if s.someTilt {
			sh.color(inkText)
			sh.fill(disc(at(s.tilt.mid), y, 1.9*scale))
		}
		if s.someCost && s.bare {
			x := box.Min.X + tiltGutter/2
			sh.stroke(rectangle(x-2*scale, y-2*scale, x+2*scale, y+2*scale), 0.8*scale, inkText)
		}
		if s.Tilt >= b.leastTilt && s.Tilt <= b.topTilt { // NaN is not
			sh.stroke(disc(at(s.Tilt), y, 3.4*scale), 0.9*scale, inkArea)
		}
	}
}

func (b *bandSheet) costPanel(sh *sheet, layer int, box vg.Rectangle) {
	width := math.Log(b.topCost / b.leastCost)
	at := func(cost float64) vg.Length {
		share := math.Log(min(max(cost, b.leastCost), b.topCost)/b.leastCost) / width
		return box.Min.X + (box.Max.X-box.Min.X)*vg.Length(share)
	}
	label := letter.Pen{Size: 8, Ink: inkQuiet, X: -0.5, Y: -1}
	for k := math.Ceil(math.Log10(b.leastCost)); k <= math.Log10(b.topCost); k++ {
		cost := math.Pow(10, k)
		sh.line(at(cost), box.Min.Y, at(cost), box.Max.Y, 0.4, inkLine)
		if !b.capped || at(cost) < box.Max.X-16 {
			sh.Write(label, at(cost), box.Min.Y-3, fmt.Sprintf("%.3g", cost))
		}
	}
	if b.capped {
		sh.Write(label, box.Max.X-2, box.Min.Y-3, fmt.Sprintf(">%.2g", b.topCost))
	}
	colours := func(s *strip) (dot, bar color.NRGBA) {
		if s.cost.mid < s.gas.mid {
			return inkCheap, inkCheapBar
		}
		return inkDear, inkDearBar
	}
	for _, s := range b.strips[layer] {
		if scale := b.room(box, &s); s.someCost {
			y := b.y(box, (s.From+s.To)/2)
			_, bar := colours(&s)
			sh.line(at(s.cost.low), y, at(s.cost.high), y, 2.4*scale, bar)
		}
	}
	for _, s := range b.strips[layer] {
		sh.line(at(s.gas.mid), b.y(box, s.From), at(s.gas.mid), b.y(box, s.To), 1.4, inkText)
	}
	for _, s := range b.strips[layer] {
		if !s.someCost {
			continue
		}
		scale := b.room(box, &s)
		dot, _ := colours(&s)
		sh.color(dot)
		sh.fill(disc(at(s.cost.mid), b.y(box, (s.From+s.To)/2), 2*scale))
	}
}
