// Package series makes a raw weather year of what a data set gives at one
// place: records of any step and any number of years, in UTC or local time.
//
// Records become hours of local standard time. Parts of an hour are averaged.
// Instants give hours by the trapezoid rule; those in the middle of the hour, or
// of equal parts of it, stand for it. Means of 2, 3, 4 or 6 hours of irradiance
// follow a clear sky within their interval and keep their sum; what the sun does
// not drive lies on straight lines between the middles. What a longer interval
// does not tell, how clouds came and went in it, is lost: a split of its global
// irradiance finds less beam than one of real hours, up to 7 % of a year's DNI at
// three hours.
//
// Of several years each month is the most typical, or all are the one asked for.
package series

import "stillrow/ingest/weather"

// A Series is the weather of one place as its data set gives it.
type Series struct {
	// Site carries place, source and the reader's flags. UTCOffset counts where
	// Local is set; else it becomes round(lon/15) h.
	Site  weather.Site
	Local bool // stamps are local standard time, not UTC

	GHI, DNI, DHI    Column // W/m²
	DirectHorizontal Column // beam on the horizontal, W/m²
	AirTemperature   Column // °C
	DewPoint         Column // °C
	RelHumidity      Column // %
	SpecificHumidity Column // kg/kg
	VapourPressure   Column // hPa
	Pressure         Column // hPa
	SkyInfrared      Column // W/m²
	TotalCloud       Column // tenths
	Wind             Column // m/s at WindHeight
	WindEast         Column // m/s at WindHeight, with WindNorth in place of Wind
	WindNorth        Column
	WindHeight       float64 // m; 0 means 10
	Snow             Column  // cm

	// MonthYears is for typical years, which take each month from a calendar year
	// of its own: the year whose sun each month has. All stamps are then in the
	// NominalYear, in calendar order; those in UTC go round its ends. All zero:
	// the stamps' years are real.
	MonthYears [12]int

	Independent  bool // GHI, DNI and DHI are separate measurements, so that they can prove the clock where their steps are an hour or less
	BadCells     []*weather.CellError
	BadCellCount int
}

// NominalYear is the year that the stamps of a typical year are in; it has room
// for a 29 February.
const NominalYear = 2000

// A Column is one quantity: a value for each stamp of its axis, NaN where
// missing. A nil Axis means that the data set has no such column.
type Column struct {
	Axis   *Axis
	Values []float32
}

// An Axis says which time each value of a column stands for. Columns may share
// one.
type Axis struct {
	// Stamp is seconds since 1970-01-01 00:00 in the civil (proleptic Gregorian)
	// calendar, strictly rising, a multiple of Step apart. Data sets whose
	// calendar has no 29 February simply have no stamps in it.
	Stamp   []int64
	Step    int64 // s: the length of the interval a value stands for, or the distance of two instants
	From    int64 // s: the interval is [stamp+From, stamp+From+Step); From is −Step for values that end at their stamp
	Instant bool  // values hold at the stamp itself; From is 0
}
