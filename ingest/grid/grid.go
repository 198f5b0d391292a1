// Package grid holds gridded weather: what readers of grid files hand over (a
// File), how files of one region join (a Region), and how the time slices of a
// region are turned into the series of its cells in bounded memory.
package grid

import "stillrow/ingest/series"

// A Quantity is what a field gives.
type Quantity int

// The quantities, with the unit that Field.Read gives them in.
const (
	GHI              Quantity = iota // W/m²
	DNI                              // W/m²
	DHI                              // W/m²
	DirectHorizontal                 // beam on the horizontal, W/m²
	AirTemperature                   // °C
	DewPoint                         // °C
	RelHumidity                      // %
	SpecificHumidity                 // kg/kg
	VapourPressure                   // hPa
	Pressure                         // hPa
	SkyInfrared                      // W/m²
	TotalCloud                       // tenths
	Wind                             // m/s
	WindEast                         // m/s
	WindNorth                        // m/s
	Snow                             // cm
	Elevation                        // m, static
	Quantities
)

// A File is a grid file as its reader understood it.
type File struct {
	Name string // for errors and Site.Source
	Set  string // the data set, as far as the file tells; for Site.Source

	// Lat and Lon are the centres of the cells in the order stored, degrees; Lat
	// rises or falls, Lon rises, −180 to 360 and beyond. LatEdges has one more
	// value than Lat, nil where they lie midway.
	Lat, Lon []float64
	LatEdges []float64

	Fields   []Field
	Warnings []string // what was taken on trust or repaired in reading, a line each
	Size     int64
	SHA256   string
	Close    func() error // nil where nothing is open
}

// A Field is one quantity of a File.
type Field struct {
	Quantity Quantity
	Variable string  // as the file spells it
	Height   float64 // of wind above ground, m; 0 where the file does not say

	// One of these says what the records are; a static field has neither.
	Axis   *series.Axis // hours, or parts or few multiples of one
	Local  bool         // the axis is local standard time of each cell, not UTC
	Months []int        // calendar month of each record, 1 to 12: means of a month

	// Undocumented tells that the file does not say where in its interval a
	// stamp lies; Axis.From is then 0 and ingest has to find out or be told.
	Undocumented bool

	// Read fills dst with records t to t+nt of rows y to y+ny (all columns of
	// them), time slowest, longitude fastest, NaN where missing. It may be called
	// from several goroutines. A static field has one record.
	Read func(dst []float32, t, nt, y, ny int) error

	// Chunk is the number of records and of rows in one stored block, 0 where
	// rows can be read one by one at no loss.
	ChunkTime, ChunkRows int
}

// Records is the number of records of the field.
func (f *Field) Records() int {
	switch {
	case f.Axis != nil:
		return len(f.Axis.Stamp)
	case f.Months != nil:
		return len(f.Months)
	}
	return 1
}
