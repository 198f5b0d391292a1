// Package survey is what rank hands to those who draw and print: for every
// place, outlet temperature and use the figures of the best design. Places and
// designs are in memory, figures in a scratch file, so that neither the number
// of layers nor that of places costs memory that matters.
package survey

import (
	"fmt"

	"github.com/paulmach/orb"

	"stillrow/data/area"
	"stillrow/simulate/result"
)

// A Layer is one outlet temperature for one use: what one map shows.
type Layer struct {
	Use    string
	Outlet float64 // °C
	When   string  // which months count, in words for a reader
	// The months that count in the north; half a year later in the south. None
	// where every site has its own.
	Months [12]bool
}

// A Place is a site as results show it.
type Place struct {
	ID, Name string
	Country  string // as Finding rows name it: ISO 3166-1 alpha-2, else as the source spells it
	Book     string // cost book of its prices
	Lat, Lon float64
	// Degrees of latitude and longitude of its grid cell; 0 for a station.
	CellDeg, CellLonDeg float64
}

// A Survey holds the findings of one ranking. Add places first, then Finish,
// then read, from several goroutines if need be. Close removes the scratch file.
type Survey struct {
	Layers   []Layer         // by outlet, then use
	Designs  []result.Design // that Finding.Design numbers
	Currency string          // of every price
	Reasons  []string        // that Finding.Without numbers
	Within   *area.Area      // that cells are clipped to; nil for none; set before the first Add

	places  []Place
	clipped map[int]orb.Geometry // shapes of the cells that are not whole
	scratch scratch
}

// New begins a survey whose scratch file lies in folder dir.
func New(dir string, layers []Layer, designs []result.Design, currency string) (*Survey, error) {
	s := &Survey{Layers: layers, Designs: designs, Currency: currency}
	var err error
	s.scratch, err = newScratch(dir, len(layers))
	return s, err
}

// Add takes the next place and its findings, one a layer. It does not keep the
// findings.
func (s *Survey) Add(p Place, findings []Finding) error {
	if len(findings) != len(s.Layers) {
		return fmt.Errorf("survey: place %s: %d findings, want %d", p.ID, len(findings), len(s.Layers))
	}
	if err := p.Check(); err != nil {
		return fmt.Errorf("survey: %w", err)
	}
	if err := s.scratch.add(findings); err != nil {
		return fmt.Errorf("survey: place %s: %w", p.ID, err)
	}
	s.clip(&p)
	s.places = append(s.places, p)
	return nil
}

// Reason numbers a reason for there being no best design.
func (s *Survey) Reason(text string) int32 {
	for i, r := range s.Reasons {
		if r == text {
			return int32(i)
		}
	}
	s.Reasons = append(s.Reasons, text)
	return int32(len(s.Reasons) - 1)
}

// Finish ends the adding.
func (s *Survey) Finish() error { return s.scratch.flush() }

// Len is the number of places.
func (s *Survey) Len() int { return len(s.places) }

// Place is the i-th place, in the order they came.
func (s *Survey) Place(i int) *Place { return &s.places[i] }

// Hemispheres tells whether there are places in the north, the equator with it,
// and in the south.
func (s *Survey) Hemispheres() (north, south bool) {
	for i := range s.places {
		north, south = north || s.places[i].Lat >= 0, south || s.places[i].Lat < 0
	}
	return north, south
}

// Each calls visit for every place of a layer, in the order they came; the
// finding is visit's until it returns.
func (s *Survey) Each(layer int, visit func(place int, f *Finding) error) error {
	return s.scratch.each(layer, len(s.places), visit)
}

// At reads one finding.
func (s *Survey) At(layer, place int, f *Finding) error {
	return s.scratch.at(layer, place, f)
}

// Close removes the scratch file. It may always be deferred.
func (s *Survey) Close() { s.scratch.remove() }
