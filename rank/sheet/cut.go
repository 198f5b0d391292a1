package sheet

import (
	"fmt"
	"math"
	"strings"

	"stillrow/rank/cost"
)

// What the geometry does not say of a row: common practice, no source.
const (
	shrinkage = 0.01 // of the films' length, allowed for
	hem       = 0.10 // m of film at each long edge, to turn round a batten
	spacing   = 2.0  // m at most between the battens across the mirror
)

// Water at 20 °C, the figures that the simulation counts with.
const (
	waterDensity = 998.0  // kg/m³
	waterHeat    = 4182.0 // J/kgK
)

// A Piece is something to cut for the row.
type Piece struct {
	Part   string
	Count  int
	Length float64 // m each
	Width  float64 // m; 0 for a batten
	Area   float64 // m² of all; 0 for battens
}

// CutList gives the pieces of one row: films with the allowance for shrinkage
// and a hem at both long edges, foam and battens to the row's length.
func (s *Sheet) CutList() []Piece {
	d := &s.Design
	var list []Piece
	film := func(part string, width float64) {
		l, w := s.RowLength*(1+shrinkage), width+2*hem
		list = append(list, Piece{part, 1, l, w, l * w})
	}
	n := len(s.Layers.Clear)
	for range n - 1 {
		film("clear film, raised", d.ReceiverWidth)
	}
	if n > 0 {
		film("clear film on the water", d.ReceiverWidth)
	} else {
		film("clear film, each layer", d.ReceiverWidth)
	}
	film("black film", d.ReceiverWidth)
	foam := "foam"
	if s.Layers.FoamDepth > 0 {
		foam = fmt.Sprintf("foam, %.0f mm", 1000*s.Layers.FoamDepth)
	}
	list = append(list, Piece{foam, 1, s.RowLength, d.ReceiverWidth, s.area()})
	if s.mirrored() {
		film("mirror film", d.MirrorLength)
	}
	list = append(list,
		Piece{Part: "battens, receiver edges", Count: 2, Length: s.RowLength},
		Piece{Part: "battens, receiver ends", Count: 2, Length: d.ReceiverWidth})
	if s.mirrored() {
		list = append(list,
			Piece{Part: "battens, mirror foot, top", Count: 2, Length: s.RowLength},
			Piece{Part: "battens across the mirror", Count: int(math.Ceil(s.RowLength/spacing-1e-9)) + 1, Length: d.MirrorLength})
	}
	return list
}

// allowances says what the cut list assumes.
func (s *Sheet) allowances() string {
	text := fmt.Sprintf("Film lengths include %g %% for shrinkage, widths %g m at each long edge to turn round a batten", 100*shrinkage, hem)
	also := "Joints, ends and waste are extra."
	if s.mirrored() {
		text += fmt.Sprintf("; battens across the mirror every %g m", spacing)
		also = "Joints, ends and waste are extra; posts, props and anchors are for the wind code."
	}
	return text + " (shrinkage, hems and spacing: common practice, no source). " + also
}

// A Line is one item of the bill.
type Line struct {
	Item   string
	Amount float64
	Unit   string
	Order  float64 // m² of film with hems and shrinkage; 0 for what is no film
	Life   float64 // years until it is bought again, at this place
	Price  float64 // of the amount, without labour
	Labour float64 // h
}

// Bill gives what the row's items cost at first, at the study's prices, and
// their sum; and the running costs of a year. Items bought for a whole site
// count by the row's share of its receivers.
func (s *Sheet) Bill() (lines []Line, sum Line, running float64) {
	sum.Item = "first cost of the row"
	for _, it := range s.Items {
		n, unit := s.amount(it.Unit)
		running += n * it.RunningPerYear
		if n == 0 || it.Price == 0 && it.LabourH == 0 {
			continue
		}
		l := Line{it.Name, n, unit, s.order(&it), it.LifeYears, n * it.Price, n * it.LabourH}
		lines = append(lines, l)
		sum.Price, sum.Labour = sum.Price+l.Price, sum.Labour+l.Labour
	}
	return lines, sum, running
}

// order is the area of film to order for an item, 0 for one that is no film: a
// book ties some films to their wear and tells the others by their name alone.
func (s *Sheet) order(it *cost.Item) float64 {
	if it.Film == "" && !strings.Contains(strings.ToLower(it.Name), "film") {
		return 0
	}
	width := 0.0
	switch it.Unit {
	case cost.ReceiverM2:
		width = s.Design.ReceiverWidth
	case cost.MirrorM2:
		width = s.Design.MirrorLength
	default:
		return 0
	}
	return s.RowLength * (1 + shrinkage) * (width + 2*hem)
}

// amount is how many of a unit the row takes.
func (s *Sheet) amount(u cost.Unit) (n float64, unit string) {
	d := &s.Design
	switch u {
	case cost.ReceiverM2:
		return s.area(), "m² receiver"
	case cost.MirrorM2:
		return d.MirrorLength * s.RowLength, "m² mirror"
	case cost.RowM:
		return s.RowLength, "m row"
	case cost.GroundM2:
		return d.RowPitch * s.RowLength, "m² ground"
	}
	if s.Plan.SiteReceiverM2 == 0 {
		return 0, "site"
	}
	return s.area() / s.Plan.SiteReceiverM2, "of the site"
}

// Water gives what the row holds, m³, and its mass per m of row, kg.
func (s *Sheet) Water() (volume, perMetre float64) {
	return s.area() * s.Layers.WaterDepth, s.Design.ReceiverWidth * s.Layers.WaterDepth * waterDensity
}

// Flow gives the water that carries an hour's heat from inlet to outlet, kg/h
// and l/min for the row; false where both are the same. Plug flow takes in at
// the inlet's temperature what it delivers at the outlet's.
func (s *Sheet) Flow(n Noon) (kgPerH, lPerMin float64, ok bool) {
	rise := s.Outlet - s.Inlet
	if rise <= 0 {
		return 0, 0, false
	}
	kg := n.Heat * 3600 * s.area() / (waterHeat * rise)
	return kg, kg / waterDensity * 1000 / 60, true
}

// pump puts flow and water in words.
func (s *Sheet) pump() string {
	volume, perMetre := s.Water()
	held := fmt.Sprintf("The row holds %.2f m³ of water, %.0f kg per m of row, over the bed.", volume, perMetre)
	kg, litres, ok := s.Flow(s.Noon)
	if !ok {
		return "Inlet and outlet have the same temperature: the heat does not say the flow. " + held
	}
	text := fmt.Sprintf("The pump must give this row %.0f kg/h (%.1f l/min) from %s to %s °C in the best hour of the months of the use (%s), from %s local standard time, when it delivers %.0f W per m² of receiver, %.1f kW in all. ",
		kg, litres, plain(s.Inlet), plain(s.Outlet), season(s.Months), s.Noon.Hour, s.Noon.Heat, s.Noon.Heat*s.area()/1000)
	if s.Peak.Heat > s.Noon.Heat {
		kg, litres, _ = s.Flow(s.Peak)
		text += fmt.Sprintf("If it runs all year, the best hour is from %s: %.0f kg/h (%.1f l/min). ", s.Peak.Hour, kg, litres)
	}
	return text + held
}
