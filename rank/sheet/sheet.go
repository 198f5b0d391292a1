// Package sheet writes one design at one place on a single page, as HTML that
// needs no network and as a picture: the section to scale with the noon suns
// and the spots they make, heat by month, what its cost is made of, what to cut
// and to buy for a row, the flow of its pump, what can go wrong, and what was
// assumed. Lengths in m, angles in degrees, temperatures in °C. The same Sheet
// gives the same bytes.
package sheet

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// A Sheet is everything that stands on the page, worked out.
type Sheet struct {
	Place    string // its name
	Where    string // coordinates and elevation
	Lat      float64
	Weather  string // where it comes from
	Study    string
	Book     string // cost book
	Currency string

	Use           string
	Months        [12]bool // of the use
	Outlet, Inlet float64
	Design        result.Design
	Rho           float64 // reflectance of the mirror in the field
	Layers        Layers
	Heat          []Heat // by outlet
	Cost          Cost
	NextBest      string // the runner-up and how much dearer it is; empty for none

	RowLength float64
	Items     []cost.Item // of the study's plan
	Plan      Plan
	Noon      Noon // of the months of the use
	Peak      Noon // of the whole year

	Cautions   []string // dangers to life first, the general one last
	Assumed    []string // the main assumptions, in sentences
	Parameters []Group  // all of them by name, for the page alone
}

// Layers are the receiver's from the sky down. Names is what each clear film is;
// it is empty where the study gives coefficients and no films.
type Layers struct {
	Clear      []string
	Black      string
	Foam       string
	FoamDepth  float64 // m; 0 where it is not known
	WaterDepth float64 // m
}

// Heat is what the design gives by month at an outlet, and what the same receiver
// gives without a mirror, kWh per m² of receiver.
type Heat struct {
	Outlet        float64
	With, Without [12]float64
}

// Cost is the levelised cost of heat per kWh delivered and what it is made of.
type Cost struct {
	LCOH, Gas float64
	P10, P90  *float64 // nil where the draws have no heat
	Sure      *float64 // share of the draws that beat gas; nil where none were made
	Payback   *float64 // years; nil for never
	Saving    float64  // against gas per m² of receiver and year, levelised
	Heat      float64  // of the use's months at the receiver, kWh/m² of receiver in the first year
	Share     float64  // of it that reaches the user
	Fade      float64  // of it that every year takes off
	Delivered float64  // what the cost divides by, kWh/m² of receiver and year: Heat·Share, levelised with what the years take off
	Years     int      // that costs and heat are counted over
	Parts     []Part   // their sum is LCOH
}

// A Part is what one item adds to the levelised cost.
type Part struct {
	Item   string
	Unit   cost.Unit // empty for what every kWh costs
	PerKWh float64
}

// Plan is what the bill needs of the study's prices.
type Plan struct {
	LabourPerH     float64
	SiteReceiverM2 float64 // that share the items per site
}

// Noon is the hour of some months in which the design delivers most heat.
type Noon struct {
	Hour string  // date and clock
	Heat float64 // delivered in it, Wh/m² of receiver
}

// A Group is parameters of one source.
type Group struct {
	Source string
	Text   string
}

// mirrored tells whether there is a mirror.
func (s *Sheet) mirrored() bool { return s.Design.MirrorLength > 0 }

// area is the receiver area of the row, m².
func (s *Sheet) area() float64 { return s.Design.ReceiverWidth * s.RowLength }

// poleward and equatorward name the sides; latitude 0 counts as northern.
func (s *Sheet) poleward() string {
	if s.Lat < 0 {
		return "south"
	}
	return "north"
}

func (s *Sheet) equatorward() string {
	if s.Lat < 0 {
		return "north"
	}
	return "south"
}

// Title is the heading.
func (s *Sheet) Title() string {
	return fmt.Sprintf("%s: heat at %s °C for %s", s.Place, plain(s.Outlet), s.Use)
}

