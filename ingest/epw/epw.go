// Package epw reads the EPW weather format: eight header lines, of which
// LOCATION says where and DATA PERIODS how many records an hour has, then one
// row of comma-separated fields for each record of a year.
//
// Hour 1 to 24 of a row is the hour ending then, local standard time. Fields
// counted from 0: 1 to 3 month, day and hour, 6 dry-bulb and 7 dew-point
// temperature °C, 8 relative humidity %, 9 pressure Pa, 12 long-wave irradiance
// from the sky, 13 global horizontal, 14 direct normal and 15 diffuse
// horizontal irradiance Wh/m², 21 wind speed 10 m above ground m/s, 22 total and
// 23 opaque sky cover tenths, 30 snow depth cm.
// Source: the format's data dictionary, published by the US Department of
// Energy.
package epw

import (
	"bytes"
	"errors"
	"io"
	"path"
	"path/filepath"
	"strings"

	"stillrow/ingest/row"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// Rows end with the period of liquid precipitation or, in files of the
// format's first years, with the days since the last snowfall.
const (
	rowFields      = 35
	firstRowFields = 32
)

// The cells that are read, with the missing codes of the data dictionary.
var columns = [...]struct {
	field int
	row.Column
}{
	airTemperature: {6, row.Column{Name: "dry-bulb temperature", Missing: 99.9, Above: true, Factor: 1, Range: sky.AirTemperature}},
	dewPoint:       {7, row.Column{Name: "dew-point temperature", Missing: 99.9, Above: true, Factor: 1, Range: sky.DewPointRange}},
	humidity:       {8, row.Column{Name: "relative humidity", Missing: 999, Above: true, Factor: 1, Range: sky.Humidity}},
	pressure:       {9, row.Column{Name: "station pressure", Missing: 999999, Above: true, Factor: 0.01, Range: sky.AirPressure}},
	skyInfrared:    {12, row.Column{Name: "horizontal infrared radiation", Missing: 9999, Above: true, ZeroGone: true, Factor: 1, Range: sky.LongWave}},
	ghi:            {13, row.Column{Name: "global horizontal radiation", Missing: 9999, Above: true, Factor: 1, Range: sky.GlobalRange}},
	dni:            {14, row.Column{Name: "direct normal radiation", Missing: 9999, Above: true, Factor: 1, Range: sky.BeamRange}},
	dhi:            {15, row.Column{Name: "diffuse horizontal radiation", Missing: 9999, Above: true, Factor: 1, Range: sky.DiffuseRange}},
	wind:           {21, row.Column{Name: "wind speed", Missing: 999, Above: true, Factor: 1, Range: sky.Wind}},
	totalCloud:     {22, row.Column{Name: "total sky cover", Missing: 99, Above: true, Factor: 1, Range: sky.Cloud}},
	opaqueCloud:    {23, row.Column{Name: "opaque sky cover", Missing: 99, Above: true, Factor: 1, Range: sky.Cloud}},
	snow:           {30, row.Column{Name: "snow depth", Missing: 999, Above: true, Factor: 1, Range: sky.SnowDepth}},
}

// Indices of columns.
const (
	airTemperature = iota
	dewPoint
	humidity
	pressure
	skyInfrared
	ghi
	dni
	dhi
	wind
	totalCloud
	opaqueCloud
	snow
)

// EnergyPerRecord is the site flag of a file whose irradiance is energy per
// record, not per hour; see Parse.
const EnergyPerRecord = "energy_per_record"

// Parse reads a file, which errors call name. Cells that cannot be read are
// recorded and missing; anything else wrong is a *weather.FileError.
//
// With several records to the hour the hour gets their mean. By the data
// dictionary the irradiance of a record is its energy, Wh/m²; most such files
// have the mean power instead. It is taken as energy, and flagged, when the
// highest beam (or else global) irradiance so read stays below the solar
// constant.
func Parse(name string, r io.Reader) (*weather.Raw, error) {
	lines := row.NewLines(name, r)
	raw := &weather.Raw{}
	perHour, err := header(lines, &raw.Site)
	if err != nil {
		return nil, err
	}
	raw.Site.Source = "EPW (" + raw.Site.Source + "), " + path.Base(filepath.ToSlash(name))
	if raw.Site.ID == "" {
		stem := path.Base(filepath.ToSlash(name))
		raw.Site.ID = row.Slug(strings.TrimSuffix(stem, path.Ext(stem)))
	}

	grid := row.NewGrid(len(columns), perHour)
	cells := row.Cells{File: name}
	if err := rows(lines, grid, &cells); err != nil {
		return nil, err
	}
	raw.Site.Year = grid.Years()
	raw.AirTemperature = grid.Column(airTemperature)
	raw.DewPoint = grid.Column(dewPoint)
	raw.RelHumidity = grid.Column(humidity)
	raw.Pressure = grid.Column(pressure)
	raw.SkyInfrared = grid.Column(skyInfrared)
	raw.GHI, raw.DNI, raw.DHI = grid.Column(ghi), grid.Column(dni), grid.Column(dhi)
	raw.Wind = grid.Column(wind)
	raw.TotalCloud = grid.Column(totalCloud)
	raw.OpaqueCloud = grid.Column(opaqueCloud)
	raw.Snow = grid.Column(snow)
	raw.Independent = raw.GHI != nil && raw.DNI != nil && raw.DHI != nil
	raw.LeapHours = grid.LeapHours()
	if perHour > 1 {
		raw.PartHours = grid.Rows()
		if perRecord(raw, perHour) {
			raw.Site.Flags = append(raw.Site.Flags, EnergyPerRecord)
		}
	}
	raw.BadCells, raw.BadCellCount = cells.Bad, cells.Count
	return raw, nil
}

// rows reads everything after the header.
func rows(lines *row.Lines, grid *row.Grid, cells *row.Cells) error {
	var fields row.Fields
	picks := picks()
	var day today
	want := 0
	for {
		line, err := lines.Next()
		if err == io.EOF {
			return grid.Finish(lines.Header())
		}
		if err != nil {
			return err
		}
		if row.Blank(line) {
			continue
		}
		fields.Split(line)
		fields.Trim(rowFields)
		if want == 0 {
			want = rowFields
			if fields.Len() == firstRowFields {
				want = firstRowFields
			}
		}
		h := lines.Header()
		if n := fields.Len(); n != want {
			if lines.Cut() && n < want {
				return h.Errorf("", "the file stops in the middle of a row, field %d of %d", n, want)
			}
			return h.Errorf("", "row has %d fields, want %d", n, want)
		}
		t, err := day.stamp(h, &fields)
		if err != nil {
			return err
		}
		hour, err := grid.Put(h, t)
		if err != nil {
			return err
		}
		if hour < 0 {
			continue
		}
		grid.AddRow(hour, cells.Values(&fields, h.Line, picks))
	}
}

func picks() *row.Picks {
	var at [len(columns)]int
	var cells [len(columns)]row.Column
	for c := range columns {
		at[c], cells[c] = columns[c].field, columns[c].Column
	}
	return row.NewPicks(at[:], cells[:])
}

// today remembers the row read last, as most rows have its date.
type today struct {
	date []byte // year, month and day as they stand in the row
	row.Stamp
}

// stamp reads the time of a row.
func (d *today) stamp(h row.Header, fields *row.Fields) (row.Stamp, error) {
	date := fields.First(3)
	if hour, ok := row.Whole(fields.Field(3)); ok && hour >= 1 && hour <= 24 && bytes.Equal(date, d.date) {
		d.Hour = hour - 1
		return d.Stamp, nil
	}
	t, err := stamp(h, fields)
	if err == nil {
		d.date, d.Stamp = append(d.date[:0], date...), t
	}
	return t, err
}

// stamp reads the time of a row.
func stamp(h row.Header, fields *row.Fields) (row.Stamp, error) {
	var n [4]int
	for i, field := range [...]string{"year", "month", "day", "hour"} {
		v, ok := row.Whole(fields.Field(i))
		if !ok {
			// Some programs write whole numbers with decimals.
			f, isNumber := row.Number(fields.Field(i))
			if v = int(f); !isNumber || float64(v) != f {
				return row.Stamp{}, h.Errorf(field, "%q is not a whole number", row.Text(fields.Field(i)))
			}
		}
		n[i] = v
	}
	t := row.Stamp{Year: n[0], Month: n[1], Day: n[2], Hour: n[3] - 1}
	if err := t.Check(h); err != nil {
		return t, err
	}
	if n[3] < 1 || n[3] > 24 {
		return t, h.Errorf("hour", "%d is outside 1 to 24", n[3])
	}
	return t, nil
}

// perRecord turns the irradiance of records that hold energy into mean power
// and reports whether it did.
func perRecord(raw *weather.Raw, perHour int) bool {
	highest := raw.DNI
	if highest == nil {
		highest = raw.GHI
	}
	top := 0.0
	for _, v := range highest {
		if v > top { // false for NaN
			top = v
		}
	}
	if top == 0 || top*float64(perHour) > solarConstant {
		return false
	}
	for _, col := range [...][]float64{raw.GHI, raw.DNI, raw.DHI} {
		for i := range col {
			col[i] *= float64(perHour)
		}
	}
	return true
}

// solarConstant as in package sun, W/m².
const solarConstant = 1361

var errNoLocation = errors.New("the first line must be LOCATION; not an EPW file")
