package power

import (
	"bytes"
	"io"
	"regexp"
	"strings"

	"stillrow/ingest/row"
)

// Marker lines of the header.
const (
	headerBegin = "-BEGIN HEADER-"
	headerEnd   = "-END HEADER-"
)

// headerLines is how far the end of a header is looked for; twenty parameters
// are the most the service gives at once.
const headerLines = 200

// noData is the code of missing values where the header does not say.
const noData = -999

// A header is what a file, or the name of a stripped one, says of itself.
type header struct {
	stripped     bool // there is none
	lat, lon     float64
	elevation    float64 // m
	hasElevation bool
	local        bool // LST, else UTC
	missing      float64
	units        map[string]spelling // by parameter
	names        []byte              // the line of column names
}

// spelling is a unit as the header has it.
type spelling struct {
	unit string
	line int
}

// readHeader reads up to the line of column names.
func readHeader(lines *row.Lines, base string) (*header, error) {
	line, err := lines.Next()
	if err == io.EOF {
		return nil, lines.Header().Errorf("", "empty file")
	}
	if err != nil {
		return nil, err
	}
	h := &header{missing: noData, units: make(map[string]spelling)}
	if !bytes.EqualFold(bytes.TrimSpace(line), []byte(headerBegin)) {
		h.stripped = true
		h.names = bytes.Clone(line)
		return h, h.fromName(lines.Header(), base)
	}
	if err := h.read(lines); err != nil {
		return nil, err
	}
	line, err = lines.Next()
	if err == io.EOF {
		return nil, lines.Header().Errorf("", "no line of column names")
	}
	h.names = bytes.Clone(line)
	return h, err
}

// read reads the lines between the markers, in any order.
func (h *header) read(lines *row.Lines) error {
	var place, clock bool
	for {
		line, err := lines.Next()
		at := lines.Header()
		switch {
		case err == io.EOF || err == nil && at.Line > headerLines:
			return at.Errorf("", "no line %s", headerEnd)
		case err != nil:
			return err
		}
		text := row.Text(line)
		key := strings.ToLower(text)
		switch {
		case strings.EqualFold(text, headerEnd):
			if !place {
				return at.Errorf("Location", "not in the header")
			}
			if !clock {
				return at.Errorf("Dates", "the header does not say whether times are UTC or LST")
			}
			return nil
		case strings.HasPrefix(key, "location"):
			err, place = h.location(at, key), true
		case strings.HasPrefix(key, "dates"):
			err, clock = h.dates(at, text), true
		case strings.HasPrefix(key, "elevation"):
			err = h.height(at, key)
		case strings.Contains(key, "missing") && strings.Contains(key, ":"):
			err = h.noData(at, text)
		default:
			h.parameter(at, text)
		}
		if err != nil {
			return err
		}
	}
}

// location reads "Location: Latitude 50.8503 Longitude 4.3517".
func (h *header) location(at row.Header, key string) (err error) {
	words := strings.Fields(strings.NewReplacer(":", " ", ",", " ", "=", " ").Replace(key))
	cell := func(name string) []byte {
		for i, w := range words[:len(words)-1] {
			if w == name {
				return []byte(words[i+1])
			}
		}
		return nil
	}
	if h.lat, err = at.Number("Latitude", cell("latitude"), row.LatitudeRange); err != nil {
		return err
	}
	h.lon, err = at.Number("Longitude", cell("longitude"), row.LongitudeRange)
	h.lon = row.Longitude(h.lon)
	return err
}

// dates reads the time standard that "Dates … through … in UTC" ends with.
func (h *header) dates(at row.Header, text string) error {
	words := strings.Fields(text)
	switch last := strings.ToUpper(words[len(words)-1]); last {
	case "UTC", "GMT":
	case "LST":
		h.local = true
	default:
		return at.Errorf("Dates", "time standard %q, want UTC or LST", last)
	}
	return nil
}

// height reads the number of "Elevation …: Average … region = 36.84 meters".
func (h *header) height(at row.Header, key string) (err error) {
	cell := key[strings.LastIndexAny(key, "=:")+1:]
	cell = strings.TrimRight(cell, "metrs ")
	h.elevation, err = at.Number("Elevation", []byte(cell), row.ElevationRange)
	h.hasElevation = true
	return err
}

// noData reads the code of missing values.
func (h *header) noData(at row.Header, text string) error {
	cell := text[strings.LastIndex(text, ":")+1:]
	v, ok := row.Number([]byte(cell))
	if !ok || v > noData {
		return at.Errorf("value for missing data", "%q, want %d or lower", strings.TrimSpace(cell), noData)
	}
	h.missing = v
	return nil
}

// parameter reads a line such as "T2M MERRA-2 Temperature at 2 Meters (C)".
func (h *header) parameter(at row.Header, text string) {
	name, _, ok := strings.Cut(text, " ")
	open, end := strings.LastIndex(text, "("), strings.LastIndex(text, ")")
	if ok && open >= 0 && end > open {
		h.units[strings.ToUpper(name)] = spelling{strings.TrimSpace(text[open+1 : end]), at.Line}
	}
}

// unit gives the unit of a parameter: as the header states it or, without a
// header, as usual.
func (h *header) unit(at row.Header, name string, m row.Measure, usual string) (row.Unit, error) {
	s, ok := h.units[name]
	switch {
	case h.stripped:
		s.unit = usual
	case !ok:
		return row.Unit{}, at.Errorf(name, "the header does not say the unit of the column")
	default:
		at.Line = s.line
	}
	u, ok := m.UnitOf(s.unit)
	if !ok {
		return u, at.Errorf(name, "unknown unit %q, want %s", s.unit, m.Wanted())
	}
	return u, nil
}

// placeInName finds latitude, longitude and time standard in the name that the
// service gives its files: "…_033d8678S_151d2073E_LST.csv".
var placeInName = regexp.MustCompile(`(?i)_(\d{1,3})d(\d{1,8})([NS])_(\d{1,3})d(\d{1,8})([EW])_(UTC|LST)`)

// fromName reads what the name of a file without a header says.
func (h *header) fromName(at row.Header, base string) (err error) {
	if !bytes.HasPrefix(bytes.ToUpper(bytes.TrimSpace(h.names)), []byte("YEAR,")) {
		return at.Errorf("", "neither a header nor column names; not a NASA POWER table")
	}
	m := placeInName.FindStringSubmatch(base)
	if m == nil {
		return at.Errorf("", "the header is gone, and the file name does not say place and time standard "+
			"as in POWER_Point_Hourly_20250101_20251231_050d85N_004d35E_UTC.csv")
	}
	if h.lat, err = at.Number("latitude in the file name", []byte(m[1]+"."+m[2]), row.LatitudeRange); err != nil {
		return err
	}
	if h.lon, err = at.Number("longitude in the file name", []byte(m[4]+"."+m[5]), row.LongitudeRange); err != nil {
		return err
	}
	if strings.EqualFold(m[3], "S") {
		h.lat = -h.lat
	}
	if strings.EqualFold(m[6], "W") {
		h.lon = -h.lon
	}
	h.lon = row.Longitude(h.lon)
	h.local = strings.EqualFold(m[7], "LST")
	return nil
}