// Verdict says first whether its heat beats gas: both the likely cost and nine
// of ten draws must say so, either way, else it is open.
func (s *Sheet) Verdict() string {
	c := &s.Cost
	cheaper := c.LCOH < c.Gas
	switch {
	case c.Sure != nil && (cheaper && *c.Sure < 0.9 || !cheaper && *c.Sure > 0.1):
		return "May beat gas here: chance " + percent(*c.Sure)
	case cheaper:
		return "Beats gas here"
	case c.Gas <= 0:
		return "Does not beat gas here"
	}
	return fmt.Sprintf("Does not beat gas here: %.1f times as dear", c.LCOH/c.Gas)
}

// Build says what the best design is.
func (s *Sheet) Build() string {
	d := s.Design
	if !s.mirrored() {
		return fmt.Sprintf("Best design found: receiver %s m wide in an east-west row, without a mirror", plain(d.ReceiverWidth)) + s.turned()
	}
	return fmt.Sprintf("Best design found: mirror %s m long on the %s side of a receiver %s m wide in an east-west row, at %s, %s",
		plain(d.MirrorLength), s.poleward(), plain(d.ReceiverWidth), s.angle(), leaning(d.MirrorTilt)) + s.turned()
}

// angle says what a builder measures; the tilt counts from the far side's ground.
func (s *Sheet) angle() string {
	return fmt.Sprintf("%s° from the ground on the receiver's side (tilt %s°)", plain(180-s.Design.MirrorTilt), plain(s.Design.MirrorTilt))
}

func (s *Sheet) turned() string {
	switch a := s.Design.RowAzimuth; {
	case a > 0:
		return fmt.Sprintf(", its open side turned %s° to the west", plain(a))
	case a < 0:
		return fmt.Sprintf(", its open side turned %s° to the east", plain(-a))
	}
	return ""
}

// leaning says in words how a mirror stands.
func leaning(tilt float64) string {
	switch {
	case tilt == 90:
		return "upright"
	case tilt < 90:
		return fmt.Sprintf("leaning back, away from the receiver, %s° from upright", plain(90-tilt))
	}
	return fmt.Sprintf("leaning over the receiver, %s° from upright", plain(tilt-90))
}

// Costs says what its heat costs against gas, and how sure that is.
func (s *Sheet) Costs() string {
	c := &s.Cost
	text := fmt.Sprintf("Its heat costs %s %s/kWh, heat from gas %s", money(c.LCOH), s.Currency, money(c.Gas))
	if c.Sure != nil {
		text += fmt.Sprintf("; chance to beat gas %s", percent(*c.Sure))
	}
	if c.P10 != nil && c.P90 != nil {
		text += fmt.Sprintf(", cost in 8 of 10 draws %s to %s (P10–P90)", money(*c.P10), money(*c.P90))
	}
	return text
}

// percent writes a share, never as 100 % or 0 % unless it is.
func percent(v float64) string {
	p := 100 * v
	switch {
	case p > 99 && p < 100:
		return "over 99 %"
	case p > 0 && p < 1:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", p)
}

func money(v float64) string { return strconv.FormatFloat(v, 'f', 4, 64) }

// plain writes a number to four digits behind the point at most.
func plain(v float64) string { return strconv.FormatFloat(math.Round(v*1e4)/1e4+0, 'f', -1, 64) }

var monthNames = [12]string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}

// season names months, runs of them by their ends, one over the new year too.
func season(months [12]bool) string {
	var runs []string
	for m := range 12 {
		if !months[m] || months[(m+11)%12] {
			continue
		}
		n := 1
		for months[(m+n)%12] {
			n++
		}
		run := monthNames[m]
		if n > 1 {
			run += "–" + monthNames[(m+n-1)%12]
		}
		runs = append(runs, run)
	}
	if runs == nil { // every month follows another one: all, or none
		return "the whole year"
	}
	return strings.Join(runs, ", ")
}
