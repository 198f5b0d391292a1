// Package climate makes an hourly year out of twelve monthly means, by
// published methods, for places that have no hourly file.
//
// A table of monthly means gives Cells: one a line (see Read), or twelve lines
// each (see ReadMonthly). Cell.Raw generates
// its hours:
//
//	daily clearness   Aguiar, Collares-Pereira and Conde 1988, Markov chain
//	hourly clearness  Aguiar and Collares-Pereira 1992, autoregressive
//	beam and diffuse  Erbs, Klein and Duffie 1982, from hourly clearness
//	air temperature   Erbs, Klein and Beckman 1983, over daily means that run
//	                  smoothly through the months (Rymes and Myers 2001)
//	dew point         from the monthly relative humidity at the day's mean
//	                  temperature, Magnus formula (WMO-No. 8)
//	wind speed        Rayleigh distributed (the distribution IEC 61400-1
//	                  assumes), autocorrelated, stronger in the afternoon
//
// Clearness is GHI over the extraterrestrial irradiance on the horizontal.
//
// # What is kept
//
// Each month has the mean GHI of the table to half a Wh/m², save months near the
// poles that have under 5 W/m² above the air, and the mean air temperature and
// wind speed to rounding. Hours are rounded to 1 W/m², 0.1 °C and 0.1 m/s.
// DNI·sin(h) + DHI = GHI holds in every hour to rounding, with sin(h) the mean
// over the hour's sunlit part of the sun that simulate uses.
//
// # What is not
//
// The days of a month differ in clearness, not in mean temperature, for which
// the method gives none: frosty days and degree days come out fewer than in a
// measured year. Temperature, humidity and wind know nothing of the day's
// clouds. Nothing knows of haze: fed with the monthly means of published typical
// years, the chain gave their yearly DNI within 8 % at five stations in clean
// air, 23 % too much at Colombo and 45 % at Hangzhou. One year is drawn; another
// would differ by chance.
//
// # The clock
//
// The hours are made for the sun of local standard time in the calendar year
// Year, with UTC offset round(lon/15) h, so the clock is exact by construction.
// DNI and DHI derive from GHI and cannot prove that: Raw.Independent is false.
// Ingest should leave ClockMin at 0 and, instead of calling the clock unproven,
// keep the flag FlagGenerated that Raw sets; Raw also names the SplitModel.
// No radiation is missing or impossible; wind or humidity are nil columns where
// the table lacks them, to be completed like those of any other source.
//
// # Chance
//
// The draws depend on the cell's id, latitude and longitude alone: the same
// cell has the same year in every table, on every machine and under every
// version of Go. Last digits of floating point may differ between processors;
// rounding hides them.
package climate

import (
	"math"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// Year is the calendar year whose sun all months have: a common year, so that
// every day of it is one of the weather year.
const Year = 2021

// FlagGenerated marks a site whose hours were generated from monthly means.
const FlagGenerated = "hours_generated_from_monthly_means"

// A Cell is a place with its monthly means, January first.
type Cell struct {
	ID        string
	Name      string
	Country   string  // as the table spells it
	Source    string  // the table it came from
	Lat       float64 // degrees, north positive, −90…90
	Lon       float64 // degrees, east positive, −180…180
	Elevation float64 // m above sea level
	CellDeg   float64 // edge in latitude of the grid cell centred on Lat, Lon, degrees; 0 for a point

	CellLonDeg float64  // edge in longitude, degrees; 0 for one like CellDeg
	Flags      []string // what the reader found

	GHI            [12]float64 // mean over day and night, W/m²
	AirTemperature [12]float64 // °C
	Wind           [12]float64 // m/s at 10 m; NaN where the table has none
	RelHumidity    [12]float64 // %; NaN where the table has none
}

// Raw generates the hours of the cell, which must pass Validate.
func (c *Cell) Raw() *weather.Raw {
	offset := math.Round(c.Lon / 15)
	sun := newSuns(c.Lat, c.Lon, offset)
	r := newDraw(c)
	ghi, dni, dhi := irradiance(r, sun, &c.GHI)
	day := smooth(&c.AirTemperature)
	raw := &weather.Raw{
		Site: weather.Site{
			ID: c.ID, Name: c.Name, Lat: c.Lat, Lon: c.Lon, Elevation: c.Elevation,
			UTCOffset: offset, Country: c.Country, Source: c.Source,
			Kind: weather.KindStation, CellDeg: c.CellDeg, CellLonDeg: c.CellLonDeg,
			Flags: append([]string{FlagGenerated}, c.Flags...), SplitModel: sky.ErbsModel,
		},
		GHI: ghi, DNI: dni, DHI: dhi,
		AirTemperature: airTemperature(day, sun.clearness(&c.GHI)),
	}
	if c.CellDeg > 0 {
		raw.Site.Kind = weather.KindGrid
	}
	for m := range raw.Site.Year {
		raw.Site.Year[m] = Year
	}
	if given(&c.RelHumidity) {
		raw.DewPoint = dewPoints(raw.AirTemperature, day, smooth(&c.RelHumidity))
	}
	if given(&c.Wind) {
		raw.Wind = wind(r, &c.Wind)
	}
	return raw
}

// given tells whether the table has the column.
func given(months *[12]float64) bool { return !math.IsNaN(months[0]) }
