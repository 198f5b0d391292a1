package study

import "stillrow/rank"

// by reads [rank]: what makes a design the best of a site.
func (r *reader) by() (rank.By, float64) {
	const capKey = "rank.cost_cap_per_kwh"
	r.table("rank")
	by := rank.By(r.text("rank.by", byDefault(string(rank.ByLCOH)), string(rank.ByLCOH), string(rank.BySaving), string(rank.ByHeat)))
	switch given := r.has(capKey); {
	case by == rank.ByHeat && given:
		return by, r.number(capKey, span{lo: 0, hi: 1e6, aboveLo: true}, byDefault(0.0))
	case by == rank.ByHeat:
		r.fault("rank.by", "rank.by = %q without %s, want the cost of heat that the best design must keep to", by, capKey)
	case given:
		r.fault(capKey, "%s beside rank.by = %q, want it with %q only", capKey, by, rank.ByHeat)
	}
	return by, 0
}
