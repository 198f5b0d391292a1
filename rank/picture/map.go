package picture

import (
	"cmp"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
	"stillrow/rank/shade"
	"stillrow/rank/survey"
)

// Sizes of a map's sheet, points.
const (
	mapWide   = 660 // the frame's sides at most
	mapHigh   = 520
	mapLeft   = 52
	mapRight  = 232 // the legend's column
	mapTop    = 66
	mapBottom = 64
	mapKey    = 292 // the legend of the colours needs as much
	mapGap    = 36  // below the frame, for its degrees
)

// How sure it must be to be called so, and unsure to be dotted.
const sure = 0.9

// A mark is what a map needs of one finding.
type mark struct {
	class  int8 // of shade, -1 without heat
	unsure bool
	tilt   float32 // of the best design's mirror; NaN without one
}

// A scene is one layer, counted.
type scene struct {
	s     *survey.Survey
	o     Options
	layer survey.Layer
	marks []mark

	beats, certain, none int
	asked                bool    // whether probabilities are known
	gas                  float64 // cost of heat from gas where it is the same everywhere; else NaN
}

func newScene(s *survey.Survey, layer int, o Options) (*scene, error) {
	if layer < 0 || layer >= len(s.Layers) {
		return nil, fmt.Errorf("picture: layer %d, want 0 to %d", layer, len(s.Layers)-1)
	}
	v := &scene{s: s, o: o, layer: s.Layers[layer], marks: make([]mark, s.Len()), gas: math.NaN()}
	err := s.Each(layer, func(i int, f *survey.Finding) error {
		m := mark{class: int8(shade.Of(f.Ratio)), tilt: float32(math.NaN())}
		switch {
		case f.Design < 0:
			v.none++
		case s.Designs[f.Design].MirrorLength > 0:
			m.tilt = float32(s.Designs[f.Design].MirrorTilt)
		}
		if f.BeatsGas {
			v.beats++
		}
		if !math.IsNaN(f.Sure) {
			v.asked = true
			m.unsure = f.Sure > 1-sure && f.Sure < sure
			if f.Sure >= sure {
				v.certain++
			}
		}
		if i == 0 {
			v.gas = f.GasHeat
		} else if f.GasHeat != v.gas {
			v.gas = math.NaN()
		}
		v.marks[i] = m
		return nil
	})
	return v, err
}

// Map draws one layer: where its heat is cheaper than gas, how much, and how
// sure that is.
func Map(s *survey.Survey, layer int, o Options) (*Drawing, error) {
	v, err := newScene(s, layer, o)
	if err != nil {
		return nil, err
	}
	f := newFrame(s, mapLeft, mapBottom, mapWide, mapHigh)
	// The tilts stand below the colours, or below a low map where that saves paper.
	key, tilts := vg.Length(mapKey), v.tiltsHigh()
	if len(o.Within) > 0 {
		key += 20
	}
	height, low := max(f.height(), key+tilts), max(f.height()+mapGap+tilts, key)
	below := low < height
	height = min(height, low)
	f.y += height - f.height()
	width := max(f.width(), 330)
	f.x += (width - f.width()) / 2
	return &Drawing{
		width: mapLeft + width + mapRight, height: mapBottom + height + mapTop,
		draw: func(sh *sheet) {
			v.head(sh, mapBottom+height+mapTop, mapLeft+width+mapRight)
			v.ground(sh, f)
			lone := v.lone(f)
			v.fields(sh, f, lone)
			v.lines(sh, f)
			v.stations(sh, f, lone)
			v.dots(sh, f)
			y := v.legend(sh, mapLeft+width+18, mapBottom+height)
			if below {
				v.tilts(sh, f.x, f.y-mapGap)
			} else {
				v.tilts(sh, mapLeft+width+18, y)
			}
			v.foot(sh, mapLeft+width+mapRight)
		},
	}, nil
}

// head writes what the map shows and what comes of it.
func (v *scene) head(sh *sheet, top, width vg.Length) {
	title := fmt.Sprintf("%s, %s °C", v.layer.Use, plain(v.layer.Outlet))
	if v.layer.When != "" {
		title = fmt.Sprintf("%s (%s), %s °C", v.layer.Use, v.layer.When, plain(v.layer.Outlet))
	}
	if v.o.Title != "" {
		title = v.o.Title + ": " + title
	}
	p := letter.Pen{Size: 15, Bold: true, Ink: inkText, Y: -1}
	lines := sh.Fold(p, width-32, title)
	for p.Size > 9 && len(lines) > 1 { // a long name is written smaller rather than over the map
		p.Size--
		lines = sh.Fold(p, width-32, title)
	}
	sh.Write(p, 16, top-12, lines[0])
	sh.Write(letter.Pen{Size: 10, Ink: inkText, Y: -1}, 16, top-34, v.result())
}

