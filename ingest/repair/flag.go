package repair

import "slices"

// A Flag is a remark on a site: one stable word and what it means.
type Flag struct{ Name, Meaning string }

// The flags that ingest sets.
const (
	FlagClockShifted   = "clock_shifted"
	FlagClockMisfit    = "clock_misfit"
	FlagClockUnproven  = "clock_unproven"
	FlagZoneFar        = "zone_far"
	FlagIrradianceZero = "irradiance_zero"
	FlagGHIDerived     = "ghi_derived"
	FlagDNIDerived     = "dni_derived"
	FlagDHIDerived     = "dhi_derived"
	FlagErbs           = "erbs_split"
	FlagErbsHours      = "erbs_hours"
	FlagClosurePoor    = "closure_poor"
	FlagWindAssumed    = "wind_assumed"
	FlagWindHeight     = "wind_height"
	FlagInfraredModel  = "sky_infrared_model"
	FlagDewPointRH     = "dew_point_from_humidity"
	FlagSwinbank       = "sky_swinbank"
	FlagPressure       = "pressure_from_elevation"
	FlagCloudTotal     = "cloud_total"
	FlagCloudGHI       = "cloud_from_ghi"
	FlagSnowAbsent     = "snow_absent"
	FlagSnowRejected   = "snow_rejected"
	FlagManyFilled     = "many_filled"
	FlagConstant       = "constant_" // with the column's name
	FlagLeapDay        = "leap_day_dropped"
	FlagAveraged       = "records_averaged"
	FlagBadCells       = "bad_cells"
	FlagEnergyRecord   = "energy_per_record"                  // set by package epw
	FlagGenerated      = "hours_generated_from_monthly_means" // set by package climate
	FlagHeightAbsent   = "elevation_absent"                   // set by package grid
	FlagHeightPressure = "elevation_from_pressure"            // set by package grid
	FlagUnitsAssumed   = "units_assumed"                      // set by package power
	FlagStampFound     = "stamp_found_by_noon"                // set by package grid
	FlagStampGiven     = "stamp_given"                        // set by package grid
)

// Flags lists every flag with its meaning, for documents and reports.
func Flags() []Flag {
	return []Flag{
		{FlagClockShifted, "at least one month's irradiance is stamped off; the interval whose sun is sampled was moved"},
		{FlagClockMisfit, "a month's GHI misses DNI·sz + DHI by over 15 W/m² even at its best clock"},
		{FlagClockUnproven, "GHI, DNI and DHI are not independent, or too few: the documented time stamps are taken on trust"},
		{FlagZoneFar, "the header's time zone lies over 3.5 h from the longitude"},
		{FlagIrradianceZero, "an irradiance column is 0 all year and was taken as absent"},
		{FlagGHIDerived, "no GHI in the source: DNI·sz + DHI"},
		{FlagDNIDerived, "no DNI in the source: (GHI − DHI)/sz, 0 with the sun below 2.9°"},
		{FlagDHIDerived, "no DHI in the source: GHI − DNI·sz"},
		{FlagErbs, "only GHI in the source: split into beam and diffuse by a model"},
		{FlagErbsHours, "only GHI in some hours: split into beam and diffuse by Erbs, Klein and Duffie 1982"},
		{FlagClosurePoor, "over 10 % of the tested hours fail the BSRN comparison of GHI with DNI·sz + DHI"},
		{FlagWindAssumed, "no wind in the source: 3 m/s"},
		{FlagWindHeight, "wind brought from its height to 10 m by the 1/7 power"},
		{FlagInfraredModel, "long-wave irradiance of the sky modelled, where the source lacks it"},
		{FlagDewPointRH, "no dew point for it: from relative humidity"},
		{FlagSwinbank, "no humidity at all for it: clear sky by air temperature alone (Swinbank 1963)"},
		{FlagPressure, "no air pressure for it: standard atmosphere at the elevation"},
		{FlagCloudTotal, "no opaque cloud for it: total cloud"},
		{FlagCloudGHI, "no cloud for it: from GHI against a clear sky (Kasten and Czeplak 1980)"},
		{FlagSnowAbsent, "no snow depth in the source: 0"},
		{FlagSnowRejected, "snow on a day warmer than 10 °C: the whole column is not believed and set to 0"},
		{FlagManyFilled, "over 10 % of a column other than irradiance and air temperature was filled"},
		{FlagConstant, "followed by a column's name: that column never changes"},
		{FlagLeapDay, "a 29 February was dropped"},
		{FlagAveraged, "several records an hour were averaged"},
		{FlagBadCells, "cells that hold no number or an impossible one were taken as missing"},
		{FlagEnergyRecord, "irradiance was energy per record, turned into mean power"},
		{FlagGenerated, "hours made out of monthly means, no measured year"},
		{FlagHeightAbsent, "no elevation in the source: sea level"},
		{FlagHeightPressure, "no elevation in the grid: from its mean air pressure, standard atmosphere"},
		{FlagUnitsAssumed, "no units in the file: the usual ones of its data set, irradiance held to the sun above the air"},
		{FlagStampFound, "the file does not say where in its interval a stamp lies: found by the centre of the days' irradiance against solar noon"},
		{FlagStampGiven, "the file does not say where in its interval a stamp lies: taken as --stamp says"},
	}
}

// flag sets a flag once.
func (w *work) flag(name string) {
	if !slices.Contains(w.site.Flags, name) {
		w.site.Flags = append(w.site.Flags, name)
	}
}
