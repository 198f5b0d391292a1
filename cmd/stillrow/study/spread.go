package study

import (
	"stillrow/rank/cost"
	"stillrow/rank/risk"
	"stillrow/simulate/result"
)

// A Spread is how far the inputs may lie from what the study and its books say,
// beside the ranges of single figures.
type Spread struct {
	Draws   int
	Physics [result.Params]risk.Normal // relative; efficiency and reflectance stop at 1
	Money   cost.Doubt
}

// spread reads [spread]. All defaults are assumptions: the receiver's
// coefficients as film heaters built by hand differ from one to the next, the
// mirror's reflectance as its film and its dirt do, the irradiance as the usual
// statement of a satellite's or a station's yearly sum, and gas as delivered
// prices of industry moved from year to year between 2019 and 2022 (U.S. Energy
// Information Administration, 3.90 to 7.66 $ per thousand cubic feet: a factor
// of two in three years).
func (r *reader) spread(eta0b, reflectance float64) Spread {
	r.table("spread")
	percent := func(name string, otherwise float64) float64 {
		return r.number("spread."+name, span{lo: 0, hi: 50}, byDefault(otherwise)) / 100
	}
	var s Spread
	s.Draws = int(r.number("spread.draws", span{lo: 100, hi: 100000, wholeOnly: true}, byDefault(float64(risk.DefaultDraws))))
	for _, k := range []struct {
		p         result.Param
		name      string
		otherwise float64
		at        float64 // of what may not pass 1
	}{
		{result.Eta0b, "eta0b_percent", 3, eta0b},
		{result.C1, "c1_percent", 10, 0},
		{result.Reflectance, "reflectance_percent", 4, reflectance},
		{result.Irradiance, "irradiance_percent", 4, 0},
	} {
		n := risk.Normal{SD: percent(k.name, k.otherwise)}
		n.Low, n.High = -3*n.SD, 3*n.SD
		if k.at > 0 {
			n.High = min(n.High, max(0, 1/k.at-1))
		}
		s.Physics[k.p] = n
	}
	s.Money.GasSpread = percent("gas_price_percent", 25)
	s.Money.Correlation = r.number("spread.price_correlation", span{lo: 0, hi: 1}, byDefault(0.5))
	return s
}

// Risk gives what of the study's spread all places share.
func (s *Study) Risk() risk.Options {
	return risk.Options{Draws: s.Spread.Draws, Construction: s.Preset, Physics: s.Spread.Physics}
}
