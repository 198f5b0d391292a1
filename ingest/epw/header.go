package epw

import (
	"bytes"
	"io"

	"stillrow/ingest/row"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// headerLines is how far DATA PERIODS, the last header line, is looked for.
const headerLines = 16

// header reads the header into the site, with Source set to the data set's
// name, and gives the number of records to the hour.
func header(lines *row.Lines, s *weather.Site) (perHour int, err error) {
	line, err := lines.Next()
	if err == io.EOF {
		return 0, lines.Header().Errorf("", "empty file")
	}
	if err != nil {
		return 0, err
	}
	if err := location(lines.Header(), line, s); err != nil {
		return 0, err
	}
	for lines.Line() < headerLines {
		line, err := lines.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return 0, err
		}
		fields := row.Split(line, 1)
		switch key := bytes.TrimSpace(fields[0]); {
		case bytes.EqualFold(key, []byte("DATA PERIODS")):
			return dataPeriods(lines.Header(), fields)
		case len(key) > 0 && key[0] >= '0' && key[0] <= '9':
			return 0, lines.Header().Errorf("", "a row before the header line DATA PERIODS")
		}
	}
	return 0, lines.Header().Errorf("", "no header line DATA PERIODS")
}

// location reads LOCATION: city, region, country, data set, WMO station
// number, latitude and longitude (degrees, north and east positive), time zone
// (h), elevation (m).
func location(h row.Header, line []byte, s *weather.Site) error {
	const want = 10
	f := row.Split(line, want)
	if !bytes.EqualFold(bytes.TrimSpace(f[0]), []byte("LOCATION")) {
		return h.Errorf("", "%w", errNoLocation)
	}
	if len(f) != want {
		return h.Errorf("LOCATION", "has %d fields, want %d", len(f), want)
	}
	s.Kind = weather.KindStation
	s.Name = row.Text(f[1])
	s.Country = row.Text(f[3])
	s.Source = row.Text(f[4])
	s.ID = stationID(f[5])
	var err error
	for _, n := range [...]struct {
		field string
		cell  []byte
		r     sky.Range
		to    *float64
	}{
		{"latitude", f[6], row.LatitudeRange, &s.Lat},
		{"longitude", f[7], row.LongitudeRange, &s.Lon},
		{"time zone", f[8], row.ZoneRange, &s.UTCOffset},
		{"elevation", f[9], row.ElevationRange, &s.Elevation},
	} {
		if *n.to, err = h.Number(n.field, n.cell, n.r); err != nil {
			return err
		}
	}
	s.Lon = row.Longitude(s.Lon)
	return nil
}

// stationID makes an id of a station number; empty when it says nothing.
func stationID(b []byte) string {
	id := row.Slug(row.Text(b))
	switch id {
	case "0", "000000", "999999", "999", "NA", "N-A", "Unknown":
		return ""
	}
	return id
}

// dataPeriods gives the number of records to the hour.
func dataPeriods(h row.Header, f [][]byte) (int, error) {
	if len(f) < 3 {
		return 0, h.Errorf("DATA PERIODS", "has %d fields, want at least 3", len(f))
	}
	n, ok := row.Whole(f[2])
	if !ok || n < 1 || n > 60 || 60%n != 0 {
		return 0, h.Errorf("records per hour", "%q does not divide the hour", row.Text(f[2]))
	}
	return n, nil
}
