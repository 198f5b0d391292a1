// Package power reads the CSV layout of NASA POWER's hourly point data: a
// header between two marker lines, which says where, in which time standard and
// in which units, a line of column names, then rows.
//
// Hour 0 to 23 of a row starts the hour that its values are for, in UTC or in
// what the data set calls LST: whole hours from UTC, the longitude over 15°
// rounded. Columns are found by name; −999 marks missing values.
//
// A file stripped of its header is read when its name still says the place and
// the time standard; its units are then those the data set documents as its
// usual ones, which GHI must bear out against the sun, and the site is flagged.
// Source: the files' own headers and the service's documentation of its hourly
// data; the meaning of LST is held to a file's solar zenith angles in the tests.
package power

import (
	"io"
	"math"
	"path"
	"path/filepath"
	"strings"
	"time"

	"stillrow/ingest/row"
	"stillrow/ingest/series"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// Flags of a site whose file lacks its header.
const (
	UnitsAssumed     = "units_assumed"    // no units in the file: the data set's usual ones
	ElevationUnknown = "elevation_absent" // no elevation in the file: 0
)

// The parameters that are read, with the units that the data set documents as
// usual. What it calls clear-sky, top of the air, photosynthetic or ultraviolet
// irradiance has other names and is none of them.
var parameters = [...]struct {
	name    string
	measure row.Measure
	usual   string
	r       sky.Range
	to      func(*series.Series) *series.Column
	height  float64 // of wind, m
}{
	{"ALLSKY_SFC_SW_DWN", row.Irradiance, "Wh/m^2", sky.GlobalRange, func(s *series.Series) *series.Column { return &s.GHI }, 0},
	{"ALLSKY_SFC_SW_DNI", row.Irradiance, "Wh/m^2", sky.BeamRange, func(s *series.Series) *series.Column { return &s.DNI }, 0},
	{"ALLSKY_SFC_SW_DIFF", row.Irradiance, "Wh/m^2", sky.DiffuseRange, func(s *series.Series) *series.Column { return &s.DHI }, 0},
	{"ALLSKY_SFC_LW_DWN", row.Irradiance, "Wh/m^2", sky.LongWave, func(s *series.Series) *series.Column { return &s.SkyInfrared }, 0},
	{"T2M", row.Temperature, "C", sky.AirTemperature, func(s *series.Series) *series.Column { return &s.AirTemperature }, 0},
	{"T2MDEW", row.Temperature, "C", sky.DewPointRange, func(s *series.Series) *series.Column { return &s.DewPoint }, 0},
	{"RH2M", row.Percent, "%", sky.Humidity, func(s *series.Series) *series.Column { return &s.RelHumidity }, 0},
	{"QV2M", row.Moisture, "g/kg", sky.Range{Min: 0, Max: 0.1}, func(s *series.Series) *series.Column { return &s.SpecificHumidity }, 0},
	{"PS", row.Pressure, "kPa", sky.AirPressure, func(s *series.Series) *series.Column { return &s.Pressure }, 0},
	{"CLOUD_AMT", row.Cloud, "%", sky.Cloud, func(s *series.Series) *series.Column { return &s.TotalCloud }, 0},
	// Of several winds the first in this list is taken.
	{"WS10M", row.Speed, "m/s", sky.Wind, func(s *series.Series) *series.Column { return &s.Wind }, 10},
	{"WS2M", row.Speed, "m/s", sky.Wind, func(s *series.Series) *series.Column { return &s.Wind }, 2},
	{"WS50M", row.Speed, "m/s", sky.Wind, func(s *series.Series) *series.Column { return &s.Wind }, 50},
}

// Parse reads a file, which errors call name. Cells that cannot be read are
// recorded and missing; anything else wrong is a *weather.FileError. Whether the
// rows make a whole year is left to the series.
func Parse(name string, r io.Reader) (*series.Series, error) {
	lines := row.NewLines(name, r)
	base := path.Base(filepath.ToSlash(name))
	head, err := readHeader(lines, base)
	if err != nil {
		return nil, err
	}
	lay, err := readLayout(lines.Header(), head)
	if err != nil {
		return nil, err
	}
	cells := row.Cells{File: name}
	axis, values, err := rows(lines, lay, &cells)
	if err != nil {
		return nil, err
	}
	s := &series.Series{Site: head.site(), Local: head.local}
	s.Site.Source = "NASA POWER, " + base
	for i, p := range parameters {
		if lay.at[i] < 0 || p.height > 0 && s.Wind.Axis != nil {
			continue
		}
		*p.to(s) = series.Column{Axis: axis, Values: values[i]}
		if p.height > 0 {
			s.WindHeight = p.height
		}
	}
	s.BadCells, s.BadCellCount = cells.Bad, cells.Count
	if head.stripped {
		if err := plausible(s); err != nil {
			return nil, lay.h.Errorf(parameters[0].name, "%w", err)
		}
	}
	return s, nil
}

// rows reads everything after the line of column names.
func rows(lines *row.Lines, lay *layout, cells *row.Cells) (*series.Axis, [len(parameters)][]float32, error) {
	var fields row.Fields
	var values [len(parameters)][]float32
	picks := row.NewPicks(lay.at[:], lay.columns[:])
	axis := &series.Axis{Step: 3600}
	for {
		line, err := lines.Next()
		h := lines.Header()
		if err == io.EOF {
			if len(axis.Stamp) == 0 {
				return nil, values, h.Errorf("", "no rows after the column names")
			}
			return axis, values, nil
		}
		if err != nil {
			return nil, values, err
		}
		if row.Blank(line) {
			continue
		}
		fields.Split(line)
		fields.Trim(lay.fields)
		if n := fields.Len(); n != lay.fields {
			if lines.Cut() && n < lay.fields {
				return nil, values, h.Errorf("", "the file stops in the middle of a row, field %d of %d", n, lay.fields)
			}
			return nil, values, h.Errorf("", "row has %d fields, want %d as in the line of column names", n, lay.fields)
		}
		t, err := stamp(h, lay, &fields)
		if err != nil {
			return nil, values, err
		}
		if n := len(axis.Stamp); n > 0 && t <= axis.Stamp[n-1] {
			return nil, values, h.Errorf("", "row of %s after %s: times must rise", hourName(t), hourName(axis.Stamp[n-1]))
		}
		axis.Stamp = append(axis.Stamp, t)
		for i, v := range cells.Values(&fields, h.Line, picks) {
			if lay.at[i] >= 0 {
				values[i] = append(values[i], float32(v))
			}
		}
	}
}

// stamp reads the time of a row, seconds since 1970 in the calendar.
func stamp(h row.Header, lay *layout, fields *row.Fields) (int64, error) {
	var n [len(stamps)]int
	for i, at := range lay.stamp {
		v, ok := row.Whole(fields.Field(at))
		if !ok {
			return 0, h.Errorf(stamps[i], "%q is not a whole number", row.Text(fields.Field(at)))
		}
		n[i] = v
	}
	t := row.Stamp{Year: n[0], Month: n[1], Day: n[2], Hour: n[3]}
	switch err := t.Check(h); {
	case err != nil:
		return 0, err
	case t.Month == 2 && t.Day == 29 && !row.LeapYear(t.Year):
		return 0, h.Errorf("DY", "%d has no 29 February", t.Year)
	case t.Hour > 23:
		return 0, h.Errorf("HR", "%d is outside 0 to 23", t.Hour)
	}
	return time.Date(t.Year, time.Month(t.Month), t.Day, t.Hour, 0, 0, 0, time.UTC).Unix(), nil
}

func hourName(s int64) string { return time.Unix(s, 0).UTC().Format("2006-01-02 15:04") }

// zone gives the hours from UTC of the data set's LST.
func zone(lon float64) float64 { return math.Round(lon / 15) }

// site gives the place of a file.
func (h *header) site() weather.Site {
	s := weather.Site{
		ID: row.PlaceID(h.lat, h.lon), Name: row.PlaceName(h.lat, h.lon), Kind: weather.KindStation,
		Lat: h.lat, Lon: h.lon, Elevation: h.elevation,
	}
	if h.local {
		s.UTCOffset = zone(h.lon)
	}
	if h.stripped {
		s.Flags = append(s.Flags, UnitsAssumed)
	}
	if !h.hasElevation {
		s.Flags = append(s.Flags, ElevationUnknown)
	}
	return s
}

// A layout says where the columns of a file are.
type layout struct {
	h       row.Header // of the line of column names
	fields  int
	stamp   [len(stamps)]int
	at      [len(parameters)]int // −1 for one that the file lacks
	columns [len(parameters)]row.Column
}

// stamps names the columns of a row's time.
var stamps = [...]string{"YEAR", "MO", "DY", "HR"}

// readLayout reads the line of column names, which the header reader stopped
// at.
func readLayout(h row.Header, head *header) (*layout, error) {
	names := row.Split(head.names, 0)
	lay := &layout{h: h, fields: len(names)}
	where := make(map[string]int, len(names))
	for i, b := range names {
		name := strings.ToUpper(row.Text(b))
		if _, twice := where[name]; twice && name != "" {
			return nil, h.Errorf(name, "the column comes twice")
		}
		where[name] = i
	}
	if err := hourly(h, where); err != nil {
		return nil, err
	}
	for i, name := range stamps {
		at, ok := where[name]
		if !ok {
			return nil, h.Errorf(name, "no such column; not a NASA POWER hourly table")
		}
		lay.stamp[i] = at
	}
	for i, p := range parameters {
		at, ok := where[p.name]
		if lay.at[i] = at; !ok {
			lay.at[i] = -1
			continue
		}
		unit, err := head.unit(h, p.name, p.measure, p.usual)
		if err != nil {
			return nil, err
		}
		lay.columns[i] = row.Column{Name: p.name, Missing: head.missing, Factor: unit.Factor, Offset: unit.Offset, Range: p.r}
	}
	return lay, nil
}

// hourly refuses the data set's tables of days and months by name.
func hourly(h row.Header, where map[string]int) error {
	has := func(names ...string) bool {
		for _, n := range names {
			if _, ok := where[n]; ok {
				return true
			}
		}
		return false
	}
	switch {
	case has("LAT", "LON"):
		return h.Errorf("", "a NASA POWER table of a region; hourly tables of points are read")
	case has("JAN", "DEC", "ANN"):
		return h.Errorf("", "a NASA POWER table of months; hourly values are needed")
	case !has("HR") && has("DY", "DOY"):
		return h.Errorf("", "a NASA POWER table of days; hourly values are needed")
	}
	return nil
}