// result says in a sentence where heat is cheaper than gas.
func (v *scene) result() string {
	n := v.s.Len()
	text := fmt.Sprintf("By best estimate cheaper than gas at %d of %s.", v.beats, sites(n))
	if v.asked {
		text += fmt.Sprintf(" Sites with a probability of at least %g %%: %d.", 100*sure, v.certain)
	}
	if v.none > 0 {
		text += fmt.Sprintf(" Sites without usable heat: %d.", v.none)
	}
	return text
}

func sites(n int) string {
	if n == 1 {
		return "1 site"
	}
	return strconv.Itoa(n) + " sites"
}

// plain writes a number with as many digits as it has.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// ground is what lies under the places.
func (v *scene) ground(sh *sheet, f *frame) {
	sh.color(inkSea)
	sh.fill(rectangle(f.x, f.y, f.x+f.width(), f.y+f.height()))
	var land vg.Path
	for _, r := range v.o.Outline {
		f.ring(&land, r)
	}
	sh.color(inkLand)
	sh.fill(land)
}

// lines are what lies over the cells and under stations.
func (v *scene) lines(sh *sheet, f *frame) {
	var coast, border vg.Path
	for _, r := range v.o.Outline {
		f.lines(&coast, r)
	}
	for _, r := range v.o.Within {
		f.lines(&border, r)
	}
	if len(coast) > 0 {
		sh.stroke(coast, 1.2, inkHalo) // to be seen on dark cells, too
		sh.stroke(coast, 0.45, inkCoast)
	}
	if len(border) > 0 {
		sh.stroke(border, 1.2, inkArea)
	}
	f.graticule(sh)
	sh.stroke(rectangle(f.x, f.y, f.x+f.width(), f.y+f.height()), 0.8, inkCoast)
}

// fields draws the grid cells, a colour at a time.
func (v *scene) fields(sh *sheet, f *frame, lone map[int]bool) {
	cells := v.cells(f, lone)
	for class := range shade.Classes() {
		v.paint(sh, cells[class], shade.Classes()[class].Colour)
	}
	bare := cells[len(cells)-1]
	v.paint(sh, bare, shade.Without())
	hatch(sh, bare)
}

// paint fills outlines of one colour. Their edges are drawn over, too: the paper
// would shine through between cells that only meet.
func (v *scene) paint(sh *sheet, p vg.Path, c color.Color) {
	if len(p) == 0 {
		return
	}
	sh.color(c)
	sh.fill(p)
	sh.stroke(p, 0.35, c)
}

// cells are the outlines of the grid cells by class but for the lone ones, those
// without heat last. Whole cells side by side in a row and of one class are one
// rectangle.
func (v *scene) cells(f *frame, lone map[int]bool) []vg.Path {
	paths := make([]vg.Path, len(shade.Classes())+1)
	var order []int
	for i := range v.marks {
		if v.s.Place(i).CellDeg > 0 && !lone[i] {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		p, q := v.s.Place(a), v.s.Place(b)
		return cmp.Or(cmp.Compare(p.Lat, q.Lat), cmp.Compare(p.Lon, q.Lon))
	})
	var run orb.Bound
	running := -1 // class of the run; -1 for none
	end := func() {
		if running >= 0 {
			low, high := f.at(run.Min), f.at(run.Max)
			addRectangle(&paths[running], low.X, low.Y, high.X, high.Y)
		}
		running = -1
	}
	for _, i := range order {
		class := int(v.marks[i].class)
		if class < 0 {
			class = len(paths) - 1
		}
		for _, poly := range polygons(v.s.Shape(i)) {
			b := poly.Bound()
			turn := f.turn(b.Center().Lon())
			b.Min[0], b.Max[0] = b.Min[0]+turn, b.Max[0]+turn
			if !isBox(poly) {
				end()
				for _, ring := range poly {
					for k, at := range ring {
						at[0] += turn
						if k == 0 {
							paths[class].Move(f.at(at))
						} else {
							paths[class].Line(f.at(at))
						}
					}
					paths[class].Close()
				}
				continue
			}
			if class == running && b.Bottom() == run.Bottom() && b.Top() == run.Top() && math.Abs(b.Left()-run.Right()) < 1e-6 {
				run.Max[0] = b.Right()
				continue
			}
			end()
			run, running = b, class
		}
	}
	end()
	return paths
}

func polygons(g orb.Geometry) orb.MultiPolygon {
	switch g := g.(type) {
	case orb.Polygon:
		return orb.MultiPolygon{g}
	case orb.MultiPolygon:
		return g
	}
	return nil
}

// isBox tells a rectangle along the meridians.
func isBox(p orb.Polygon) bool {
	if len(p) != 1 || len(p[0]) != 5 {
		return false
	}
	b := p.Bound()
	for _, at := range p[0] {
		if at.Lon() != b.Left() && at.Lon() != b.Right() || at.Lat() != b.Bottom() && at.Lat() != b.Top() {
			return false
		}
	}
	return true
}

