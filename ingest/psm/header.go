package psm

import (
	"encoding/csv"
	"io"
	"strings"

	"stillrow/ingest/row"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// metadata are the names of the first line with the values of the second.
type metadata struct {
	names, values   row.Header        // the two lines, for errors
	cell            map[string]string // values by name in lower case
	zone, localZone float64           // of the rows and of the place, h
}

func readMetadata(lines *row.Lines) (*metadata, error) {
	names, h, err := csvLine(lines, "empty file")
	if err != nil {
		return nil, err
	}
	m := &metadata{names: h, cell: make(map[string]string, len(names))}
	values, h, err := csvLine(lines, "no line of metadata values")
	if err != nil {
		return nil, err
	}
	m.values = h
	for i, name := range names {
		name = strings.ToLower(strings.TrimSpace(name))
		if name == "" || i >= len(values) {
			continue
		}
		if _, twice := m.cell[name]; twice {
			return nil, m.names.Errorf(names[i], "the name comes twice")
		}
		m.cell[name] = strings.TrimSpace(values[i])
	}
	return m, nil
}

// csvLine reads a line whose fields may be quoted.
func csvLine(lines *row.Lines, none string) ([]string, row.Header, error) {
	line, err := lines.Next()
	h := lines.Header()
	if err == io.EOF {
		return nil, h, h.Errorf("", "%s", none)
	}
	if err != nil {
		return nil, h, err
	}
	if len(strings.TrimSpace(row.Decode(line))) == 0 {
		return nil, h, h.Errorf("", "%s", none)
	}
	r := csv.NewReader(strings.NewReader(row.Decode(line)))
	r.LazyQuotes = true
	f, err := r.Read()
	if err != nil {
		return nil, h, h.Errorf("", "no line of comma-separated metadata: %w", err)
	}
	return f, h, nil
}

// text gives a value, empty where the file has none or a hyphen.
func (m *metadata) text(name string) string {
	switch v := m.cell[strings.ToLower(name)]; v {
	case "-", noWord, "None":
		return ""
	default:
		return v
	}
}

// place fills the site, with Source set to the data set, and the zones.
func (m *metadata) place(s *weather.Site) error {
	for _, n := range [...]struct {
		field string
		r     sky.Range
		to    *float64
	}{
		{"Latitude", row.LatitudeRange, &s.Lat},
		{"Longitude", row.LongitudeRange, &s.Lon},
		{"Time Zone", row.ZoneRange, &m.zone},
		{"Elevation", row.ElevationRange, &s.Elevation},
		{"Local Time Zone", row.ZoneRange, &m.localZone},
	} {
		cell, ok := m.cell[strings.ToLower(n.field)]
		if !ok && n.field == "Local Time Zone" {
			m.localZone = m.zone
			continue
		}
		if !ok {
			return m.names.Errorf(n.field, "not in the metadata; not an NSRDB PSM file")
		}
		var err error
		if *n.to, err = m.values.Number(n.field, []byte(cell), n.r); err != nil {
			return err
		}
	}
	s.Lon = row.Longitude(s.Lon)
	s.Kind = weather.KindStation
	s.ID = row.Slug(m.text("Location ID"))
	if s.ID == "" {
		s.ID = row.PlaceID(s.Lat, s.Lon)
	}
	s.Name = m.text("City")
	if state := m.text("State"); state != "" && s.Name != "" {
		s.Name += ", " + state
	}
	if s.Name == "" {
		s.Name = row.PlaceName(s.Lat, s.Lon)
	}
	s.Country = m.text("Country")
	set := m.text("Source")
	if set == "" {
		set = "NSRDB"
	}
	s.Source = strings.TrimSpace(set + " PSM " + m.version())
	return nil
}

func (m *metadata) version() string { return strings.TrimLeft(m.text("Version"), "vV") }

// windHeight gives the height of the wind above ground, m: 2 since version 3 of
// the model, which files that do not tell are taken for; 10 before.
// Source: the variable descriptions that NREL publishes with the database's
// software (wind speed at 2 m), and the answers to its webinar of 6 October 2020
// (10 m in version 2), as quoted by users.
func (m *metadata) windHeight() float64 {
	if v := m.version(); strings.HasPrefix(v, "1.") || strings.HasPrefix(v, "2.") {
		return 10
	}
	return 2
}

// A layout says where the columns of a file are.
type layout struct {
	fields  int               // in the line of names
	named   int               // fields up to the last name
	stamp   [len(stamps)]int  // the columns of a row's time
	at      [len(columns)]int // −1 for a column the file lacks
	columns [len(columns)]row.Column
}

// stamps names the columns of a row's time, the minute last.
var stamps = [...]string{"Year", "Month", "Day", "Hour", "Minute"}

// readLayout reads the line of column names and takes their units from the
// metadata.
func readLayout(lines *row.Lines, m *metadata) (*layout, error) {
	line, err := lines.Next()
	h := lines.Header()
	if err == io.EOF {
		return nil, h.Errorf("", "no line of column names")
	}
	if err != nil {
		return nil, err
	}
	names := row.Split(line, len(line)+1) // empty names at the end have cells too
	lay := &layout{fields: len(names)}
	for i := range lay.stamp {
		lay.stamp[i] = -1
	}
	for i := range lay.at {
		lay.at[i] = -1
	}
	for i, b := range names {
		name := row.Text(b)
		if name != "" {
			lay.named = i + 1
		}
		for j := range stamps {
			if strings.EqualFold(name, stamps[j]) {
				if lay.stamp[j] >= 0 {
					return nil, h.Errorf(name, "the column comes twice")
				}
				lay.stamp[j] = i
			}
		}
		for c, col := range columns {
			if !strings.EqualFold(name, col.name) {
				continue
			}
			if lay.at[c] >= 0 {
				return nil, h.Errorf(name, "the column comes twice")
			}
			unit, err := m.unit(col.name, col.measure)
			if err != nil {
				return nil, err
			}
			lay.at[c] = i
			lay.columns[c] = row.Column{Name: name, Missing: noData, Word: noWord, Factor: unit.Factor, Offset: unit.Offset, Range: col.r}
		}
	}
	for i, at := range lay.stamp {
		if at < 0 {
			return nil, h.Errorf(stamps[i], "no such column; not an NSRDB PSM file")
		}
	}
	return lay, nil
}

// unit gives the unit that the metadata state for a column, named "Temperature
// Units" or, of the wind, just like the column.
func (m *metadata) unit(column string, measure row.Measure) (row.Unit, error) {
	field := column + " Units"
	spelt, ok := m.cell[strings.ToLower(field)]
	if !ok {
		spelt, ok = m.cell[strings.ToLower(column)]
		field = column
	}
	if !ok {
		return row.Unit{}, m.names.Errorf(column+" Units", "the metadata do not say the unit of the column")
	}
	u, ok := measure.UnitOf(spelt)
	if !ok {
		return u, m.values.Errorf(field, "unknown unit %q, want %s", spelt, measure.Wanted())
	}
	return u, nil
}
