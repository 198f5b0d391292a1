package picture

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/clip"
	"gonum.org/v1/plot/vg"

	"stillrow/rank/letter"
	"stillrow/rank/survey"
)

// A frame is the window of a map: equirectangular, true to scale at the
// latitude of its middle.
type frame struct {
	view           orb.Bound // degrees; its longitudes may run past 180
	x, y           vg.Length // of its south-western corner on the sheet
	perLon, perLat vg.Length // of a degree
}

// newFrame fits the places of a survey and their cells into a box on the sheet.
func newFrame(s *survey.Survey, x, y, width, height vg.Length) *frame {
	view := window(s)
	mid := view.Center().Lat()
	w, h := view.Right()-view.Left(), view.Top()-view.Bottom()
	perLat := min(float64(width)/(w*squeeze(mid)), float64(height)/h)
	return &frame{view: view, x: x, y: y, perLon: vg.Length(perLat * squeeze(mid)), perLat: vg.Length(perLat)}
}

// squeeze is a degree of longitude over one of latitude; near the poles it is
// held open.
func squeeze(lat float64) float64 { return max(0.2, math.Cos(lat*math.Pi/180)) }

func (f *frame) width() vg.Length  { return f.perLon * vg.Length(f.view.Right()-f.view.Left()) }
func (f *frame) height() vg.Length { return f.perLat * vg.Length(f.view.Top()-f.view.Bottom()) }

// at puts a place, whose longitude counts as the view's does, on the sheet.
func (f *frame) at(p orb.Point) vg.Point {
	return vg.Point{
		X: f.x + f.perLon*vg.Length(p.Lon()-f.view.Left()),
		Y: f.y + f.perLat*vg.Length(p.Lat()-f.view.Bottom()),
	}
}

// turn gives the whole turns, degrees, that bring a longitude into the view.
func (f *frame) turn(lon float64) float64 {
	mid := f.view.Center().Lon()
	return 360 * math.Round((mid-lon)/360)
}

// window is the part of the earth that holds all places, with a margin. It is
// cut where the widest gap between longitudes is, so that places on both sides
// of the antimeridian stay together.
func window(s *survey.Survey) orb.Bound {
	if s.Len() == 0 {
		return orb.Bound{Min: orb.Point{-180, -90}, Max: orb.Point{180, 90}}
	}
	type span struct{ west, east float64 }
	spans := make([]span, s.Len())
	south, north := 90., -90.
	for i := range spans {
		p := s.Place(i)
		lon, lat := p.CellLonDeg/2, p.CellDeg/2
		if lon == 0 {
			lon = lat
		}
		spans[i] = span{p.Lon - lon, p.Lon + lon}
		south, north = min(south, p.Lat-lat), max(north, p.Lat+lat)
	}
	slices.SortFunc(spans, func(a, b span) int { return cmp.Compare(a.west, b.west) })
	west, reach := spans[0].west, spans[0].east
	gap, from := 0., 0. // the widest, and where what follows it begins
	for _, sp := range spans[1:] {
		if sp.west-reach > gap {
			gap, from = sp.west-reach, sp.west
		}
		reach = max(reach, sp.east)
	}
	east := reach
	if round := west + 360 - reach; gap > round { // the widest gap is inside
		// Everything before the gap comes after a turn.
		before := west
		for _, sp := range spans {
			if sp.west < from {
				before = max(before, sp.east)
			}
		}
		west, east = from, before+360
	}
	margin := max(0.04*max(east-west, north-south), 0.5)
	if s.Len() == 1 || east-west < 0.01 && north-south < 0.01 {
		margin = 2.5
	}
	west, east = west-margin, east+margin
	if east-west > 360 {
		mid := (west + east) / 2
		west, east = mid-180, mid+180
	}
	// A strip would make a map too thin to read.
	south, north = max(-90, south-margin), min(90, north+margin)
	if w := (east - west) * squeeze((south+north)/2) / 4; north-south < w {
		mid := (south + north) / 2
		south, north = max(-90, mid-w/2), min(90, mid+w/2)
	}
	if h := (north - south) / 2; east-west < h {
		mid := (west + east) / 2
		west, east = mid-h/2, mid+h/2
	}
	return orb.Bound{Min: orb.Point{west, south}, Max: orb.Point{east, north}}
}

