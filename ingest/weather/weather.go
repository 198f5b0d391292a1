// Package weather is what ingest hands to simulate: a Site, its Year of hourly
// columns, and the Parquet schema both stages share.
//
// Hour h, 0 ≤ h < Hours, is the interval [h, h+1) of local standard time in a
// year without a leap day. The sun of that hour is sampled in the same
// interval of the calendar year Site.Year gives for its month, moved by
// Site.ClockMin minutes.
//
//	GHI, DNI, DHI   mean irradiance over the hour            W/m²
//	AirTemperature  dry-bulb air temperature                 °C
//	Wind            wind speed 10 m above ground             m/s
//	SkyInfrared     long-wave irradiance from the sky        W/m²
//	Snow            snow depth; 0 where the source has none  cm
//
// A finished Year holds no NaN: what was missing has been filled and counted
// in its Site, or the file was set aside. A Raw year, as parsers return it, has
// NaN where the source lacks a value, never 0.
package weather

import (
	"errors"
	"fmt"
)

// Hours is the number of hours in a weather year; leap days are dropped.
const Hours = 8760

// MonthDays gives the days of each month in a year without a leap day.
var MonthDays = [12]int{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

// A Site is one row of the site table: a place and what ingest did to its year.
type Site struct {
	ID           string  // unique in a weather table
	Name         string  // as the source spells it
	Lat          float64 // degrees, north positive
	Lon          float64 // degrees, east positive, −180…180
	Elevation    float64 // m above sea level
	UTCOffset    float64 // local standard time minus UTC, h
	Country      string  // as the source spells it; empty when it does not say
	Source       string  // data set and file it came from
	Kind         string  // KindStation or KindGrid
	CellDeg      float64 // edge in latitude of the grid cell centred on Lat, Lon, degrees; 0 for a station
	CellLonDeg   float64 // edge in longitude, degrees; 0 for one like CellDeg
	MissingHours int     // hours lacking at least one column in the source
	FilledHours  int     // hours with at least one value filled by ingest
	Flags        []string
	SplitModel   string      // model that split GHI into beam and diffuse; empty when the source had them
	Year         [12]int     // calendar year whose sun the month has
	ClockMin     [12]int     // shift of the interval whose sun is sampled, minutes, + later
	HDD, CDD     [12]float64 // heating and cooling degree days of each month, base 18.3 °C, K·d

	// YearP10 and YearP90 are the 10th and 90th percentile of the yearly GHI of a
	// source's single years, a poor and a rich one, over their mean; 0 where the
	// source has fewer than five whole years.
	YearP10, YearP90 float64
}

// Kinds of site: a point measured or modelled at one place, or a cell of a grid.
const (
	KindStation = "station"
	KindGrid    = "grid"
)

// A Year is the finished hourly weather of one site, Hours values a column.
// Units are in the package comment.
type Year struct {
	GHI, DNI, DHI        []float32
	AirTemperature, Wind []float32
	SkyInfrared, Snow    []float32
}

// A Raw year is what a parser found in a source: columns on the Hours grid,
// NaN where a value is missing, nil where the source has no such column. The
// Site carries place, calendar years and source, and as ClockMin how far the
// values' intervals lie from the hours they stand in by the data set's documents;
// everything that ingest finds out (flags, filled hours, clock, degree days) is
// still zero.
type Raw struct {
	Site           Site
	GHI, DNI, DHI  []float64 // W/m²
	AirTemperature []float64 // °C
	DewPoint       []float64 // °C
	RelHumidity    []float64 // %
	Pressure       []float64 // hPa
	SkyInfrared    []float64 // W/m²
	TotalCloud     []float64 // tenths
	OpaqueCloud    []float64 // tenths
	Wind           []float64 // m/s at WindHeight
	WindHeight     float64   // m; 0 means 10
	Snow           []float64 // cm

	Independent  bool         // GHI, DNI and DHI are separate columns of the source, so that they can prove the clock
	LeapHours    int          // hours of a 29 February that were dropped
	PartHours    int          // sub-hourly records that the year's hours are averages of, 0 when the source is hourly
	BadCells     []*CellError // cells that could not be read, first few kept
	BadCellCount int          // all of them
}

// ErrNoData marks a cell that is empty or holds the source's missing code.
var ErrNoData = errors.New("no data")

// A CellError names the cell of an input file that could not be used.
type CellError struct {
	File   string
	Line   int    // from 1, header lines included
	Column string // as the source spells it
	Value  string
	Err    error
}

// Error gives file:line: column: "value": reason.
func (e *CellError) Error() string {
	return fmt.Sprintf("%s:%d: %s: %q: %v", e.File, e.Line, e.Column, e.Value, e.Err)
}

// Unwrap gives the reason.
func (e *CellError) Unwrap() error { return e.Err }

// A FileError is a reason why a whole input cannot be used; Line is 0 where
// none applies, Field empty where none applies.
type FileError struct {
	File  string
	Line  int
	Field string
	Err   error
}

// Error gives file:line: field: reason, leaving out what does not apply.
func (e *FileError) Error() string {
	at := e.File
	if e.Line > 0 {
		at = fmt.Sprintf("%s:%d", at, e.Line)
	}
	if e.Field != "" {
		at += ": " + e.Field
	}
	return fmt.Sprintf("%s: %v", at, e.Err)
}

// Unwrap gives the reason.
func (e *FileError) Unwrap() error { return e.Err }
