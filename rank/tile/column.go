package tile

import (
	"math"

	"stillrow/rank/survey"
)

// A column is a number that features carry. Of several places it is the mean
// over those that have it, weighted by the area of their cells; stations weigh
// the same. One that is told of single places alone has none.
type column struct {
	name, unit, meaning string
	round               func(float64) float64
	of                  func(*survey.Survey, *survey.Finding) float64 // NaN where there is none
	alone               bool                                          // of single places: a mean would be no design there is
}

// Numbers of the columns that others are worked out from.
const (
	served = iota
	beats
	ratio
)

// columns are all numbers, in the order of the constants above, then as people
// read them. In units, ¤ stands for the currency.
var columns = []column{
	served: {name: "served_share", unit: "", meaning: "share of the area where a design has heat", round: decimals(3), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return truth(f.Design >= 0)
	}},
	beats: {name: "beats_gas_share", unit: "", meaning: "share of the area where beats_gas is true", round: decimals(3), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return truth(f.BeatsGas)
	}},
	ratio: {name: "gas_ratio", unit: "", meaning: "lcoh_per_kwh over gas_heat_per_kwh; below 1 beats gas; mean over the places that have heat", round: belowOne, of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.Ratio
	}},
	{name: "heat_kwh_m2", unit: "kWh/m²", meaning: "heat of the best design that the use takes, gross at the receiver, per m² of receiver; 0 where there is none", round: decimals(0), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.Heat
	}},
	{name: "lcoh_per_kwh", unit: "¤/kWh", meaning: "levelised cost of heat; mean over the places that have heat", round: figures(4), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.LCOH
	}},
	{name: "lcoh_p10_per_kwh", unit: "¤/kWh", meaning: "levelised cost that one draw of ten stays below; a mean of such costs, over the places that have one", round: figures(3), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.P10
	}},
	{name: "lcoh_p90_per_kwh", unit: "¤/kWh", meaning: "levelised cost that nine draws of ten stay below; a mean likewise", round: figures(3), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.P90
	}},
	{name: "gas_heat_per_kwh", unit: "¤/kWh", meaning: "running cost of heat from the gas boiler", round: figures(4), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.GasHeat
	}},
	{name: "beats_gas_probability", unit: "", meaning: "share of the draws in which the heat is cheaper than heat from gas; mean over the places where it was worked out", round: downwards, of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.Sure
	}},
	{name: "breakeven_gas_price_per_kwh", unit: "¤/kWh of gas", meaning: "gas price at which gas_ratio is 1; mean over the places that have heat", round: figures(3), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.BreakEven
	}},
	{name: "saving_per_m2_year", unit: "¤/m² a year", meaning: "what the heat saves against gas in a year, per m² of receiver; mean over the places that have heat", round: figures(3), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.Saving
	}},
	{name: "co2_avoided_kg_m2_year", unit: "kg/m² a year", meaning: "carbon dioxide of the gas not burnt, per m² of receiver; mean over the places that have heat", round: decimals(0), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.CO2
	}},
	{name: "payback_years", unit: "years", meaning: "first cost over what a year saves; mean over the places where it is within the horizon, which are the better ones", round: decimals(1), of: func(_ *survey.Survey, f *survey.Finding) float64 {
		return f.Payback
	}},
	{name: "best_tilt_deg", unit: "°", meaning: "slope of the best design's mirror, 90 is vertical; of a feature of one place alone, where the best design has one", round: decimals(1), alone: true, of: func(s *survey.Survey, f *survey.Finding) float64 {
		if f.Design < 0 || s.Designs[f.Design].MirrorLength == 0 {
			return math.NaN()
		}
		return s.Designs[f.Design].MirrorTilt
	}},
	{name: "best_mirror_length_m", unit: "m", meaning: "slant length of that mirror, 0 without one; of a feature of one place alone", round: decimals(2), alone: true, of: func(s *survey.Survey, f *survey.Finding) float64 {
		if f.Design < 0 {
			return math.NaN()
		}
		return s.Designs[f.Design].MirrorLength
	}},
}

// Names of the other properties.
const (
	placesName  = "places"
	beatsName   = "beats_gas"
	siteName    = "site_id"
	placeName   = "name"
	countryName = "country"
	designName  = "best_design_id"
	withoutName = "without_design"
)

// others describe the properties that are no means, and their types as vector
// tiles name them.
var others = []struct{ name, kind, meaning string }{
	{placesName, "Number", "cells or stations the feature stands for; every other property is a mean over them where it is not said otherwise, weighted by area (stations alike)"},
	{beatsName, "Boolean", "gas_ratio is below 1; false where there is no heat"},
	{siteName, "String", "site, as in the site table; of a feature of one place alone, like all that follow"},
	{placeName, "String", "name of the place, where it is not the same"},
	{countryName, "String", "country, as in ranking.parquet"},
	{designName, "Number", "best design by the study's [rank] by, as numbered in the design table"},
	{withoutName, "String", "why there is no best design"},
}

// Properties lists what features carry: name, unit and meaning; in units, ¤
// stands for the currency. What is not known is left out of a feature.
func Properties() (list [][3]string) {
	for _, p := range others {
		list = append(list, [3]string{p.name, "", p.meaning})
	}
	for _, c := range columns {
		list = append(list, [3]string{c.name, c.unit, c.meaning})
	}
	return list
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// decimals rounds to so many digits after the point.
func decimals(n int) func(float64) float64 {
	scale := math.Pow10(n)
	return func(v float64) float64 { return math.Round(v*scale)/scale + 0 } // + 0 turns -0 into 0
}

// figures rounds to so many of them.
func figures(n int) func(float64) float64 {
	return func(v float64) float64 {
		if v == 0 {
			return 0
		}
		after := n - 1 - int(math.Floor(math.Log10(math.Abs(v))))
		if after < 0 {
			scale := math.Pow10(-after)
			return math.Round(v/scale) * scale
		}
		scale := math.Pow10(after)
		return math.Round(v*scale) / scale
	}
}

// belowOne rounds to three decimals, but never what is below 1 up to it: the
// map would show parity where gas is beaten.
func belowOne(v float64) float64 {
	r := decimals(3)(v)
	if v < 1 && r >= 1 {
		return 0.999
	}
	return r
}

// downwards rounds to hundredths, so that a feature passes "at least" here
// where it does in full precision. The sum takes back what float32 lost.
func downwards(v float64) float64 { return math.Floor(100*v+1e-4) / 100 }
