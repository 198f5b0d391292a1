package study

import (
	"stillrow/rank"
	"stillrow/rank/cost"
	"stillrow/simulate"
)

// wear reads [wear]: how the doses that age films are counted, and the yearly
// doses that a film's rated life stands for. All defaults are assumptions: the
// ultraviolet share and the activation energy are middling values for
// polyolefin films, the reference doses those of a greenhouse roof in a sunny
// climate, for which film lives are commonly quoted.
func (r *reader) wear() (simulate.Wear, rank.Lives) {
	r.table("wear")
	share := span{lo: 0, hi: 1}
	dose := span{lo: 0, hi: 1e6, aboveLo: true}
	w := simulate.Wear{
		UVShare:            r.number("wear.uv_share", share, byDefault(0.05)),
		ClearUVTransmitted: r.number("wear.clear_uv_transmitted", share, byDefault(0.6)),
		ActivationEnergy:   1000 * r.number("wear.activation_kj_mol", span{lo: 0, hi: 500}, byDefault(80.0)),
		Reference:          r.number("wear.reference_c", span{lo: -50, hi: 150}, byDefault(40.0)),
	}
	l := rank.Lives{
		cost.ClearFilm: {
			UV:   r.number("wear.clear_uv_kwh_m2_year", dose, byDefault(100.0)),
			Warm: r.number("wear.clear_warm_h_year", dose, byDefault(8760.0)),
		},
		cost.BlackFilm: {
			UV:   r.number("wear.black_uv_kwh_m2_year", dose, byDefault(100.0)),
			Warm: r.number("wear.black_warm_h_year", dose, byDefault(8760.0)),
		},
		cost.MirrorFilm: {
			UV:   r.number("wear.mirror_uv_kwh_m2_year", dose, byDefault(100.0)),
			Warm: r.number("wear.mirror_warm_h_year", dose, byDefault(2000.0)),
		},
	}
	return w, l
}
