package cost

import "cmp"

// Properties of natural gas.
const (
	// CO2PerKWh is the carbon dioxide of a kWh of natural gas, lower heating
	// value, in kg: 56.1 kg/GJ of IPCC 2006 Guidelines, volume 2, table 2.2.
	CO2PerKWh = 0.20196
	// HigherPerLower is the higher over the lower heating value of natural gas;
	// published values for pipeline gas lie between 1.10 and 1.11.
	HigherPerLower = 1.109
)

// A Basis is the heating value a gas price is for.
type Basis string

// Heating values; statistics and bills are mostly on the higher one.
const (
	LowerHeatingValue  Basis = "lhv"
	HigherHeatingValue Basis = "hhv"
)

// Gas is the gas section of a study: the heat of an existing boiler, of which
// only the running costs count.
type Gas struct {
	PricePerKWh         float64 // on Basis
	Basis               Basis
	BoilerEfficiency    float64 // on the lower heating value, so a condensing boiler may pass 1
	BoilerRunningPerKWh float64 // per kWh of heat
	CarbonPricePerKg    float64 // per kg of CO2

	PriceRange, EfficiencyRange, RunningRange, CarbonRange Range // of the four numbers; only package risk looks at them
}

// Validate returns a *KeyError for the first value out of range.
func (g *Gas) Validate() error {
	switch {
	case !(g.PricePerKWh > 0) || !notNegative(g.PricePerKWh):
		return &KeyError{"gas.price_per_kwh", g.PricePerKWh, "above 0"}
	case g.Basis != LowerHeatingValue && g.Basis != HigherHeatingValue:
		return &KeyError{"gas.basis", string(g.Basis), "lhv or hhv"}
	case !(g.BoilerEfficiency > 0 && g.BoilerEfficiency <= HigherPerLower):
		return &KeyError{"gas.boiler_efficiency", g.BoilerEfficiency, "above 0 and at most 1.109, on the lower heating value"}
	case !notNegative(g.BoilerRunningPerKWh):
		return &KeyError{"gas.boiler_running_per_kwh", g.BoilerRunningPerKWh, "a number from 0"}
	case !notNegative(g.CarbonPricePerKg):
		return &KeyError{"gas.carbon_price_per_kg", g.CarbonPricePerKg, "a number from 0"}
	}
	efficiency := func(v float64) bool { return v > 0 && v <= HigherPerLower }
	return cmp.Or(
		g.PriceRange.validate("gas.price_per_kwh", g.PricePerKWh, func(v float64) bool { return v > 0 && notNegative(v) }, "above 0"),
		g.EfficiencyRange.validate("gas.boiler_efficiency", g.BoilerEfficiency, efficiency, "above 0 and at most 1.109, on the lower heating value"),
		g.RunningRange.validate("gas.boiler_running_per_kwh", g.BoilerRunningPerKWh, notNegative, "a number from 0"),
		g.CarbonRange.validate("gas.carbon_price_per_kg", g.CarbonPricePerKg, notNegative, "a number from 0"),
	)
}

// perLower is what a price on the study's basis is multiplied by.
func (g *Gas) perLower() float64 {
	if g.Basis == HigherHeatingValue {
		return HigherPerLower
	}
	return 1
}

// HeatCost is the cost of a kWh of heat from the boiler.
func (g *Gas) HeatCost() float64 {
	return (g.PricePerKWh*g.perLower()+g.CarbonPricePerKg*CO2PerKWh)/g.BoilerEfficiency + g.BoilerRunningPerKWh
}

// Ratio is a levelised cost over HeatCost: below 1 it beats gas.
func (g *Gas) Ratio(lcoh float64) float64 { return lcoh / g.HeatCost() }

// BreakEvenPrice is the gas price, on the study's basis, at which Ratio is 1.
// It is negative where heat would beat even gas that costs nothing.
func (g *Gas) BreakEvenPrice(lcoh float64) float64 {
	return ((lcoh-g.BoilerRunningPerKWh)*g.BoilerEfficiency - g.CarbonPricePerKg*CO2PerKWh) / g.perLower()
}
