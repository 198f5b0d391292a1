package rank

import (
	"math"

	"stillrow/rank/risk"
	"stillrow/simulate/result"
)

// A Spread is how sure the cost of a best design is; nil where it was not
// worked out. The cost is that of the horizon: of the weather's years it counts
// how far the mean of as many may be off, not a single one. P50 lies above the
// stated cost where more of the ranges reach up than down. In tags, ¤ stands for
// the currency.
type Spread struct {
	P10      *float64 `parquet:"lcoh_p10_per_kwh" json:"lcoh_p10_per_kwh" unit:"¤/kWh" meaning:"levelised cost that one draw of ten stays below, of prices, lives, receiver, mirror, bias of the weather and the mean of the horizon's years where year_p10 and year_p90 are known; null where uncertainty was not worked out or so many draws have no heat"`
	P50      *float64 `parquet:"lcoh_p50_per_kwh" json:"lcoh_p50_per_kwh" unit:"¤/kWh" meaning:"levelised cost that half of the draws stay below, above lcoh_per_kwh where costs may rise by more than they may fall; null likewise"`
	P90      *float64 `parquet:"lcoh_p90_per_kwh" json:"lcoh_p90_per_kwh" unit:"¤/kWh" meaning:"levelised cost that nine draws of ten stay below; null likewise"`
	BeatsGas *float64 `parquet:"beats_gas_probability" json:"beats_gas_probability" meaning:"share of the draws in which its heat is cheaper than heat from gas; null where uncertainty was not worked out"`
	From     *int32   `parquet:"lcoh_spread_from_design_id" json:"lcoh_spread_from_design_id" meaning:"design whose recorded answer to changed inputs stands for the best's, which the heat table lacks; null where it has the best's own"`
}

// SpreadOf puts draws of cost as results give them.
func SpreadOf(s risk.Spread) Spread {
	return Spread{P10: finite(s.P10), P50: finite(s.P50), P90: finite(s.P90), BeatsGas: &s.BeatsGas}
}

// finite gives nil for the cost of no heat.
func finite(v float64) *float64 {
	if math.IsInf(v, 1) {
		return nil
	}
	return &v
}

// spread asks for the spread of a pick. It is the one place where rows, maps
// and reports get it from.
func (o *Options) spread(b *result.Block, p *Pick) Spread {
	if o.Spread == nil || p.Best < 0 {
		return Spread{}
	}
	return o.Spread(b, p)
}
