// Package tmy3 reads the CSV form of the third edition of typical
// meteorological years, and measured data written in its shape: one line with
// the station (number, name, state, time zone h, latitude, longitude, elevation
// m), one with the column names, then rows.
//
// A row's date and time, local standard time without daylight saving, end the
// interval that its values are for; 24:00 ends the day. Columns are found by
// name, so their order and number may differ; −9900 marks missing values. Rows
// may be closer than an hour: the time of the first says how close, and the hour
// gets their mean.
// Source: Wilcox and Marion 2008, Users Manual for TMY3 Data Sets,
// NREL/TP-581-43156.
package tmy3

import (
	"bytes"
	"io"
	"path"
	"path/filepath"
	"strings"

	"stillrow/ingest/row"
	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// noData is the missing code; lower values count as missing too.
const noData = -9900

// The columns that are read: the name before the unit, and the unit.
var columns = [...]struct {
	name, unit string
	r          sky.Range
}{
	ghi:            {"GHI", "W/m^2", sky.GlobalRange},
	dni:            {"DNI", "W/m^2", sky.BeamRange},
	dhi:            {"DHI", "W/m^2", sky.DiffuseRange},
	totalCloud:     {"TotCld", "tenths", sky.Cloud},
	opaqueCloud:    {"OpqCld", "tenths", sky.Cloud},
	airTemperature: {"Dry-bulb", "C", sky.AirTemperature},
	dewPoint:       {"Dew-point", "C", sky.DewPointRange},
	humidity:       {"RHum", "%", sky.Humidity},
	pressure:       {"Pressure", "mbar", sky.AirPressure},
	wind:           {"Wspd", "m/s", sky.Wind},
}

// Indices of columns.
const (
	ghi = iota
	dni
	dhi
	totalCloud
	opaqueCloud
	airTemperature
	dewPoint
	humidity
	pressure
	wind
)

// Parse reads a file, which errors call name. Cells that cannot be read are
// recorded and missing; anything else wrong is a *weather.FileError.
func Parse(name string, r io.Reader) (*weather.Raw, error) {
	lines := row.NewLines(name, r)
	raw := &weather.Raw{}
	if err := station(lines, &raw.Site); err != nil {
		return nil, err
	}
	base := path.Base(filepath.ToSlash(name))
	raw.Site.Source = "TMY3, " + base
	if raw.Site.ID == "" {
		raw.Site.ID = row.Slug(strings.TrimSuffix(base, path.Ext(base)))
	}
	lay, err := readLayout(lines)
	if err != nil {
		return nil, err
	}
	cells := row.Cells{File: name}
	grid, perHour, err := rows(lines, lay, &cells)
	if err != nil {
		return nil, err
	}
	raw.Site.Year = grid.Years()
	raw.GHI, raw.DNI, raw.DHI = grid.Column(ghi), grid.Column(dni), grid.Column(dhi)
	raw.TotalCloud = grid.Column(totalCloud)
	raw.OpaqueCloud = grid.Column(opaqueCloud)
	raw.AirTemperature = grid.Column(airTemperature)
	raw.DewPoint = grid.Column(dewPoint)
	raw.RelHumidity = grid.Column(humidity)
	raw.Pressure = grid.Column(pressure)
	raw.Wind = grid.Column(wind)
	raw.Independent = raw.GHI != nil && raw.DNI != nil && raw.DHI != nil
	raw.LeapHours = grid.LeapHours()
	if perHour > 1 {
		raw.PartHours = grid.Rows()
	}
	raw.BadCells, raw.BadCellCount = cells.Bad, cells.Count
	return raw, nil
}

// rows reads everything after the header onto a grid made when the first row
// has told how many rows an hour has.
func rows(lines *row.Lines, lay *layout, cells *row.Cells) (grid *row.Grid, perHour int, err error) {
	var fields row.Fields
	picks := row.NewPicks(lay.at[:], lay.columns[:])
	for {
		line, err := lines.Next()
		h := lines.Header()
		if err == io.EOF {
			if grid == nil {
				return nil, 0, h.Errorf("", "no rows after the column names")
			}
			return grid, perHour, grid.Finish(h)
		}
		if err != nil {
			return nil, 0, err
		}
		if row.Blank(line) {
			continue
		}
		fields.Split(line)
		fields.Trim(lay.fields)
		if n := fields.Len(); n != lay.fields {
			if lines.Cut() && n < lay.fields {
				return nil, 0, h.Errorf("", "the file stops in the middle of a row, field %d of %d", n, lay.fields)
			}
			return nil, 0, h.Errorf("", "row has %d fields, want %d as in the line of column names", n, lay.fields)
		}
		t, minute, err := stamp(h, fields.Field(lay.date), fields.Field(lay.time))
		if err != nil {
			return nil, 0, err
		}
		if grid == nil {
			if perHour, err = rowsPerHour(h, minute); err != nil {
				return nil, 0, err
			}
			grid = row.NewGrid(len(columns), perHour)
		}
		at, err := grid.Put(h, t)
		if err != nil {
			return nil, 0, err
		}
		if at < 0 {
			continue
		}
		grid.AddRow(at, cells.Values(&fields, h.Line, picks))
	}
}

// rowsPerHour tells from the minute of the hour that the first row ends with, 0
// for a full hour.
func rowsPerHour(h row.Header, minute int) (int, error) {
	if minute == 0 {
		return 1, nil
	}
	if 60%minute != 0 {
		return 0, h.Errorf("Time (HH:MM)", "the first row ends %d minutes past the hour, no even part of it", minute)
	}
	return 60 / minute, nil
}

// stamp reads MM/DD/YYYY and HH:MM, the end of the interval, and gives its hour
// and the minute of that hour it ends with, 0 for the full hour.
func stamp(h row.Header, date, clock []byte) (t row.Stamp, minute int, err error) {
	mm, rest, ok1 := bytes.Cut(date, []byte("/"))
	dd, yyyy, ok2 := bytes.Cut(rest, []byte("/"))
	month, ok3 := row.Whole(mm)
	day, ok4 := row.Whole(dd)
	year, ok5 := row.Whole(yyyy)
	if !(ok1 && ok2 && ok3 && ok4 && ok5) {
		return t, 0, h.Errorf("Date (MM/DD/YYYY)", "%q is no date", row.Text(date))
	}
	hh, end, ok1 := bytes.Cut(clock, []byte(":"))
	hour, ok2 := row.Whole(hh)
	minute, ok3 = row.Whole(end)
	ok := ok1 && ok2 && ok3
	if at := 60*hour + minute; !ok || minute > 59 || at < 1 || at > 24*60 {
		return t, 0, h.Errorf("Time (HH:MM)", "%q is not between 00:01 and 24:00", row.Text(clock))
	}
	t = row.Stamp{Year: year, Month: month, Day: day, Hour: (60*hour + minute - 1) / 60}
	return t, minute, t.Check(h)
}
