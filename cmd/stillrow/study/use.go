package study

import (
	"fmt"

	"stillrow/rank"
)

// degreeDayBase is that of the degree days in the tables of sites, °C.
const degreeDayBase = 18.3

// uses reads [[use]]; a study without one wants heat all year.
func (r *reader) uses() []rank.Use {
	n := r.tables("use")
	if n == 0 {
		r.note("use", "all year", "default")
		u := rank.Use{Name: "year"}
		for m := range u.Months {
			u.Months[m] = true
		}
		return []rank.Use{u}
	}
	list := make([]rank.Use, n)
	for i := range list {
		list[i] = r.oneUse(i)
		for j := range i {
			if list[j].Name == list[i].Name {
				r.fault(fmt.Sprintf("use[%d].name", i), "use[%d].name = %q, but use[%d] has that name too", i, list[i].Name, j)
			}
		}
	}
	return list
}

func (r *reader) oneUse(i int) rank.Use {
	key := func(name string) string { return fmt.Sprintf("use[%d].%s", i, name) }
	u := rank.Use{}
	if !r.has(key("name")) {
		r.fault(key("name"), "%s is missing", key("name"))
	}
	u.Name = r.text(key("name"), byDefault(""))
	season, months := r.has(key("season")), r.has(key("months"))
	if season && months {
		r.fault(key("season"), "%s beside %s, want one of them", key("season"), key("months"))
	}
	before := len(r.faults)
	if months {
		for j, m := range r.numbers(key("months"), span{lo: 1, hi: 12, wholeOnly: true}, byDefault([]float64(nil))) {
			if len(r.faults) > before {
				return u
			}
			if u.Months[int(m)-1] {
				r.fault(index(key("months"), j), "%s lists month %g twice", key("months"), m)
			}
			u.Months[int(m)-1] = true
		}
	}
	if season {
		u.Season = rank.Season(r.text(key("season"), byDefault(""), string(rank.Cooling), string(rank.Heating)))
		u.Threshold = r.number(key("threshold"), fromZero, byDefault(30.0))
		if base := r.number(key("base_c"), anyNumber, byDefault(degreeDayBase)); base != degreeDayBase {
			r.fault(key("base_c"), "%s = %g, want %g: the tables of sites carry degree days of no other base; state months, or scale the threshold", key("base_c"), base, degreeDayBase)
		}
	} else {
		for _, name := range []string{"threshold", "base_c"} {
			if r.has(key(name)) {
				r.fault(key(name), "%s without %s, want degree days only for a season", key(name), key("season"))
			}
		}
	}
	if r.has(key("demand")) {
		w := r.numbers(key("demand"), fromZero, byDefault([]float64(nil)))
		if len(w) != 12 {
			r.fault(key("demand"), "%s lists %d weights, want 12", key("demand"), len(w))
			return u
		}
		copy(u.Demand[:], w)
		if u.Demand == [12]float64{} {
			r.fault(key("demand"), "%s is 0 in every month, want heat in some", key("demand"))
		}
	}
	if r.has(key("demand_kwh_m2")) {
		u.Amount = r.number(key("demand_kwh_m2"), span{lo: 0, hi: 1e6, aboveLo: true}, notStated)
	}
	if len(r.faults) == before {
		if err := u.Validate(i); err != nil {
			r.keyFault(err)
		}
	}
	return u
}
