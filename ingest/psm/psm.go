// Package psm reads the CSV layout of the National Solar Radiation Database's
// Physical Solar Model: a line with the names of metadata, one with their
// values, one with the column names, then rows.
//
// Year, month, day, hour and minute of a row are an instant in the metadata's
// Time Zone, and the irradiance is the model's for that instant: in hourly files
// it stands at minute 30, the middle of the hour. Columns are found by name, so
// their order and number may differ; the metadata state their units. A typical
// year has months of different calendar years.
//
// GHI, DNI and DHI come from one model with one sun, so that together they prove
// the clock.
// Source: Sengupta et al. 2018, Renew. Sustain. Energy Rev. 89, 51–60, and the
// files' own metadata.
package psm

import (
	"io"
	"path"
	"path/filepath"

	"stillrow/ingest/row"
	"stillrow/ingest/series"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// noData is at or above every missing code of the data set; values below count
// as missing too. noWord stands in cells without a value.
const (
	noData = -999
	noWord = "N/A"
)

// The columns that are read, and the measure their units are of.
var columns = [...]struct {
	name    string
	measure row.Measure
	r       sky.Range
	to      func(*series.Series) *series.Column
}{
	{"GHI", row.Irradiance, sky.GlobalRange, func(s *series.Series) *series.Column { return &s.GHI }},
	{"DNI", row.Irradiance, sky.BeamRange, func(s *series.Series) *series.Column { return &s.DNI }},
	{"DHI", row.Irradiance, sky.DiffuseRange, func(s *series.Series) *series.Column { return &s.DHI }},
	{"Temperature", row.Temperature, sky.AirTemperature, func(s *series.Series) *series.Column { return &s.AirTemperature }},
	{"Dew Point", row.Temperature, sky.DewPointRange, func(s *series.Series) *series.Column { return &s.DewPoint }},
	{"Relative Humidity", row.Percent, sky.Humidity, func(s *series.Series) *series.Column { return &s.RelHumidity }},
	{"Pressure", row.Pressure, sky.AirPressure, func(s *series.Series) *series.Column { return &s.Pressure }},
	{"Wind Speed", row.Speed, sky.Wind, func(s *series.Series) *series.Column { return &s.Wind }},
}

// Parse reads a file, which errors call name. Cells that cannot be read are
// recorded and missing; anything else wrong is a *weather.FileError. Whether the
// rows make a whole year is left to the series.
func Parse(name string, r io.Reader) (*series.Series, error) {
	lines := row.NewLines(name, r)
	meta, err := readMetadata(lines)
	if err != nil {
		return nil, err
	}
	s := &series.Series{}
	if err := meta.place(&s.Site); err != nil {
		return nil, err
	}
	s.Site.Source += ", " + path.Base(filepath.ToSlash(name))
	lay, err := readLayout(lines, meta)
	if err != nil {
		return nil, err
	}
	cells := row.Cells{File: name}
	c, values, err := rows(lines, lay, &cells)
	if err != nil {
		return nil, err
	}
	axis, years, err := c.axis(name)
	if err != nil {
		return nil, err
	}
	for i, col := range columns {
		if lay.at[i] >= 0 {
			*col.to(s) = series.Column{Axis: axis, Values: values[i]}
		}
	}
	if s.Wind.Axis != nil {
		s.WindHeight = meta.windHeight()
	}
	s.MonthYears = years
	s.Independent = s.GHI.Axis != nil && s.DNI.Axis != nil && s.DHI.Axis != nil
	s.BadCells, s.BadCellCount = cells.Bad, cells.Count

	// A day of the year is one of the zone that the rows are in; those in UTC
	// leave it to the longitude, unless it is the place's own zone.
	if s.Local = meta.zone != 0 || meta.localZone == 0; s.Local {
		s.Site.UTCOffset = meta.zone
	}
	return s, nil
}

// rows reads everything after the header.
func rows(lines *row.Lines, lay *layout, cells *row.Cells) (*clock, [len(columns)][]float32, error) {
	var fields row.Fields
	var values [len(columns)][]float32
	picks := row.NewPicks(lay.at[:], lay.columns[:])
	c := &clock{}
	for {
		line, err := lines.Next()
		if err == io.EOF {
			return c, values, nil
		}
		if err != nil {
			return nil, values, err
		}
		if row.Blank(line) {
			continue
		}
		fields.Split(line)
		fields.Trim(lay.fields)
		h := lines.Header()
		if n := fields.Len(); n < lay.named || n > lay.fields {
			if lines.Cut() && n < lay.named {
				return nil, values, h.Errorf("", "the file stops in the middle of a row, field %d of %d", n, lay.fields)
			}
			return nil, values, h.Errorf("", "row has %d fields, want %d as in the line of column names", n, lay.fields)
		}
		if err := c.put(h, lay, &fields); err != nil {
			return nil, values, err
		}
		for i, v := range cells.Values(&fields, h.Line, picks) {
			if lay.at[i] >= 0 {
				values[i] = append(values[i], float32(v))
			}
		}
	}
}

// fileError names a file without a line.
func fileError(name string, err error) error { return &weather.FileError{File: name, Err: err} }
