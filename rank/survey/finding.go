package survey

import "math"

// A Finding is what one place comes to for one layer. A number that is not
// known is NaN; a design that is not there is -1. It has fields of fixed size
// alone, so that it can lie in a file.
type Finding struct {
	Design   int32 // the best by what the study ranks by; -1 for none
	Second   int32 // the runner-up; -1 for none
	From     int32 // design whose answer to changed inputs stands for the best's; -1 for its own
	Without  int32 // number of the reason why there is no best; -1 where there is one
	Refused  bool  // the receiver's materials do not bear the outlet temperature
	BeatsGas bool  // Ratio is below 1

	Heat      float64     // that counts for the use, kWh/m² of receiver; 0 for none
	UsedShare float64     // of the heat of the use's months
	Months    [12]float32 // all heat of each calendar month, kWh/m²

	LCOH      float64 // per kWh delivered
	GasHeat   float64 // running cost of heat from the gas boiler, per kWh; always known
	Ratio     float64 // LCOH over GasHeat
	BreakEven float64 // gas price at which Ratio is 1
	Saving    float64 // against gas, per m² of receiver and year
	Payback   float64 // years; NaN where the horizon ends before
	CO2       float64 // kg per m² of receiver and year
	Split     [Units]float64

	// How sure the cost is.
	P10, P50, P90 float64 // of LCOH over the draws
	Sure          float64 // probability that its heat is cheaper than gas

	SecondLCOH, SecondExtra, SecondHeat, SecondSaving float64
}

// Units is the number of kinds of item in Finding.Split: parts of LCOH by what
// items are counted per.
const Units = 6

// The kinds of item, by their place in Finding.Split.
const (
	PerReceiver = iota // m² of receiver
	PerMirror          // m² of mirror
	PerRow             // m of row
	PerGround          // m² of ground
	PerSite
	PerKWh
)

// None is the finding of a place where no design has heat and nothing is known
// but the cost of gas.
func None(gasHeat float64) Finding {
	nan := math.NaN()
	f := Finding{Design: -1, Second: -1, From: -1, Without: -1, UsedShare: nan, LCOH: nan, GasHeat: gasHeat, Ratio: nan,
		BreakEven: nan, Saving: nan, Payback: nan, CO2: nan, P10: nan, P50: nan, P90: nan, Sure: nan,
		SecondLCOH: nan, SecondExtra: nan, SecondHeat: nan, SecondSaving: nan}
	for i := range f.Split {
		f.Split[i] = nan
	}
	for i := range f.Months {
		f.Months[i] = float32(nan)
	}
	return f
}