// stations draws places that are points, as discs, and lone cells, as squares.
func (v *scene) stations(sh *sheet, f *frame, lone map[int]bool) {
	n := 0
	for i := range v.marks {
		if v.s.Place(i).CellDeg == 0 {
			n++
		}
	}
	r := vg.Length(max(1.6, min(5, 60/math.Sqrt(float64(n+1)))))
	for i, m := range v.marks {
		p := v.s.Place(i)
		if p.CellDeg > 0 && !lone[i] {
			continue
		}
		at := f.at(orb.Point{p.Lon + f.turn(p.Lon), p.Lat})
		c := shade.Without()
		if m.class >= 0 {
			c = shade.Classes()[m.class].Colour
		}
		shape, r := disc(at.X, at.Y, r), r
		if lone[i] {
			r = leastCell / 2
			shape = rectangle(at.X-r, at.Y-r, at.X+r, at.Y+r)
		}
		sh.color(c)
		sh.fill(shape)
		sh.stroke(shape, 0.5+0.04*r, inkText)
		if m.class < 0 {
			sh.line(at.X-r*0.7, at.Y-r*0.7, at.X+r*0.7, at.Y+r*0.7, 0.7, inkText)
		}
	}
}

// dots marks where it is not sure which is cheaper, thinned so that they never
// touch.
func (v *scene) dots(sh *sheet, f *frame) {
	const apart = 6
	taken := make(map[[2]int]bool)
	var onLight, onDark vg.Path
	for i, m := range v.marks {
		if !m.unsure {
			continue
		}
		p := v.inside(i)
		at := f.at(orb.Point{p.Lon() + f.turn(p.Lon()), p.Lat()})
		slot := [2]int{int(at.X / apart), int(at.Y / apart)}
		if taken[slot] {
			continue
		}
		taken[slot] = true
		all := &onLight
		if m.class >= 0 && dark(shade.Classes()[m.class].Colour) {
			all = &onDark
		}
		const r = 1
		all.Move(vg.Point{X: at.X + r, Y: at.Y})
		all.Arc(at, r, 0, 2*math.Pi)
		all.Close()
	}
	sh.color(inkText)
	sh.fill(onLight)
	sh.color(inkPaper)
	sh.fill(onDark)
}

// inside is a point of a place to put a mark on: its middle, or where that is
// cut off, the middle of what is left.
func (v *scene) inside(i int) orb.Point {
	p := v.s.Place(i)
	mid := orb.Point{p.Lon, p.Lat}
	left := polygons(v.s.Shape(i))
	if len(left) == 0 || planar.MultiPolygonContains(left, mid) {
		return mid
	}
	widest := slices.MaxFunc(left, func(a, b orb.Polygon) int { return cmp.Compare(planar.Area(a), planar.Area(b)) })
	mid, _ = planar.CentroidArea(widest)
	return mid
}

// dark tells a colour on which white is easier to see than black.
func dark(c color.NRGBA) bool {
	return 0.299*float64(c.R)+0.587*float64(c.G)+0.114*float64(c.B) < 128
}

// hatch draws slanting lines over rectangles and other closed outlines, by
// their bounds.
func hatch(sh *sheet, p vg.Path) {
	var lines vg.Path
	const gap = 4
	for _, b := range boxes(p) {
		for k := math.Ceil(float64(b.Min.X-b.Max.Y) / gap); k*gap <= float64(b.Max.X-b.Min.Y); k++ {
			// The line X − Y = k·gap within the box.
			x1 := max(b.Min.X, b.Min.Y+vg.Length(k*gap))
			x2 := min(b.Max.X, b.Max.Y+vg.Length(k*gap))
			if x1 < x2 {
				lines.Move(vg.Point{X: x1, Y: x1 - vg.Length(k*gap)})
				lines.Line(vg.Point{X: x2, Y: x2 - vg.Length(k*gap)})
			}
		}
	}
	if len(lines) > 0 {
		sh.stroke(lines, 0.5, inkQuiet)
	}
}

// boxes are the bounds of a path's closed parts.
func boxes(p vg.Path) (list []vg.Rectangle) {
	for _, c := range p {
		switch c.Type {
		case vg.MoveComp:
			list = append(list, vg.Rectangle{Min: c.Pos, Max: c.Pos})
		case vg.LineComp:
			b := &list[len(list)-1]
			b.Min.X, b.Min.Y = min(b.Min.X, c.Pos.X), min(b.Min.Y, c.Pos.Y)
			b.Max.X, b.Max.Y = max(b.Max.X, c.Pos.X), max(b.Max.Y, c.Pos.Y)
		}
	}
	return list
}
