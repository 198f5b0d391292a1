package tmy3

import (
	"encoding/csv"
	"io"
	"strings"

	"stillrow/ingest/row"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// station reads the first line; the name may be quoted.
func station(lines *row.Lines, s *weather.Site) error {
	line, err := lines.Next()
	h := lines.Header()
	if err == io.EOF {
		return h.Errorf("", "empty file")
	}
	if err != nil {
		return err
	}
	r := csv.NewReader(strings.NewReader(row.Decode(line)))
	r.LazyQuotes = true
	f, err := r.Read()
	if err != nil {
		return h.Errorf("", "no station line: %w", err)
	}
	const want = 7
	for len(f) > want && strings.TrimSpace(f[len(f)-1]) == "" {
		f = f[:len(f)-1]
	}
	if len(f) != want {
		return h.Errorf("", "station line has %d fields, want %d; not a TMY3 file", len(f), want)
	}
	s.Kind = weather.KindStation
	s.ID = row.Slug(f[0])
	s.Name = strings.TrimSpace(f[1])
	for _, n := range [...]struct {
		field, cell string
		r           sky.Range
		to          *float64
	}{
		{"time zone", f[3], row.ZoneRange, &s.UTCOffset},
		{"latitude", f[4], row.LatitudeRange, &s.Lat},
		{"longitude", f[5], row.LongitudeRange, &s.Lon},
		{"elevation", f[6], row.ElevationRange, &s.Elevation},
	} {
		if *n.to, err = h.Number(n.field, []byte(n.cell), n.r); err != nil {
			return err
		}
	}
	s.Lon = row.Longitude(s.Lon)
	return nil
}

// A layout says where the columns of a file are.
type layout struct {
	fields     int // in a row
	date, time int
	at         [len(columns)]int // −1 for a column the file lacks
	columns    [len(columns)]row.Column
}

// readLayout reads the line of column names.
func readLayout(lines *row.Lines) (*layout, error) {
	line, err := lines.Next()
	h := lines.Header()
	if err == io.EOF {
		return nil, h.Errorf("", "no line of column names")
	}
	if err != nil {
		return nil, err
	}
	names := row.Split(line, 0)
	lay := &layout{fields: len(names), date: -1, time: -1}
	for c := range columns {
		lay.at[c] = -1
	}
	for i, b := range names {
		full := row.Text(b)
		name, unit, _ := strings.Cut(full, "(")
		name, unit = strings.TrimSpace(name), strings.TrimSuffix(strings.TrimSpace(unit), ")")
		switch {
		case strings.EqualFold(name, "Date"):
			lay.date = i
		case strings.EqualFold(name, "Time"):
			lay.time = i
		}
		for c, col := range columns {
			if !strings.EqualFold(name, col.name) {
				continue
			}
			if lay.at[c] >= 0 {
				return nil, h.Errorf(full, "the column comes twice")
			}
			if !strings.EqualFold(unit, col.unit) {
				return nil, h.Errorf(full, "unit %q, want %q", unit, col.unit)
			}
			lay.at[c] = i
			lay.columns[c] = row.Column{Name: full, Missing: noData, Factor: 1, Range: col.r}
		}
	}
	if lay.date < 0 || lay.time < 0 {
		return nil, h.Errorf("", "no columns Date (MM/DD/YYYY) and Time (HH:MM); not a TMY3 file")
	}
	return lay, nil
}
