// Package result is what simulate hands to rank: for every site a Block of
// monthly heat, one row per design and outlet temperature, with the tables of
// sites and designs that give its numbers a meaning.
//
// Heat is in kWh per m² of receiver and month, gross at the receiver.
package result

// A Site is the copy of the weather table's site row that travels with the
// heat; its fields are those of the site table, in the same order.
type Site struct {
	ID           string  // unique
	Name         string  // as the source spells it
	Lat          float64 // degrees, north positive
	Lon          float64 // degrees, east positive
	Elevation    float64 // m
	UTCOffset    float64 // h
	Country      string
	Source       string
	Kind         string  // "station" or "grid"
	CellDeg      float64 // edge of the grid cell centred on Lat, Lon; 0 for a station
	MissingHours int
	FilledHours  int
	Flags        []string
	SplitModel   string
	Year         [12]int
	ClockMin     [12]int
	HDD, CDD     [12]float64 // degree days of each month, base 18.3 °C, K·d
}

// A Design is one candidate of the study: the section of the heater. Lengths
// in m, angles in degrees; its number is its place in the table of designs.
type Design struct {
	ReceiverWidth float64 `json:"receiver_width_m"`
	MirrorLength  float64 `json:"mirror_length_m"` // slant; 0 is no mirror
	MirrorTilt    float64 `json:"mirror_tilt_deg"` // 90 vertical, above 90 overhanging the receiver
	Setback       float64 `json:"setback_m"`
	Raise         float64 `json:"raise_m"`
	RowPitch      float64 `json:"row_pitch_m,omitempty"`  // 0 is a single row
	RowLength     float64 `json:"row_length_m,omitempty"` // 0 is endless
	RowAzimuth    float64 `json:"row_azimuth_deg"`        // + towards west
}

// A Table says what the blocks of one run hold.
type Table struct {
	Designs []Design
	Outlets []float64 // °C
}

// A Block is the heat of one site for every outlet and design of its Table.
type Block struct {
	Site Site
	// Heat holds 12 months for outlet o and design d from index
	// (o·len(Designs)+d)·12 on, kWh/m² of receiver.
	Heat []float32
}

// Months returns the twelve months of design d at outlet o.
func (b *Block) Months(t *Table, outlet, design int) []float32 {
	i := (outlet*len(t.Designs) + design) * 12
	return b.Heat[i : i+12 : i+12]
}
