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
	CellDeg      float64 // edge in latitude of the grid cell centred on Lat, Lon, degrees; 0 for a station
	CellLonDeg   float64 // edge in longitude, degrees; 0 for one like CellDeg
	MissingHours int
	FilledHours  int
	Flags        []string
	SplitModel   string
	Year         [12]int
	ClockMin     [12]int
	HDD, CDD     [12]float64 // degree days of each month, base 18.3 °C, K·d

	// 10th and 90th percentile of the yearly GHI of single years, a poor and a rich
	// one, over their mean; 0 where the weather has fewer than five whole years.
	YearP10, YearP90 float64
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
	Stress  bool      // the blocks carry stresses

	Sensitivity bool // the blocks may carry sensitivities
}

// A Block is the heat of one site for every outlet and design of its Table.
type Block struct {
	Site Site
	// Heat holds 12 months for outlet o and design d from index
	// (o·len(Designs)+d)·12 on, kWh/m² of receiver.
	Heat []float32
	// Stress holds the Stresses for outlet o and design d from index
	// (o·len(Designs)+d)·Stresses on; nil where they were not asked for.
	Stress []float32
	// Sensitivities are those of the designs picked at this site, in the order
	// they were picked; nil where none were asked for.
	Sensitivities []Sensitivity
}

// A Stress is one quantity of what a year does to a heater's films and to its
// neighbours; StressColumns gives name, unit and meaning of each.
type Stress int

// The stresses in the order they are stored.
const (
	DryStagnation  Stress = iota // °C
	OverClear                    // h
	OverBlack                    // h
	OverFoam                     // h
	PeakIrradiance               // W/m²
	PeakEdge                     // W/m²
	UVClear                      // kWh/m²
	UVBlack                      // kWh/m²
	UVMirror                     // kWh/m²
	WarmReceiver                 // h
	WarmMirror                   // h
	WindHours                    // h
	WindMax                      // m/s
	LockedDays                   // d
	FreezingHours                // h
	GlareHours                   // h
	GlareAzimuth                 // °, NaN without glare
	Stresses       = int(iota)
)

// StressColumns names the stresses in their order.
var StressColumns = [Stresses]struct{ Name, Unit, Meaning string }{
	{"dry_stagnation_c", "°C", "99.9th percentile, over the year's hours, of the temperature at which the dry receiver loses all it absorbs"},
	{"dry_over_clear_h", "h", "sunlit hours in which a dry receiver would be above the softening temperature of the clear film"},
	{"dry_over_black_h", "h", "sunlit hours in which a dry receiver would be above the softening temperature of the black film"},
	{"dry_over_foam_h", "h", "sunlit hours in which a dry receiver would be above the limit of the foam"},
	{"peak_irradiance_w_m2", "W/m²", "greatest hourly irradiance on the receiver, mean over its width"},
	{"peak_edge_w_m2", "W/m²", "greatest hourly irradiance on an edge of the receiver, the mirror's spot on it"},
	{"uv_clear_kwh_m2", "kWh/m²", "yearly ultraviolet dose on the clear film, a stated share of its irradiance"},
	{"uv_black_kwh_m2", "kWh/m²", "yearly ultraviolet dose on the black film, behind the clear film"},
	{"uv_mirror_kwh_m2", "kWh/m²", "yearly ultraviolet dose on the mirror film"},
	{"warm_receiver_h", "h", "hours at the reference temperature that age the receiver's films as the year does (Arrhenius)"},
	{"warm_mirror_h", "h", "the same for the mirror film, taken at air temperature"},
	{"wind_over_limit_h", "h", "hours with wind at 10 m above the mirror's limit"},
	{"wind_max_m_s", "m/s", "greatest hourly wind at 10 m"},
	{"locked_d", "d", "days on which frost or snow keeps the receiver empty"},
	{"freezing_h", "h", "hours with water in the receiver below 0 °C; freezing itself is not modelled"},
	{"glare_h", "h", "sunlit hours in which over 1 % of the mirror's beam leaves upwards or lands beyond the field"},
	{"glare_azimuth_deg", "°", "direction the most of that light travels in, clockwise from north, to 45°"},
}

// Strain gives one stress of design d at an outlet.
func (b *Block) Strain(t *Table, outlet, design int, s Stress) float32 {
	return b.Stress[(outlet*len(t.Designs)+design)*Stresses+int(s)]
}

// Months returns the twelve months of design d at outlet o.
func (b *Block) Months(t *Table, outlet, design int) []float32 {
	i := (outlet*len(t.Designs) + design) * 12
	return b.Heat[i : i+12 : i+12]
}