// ring adds what of a ring lies in the view to a path, wherever it comes round
// the earth.
func (f *frame) ring(p *vg.Path, r orb.Ring) {
	b := r.Bound()
	for _, shift := range []float64{-360, 0, 360} {
		if b.Right()+shift < f.view.Left() || b.Left()+shift > f.view.Right() || b.Top() < f.view.Bottom() || b.Bottom() > f.view.Top() {
			continue
		}
		moved := make(orb.Ring, len(r))
		for i, at := range r {
			moved[i] = orb.Point{at.Lon() + shift, at.Lat()}
		}
		inside := clip.Ring(f.view, moved)
		for i, at := range inside {
			if i == 0 {
				p.Move(f.at(at))
			} else {
				p.Line(f.at(at))
			}
		}
		if len(inside) > 0 {
			p.Close()
		}
	}
}

// lines adds the parts of a ring that lie in the view as open lines, which do
// not run along the frame.
func (f *frame) lines(p *vg.Path, r orb.Ring) {
	b := r.Bound()
	for _, shift := range []float64{-360, 0, 360} {
		if b.Right()+shift < f.view.Left() || b.Left()+shift > f.view.Right() {
			continue
		}
		moved := make(orb.LineString, len(r))
		for i, at := range r {
			moved[i] = orb.Point{at.Lon() + shift, at.Lat()}
		}
		for _, part := range clip.LineString(f.view, moved) {
			for i, at := range part {
				if i == 0 || onCut(at.Lon()-shift) && onCut(part[i-1].Lon()-shift) { // an outline's cut at the antimeridian is no coast
					p.Move(f.at(at))
				} else {
					p.Line(f.at(at))
				}
			}
		}
	}
}

// onCut tells a longitude on the antimeridian.
func onCut(lon float64) bool { return math.Abs(lon) > 179.999 }

// graticule draws meridians and parallels, and their degrees outside the frame.
func (f *frame) graticule(s *sheet) {
	label := letter.Pen{Size: 8, Ink: inkQuiet}
	stepLon := degrees((f.view.Right() - f.view.Left()) / max(1, float64(f.width()/70)))
	stepLat := degrees((f.view.Top() - f.view.Bottom()) / max(1, float64(f.height()/55)))
	left, bottom, right, top := f.x, f.y, f.x+f.width(), f.y+f.height()
	label.X, label.Y = -0.5, -1
	for k := math.Ceil(f.view.Left() / stepLon); k*stepLon <= f.view.Right(); k++ {
		x := f.at(orb.Point{k * stepLon, 0}).X
		s.line(x, bottom, x, top, 0.4, inkLine)
		s.Write(label, x, bottom-4, east(math.Remainder(k*stepLon, 360)))
	}
	label.X, label.Y = -1, -0.5
	for k := math.Ceil(f.view.Bottom() / stepLat); k*stepLat <= f.view.Top(); k++ {
		y := f.at(orb.Point{0, k * stepLat}).Y
		s.line(left, y, right, y, 0.4, inkLine)
		s.Write(label, left-4, y, north(k*stepLat))
	}
}

// degrees is the round step next to a rough one.
func degrees(rough float64) float64 {
	for _, step := range []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 45} {
		if step >= rough {
			return step
		}
	}
	return 60
}

func east(deg float64) string  { return sided(deg, "E", "W") }
func north(deg float64) string { return sided(deg, "N", "S") }

func sided(deg float64, above, below string) string {
	text := strconv.FormatFloat(math.Round(math.Abs(deg)*100)/100, 'f', -1, 64) + "°"
	switch {
	case text == "0°" || text == "180°":
		return text
	case deg > 0:
		return text + " " + above
	}
	return text + " " + below
}
