package repair

import (
	"math"

	"stillrow/ingest/sky"
	"stillrow/ingest/weather"
)

// irradiance fills the irradiance columns and makes those that the source
// lacks.
func (w *work) irradiance() {
	r := w.raw
	w.atNight()
	all := r.GHI != nil && r.DNI != nil && r.DHI != nil
	if all {
		w.splitHours()
		w.deriveHours()
	}
	w.fillSolar("dni_w_m2", r.DNI, hourSun.normal)
	w.fillSolar("dhi_w_m2", r.DHI, hourSun.horizontal)
	if all {
		w.deriveHours() // what GHI lacks, of the other two as filled
	}
	w.fillSolar("ghi_w_m2", r.GHI, hourSun.horizontal)
	w.deriveColumns()
}

// atNight sets missing irradiance with the sun down all hour to 0.
func (w *work) atNight() {
	for _, c := range w.columns() {
		if !c.solar {
			continue
		}
		for h, x := range *c.v {
			if missing(x) && w.suns[h].lit == 0 {
				(*c.v)[h] = 0
			}
		}
	}
}

// splitHours makes the beam and the diffuse of the hours that have GHI alone, as
// when a tracker stood still: what it says of the sky is worth more than the
// days beside.
func (w *work) splitHours() {
	r := w.raw
	for h, s := range w.suns {
		if missing(r.GHI[h]) || !missing(r.DNI[h]) || !missing(r.DHI[h]) {
			continue
		}
		r.DNI[h], r.DHI[h] = sky.SplitErbs(r.GHI[h], s.e0n, s.sz, s.lit)
		w.filled[h] = true
		w.noteFilled("dni_w_m2", 1)
		w.noteFilled("dhi_w_m2", 1)
		w.flag(FlagErbsHours)
	}
}

// deriveHours makes an hour's one missing component of the other two.
func (w *work) deriveHours() {
	r := w.raw
	for h, s := range w.suns {
		ghi, dni, dhi := r.GHI[h], r.DNI[h], r.DHI[h]
		var v []float64
		var x float64
		var name string
		switch {
		case missing(ghi) && !missing(dni) && !missing(dhi):
			v, name, x = r.GHI, "ghi_w_m2", dni*s.sz+dhi
		case missing(dhi) && !missing(ghi) && !missing(dni):
			v, name, x = r.DHI, "dhi_w_m2", max(0, ghi-dni*s.sz)
		case missing(dni) && !missing(ghi) && !missing(dhi) && s.anchor():
			v, name, x = r.DNI, "dni_w_m2", max(0, (ghi-dhi)/s.sz)
		}
		if v != nil && s.possible(name).Holds(x) {
			v[h] = x
			w.filled[h] = true
			w.noteFilled(name, 1)
		}
	}
}

// fillSolar fills a column by its ratio to the irradiance outside the
// atmosphere. Hours with the sun low are no measure of that ratio.
func (w *work) fillSolar(name string, v []float64, outside func(hourSun) float64) {
	if v == nil {
		return
	}
	n := countMissing(v)
	w.noteFilled(name, n)
	if n == 0 {
		return
	}
	gap := make([]bool, weather.Hours)
	ratio := make([]float64, weather.Hours)
	for h, x := range v {
		ratio[h] = math.NaN()
		switch {
		case missing(x):
			gap[h] = true
			w.filled[h] = true
		case w.suns[h].anchor():
			ratio[h] = x / outside(w.suns[h])
		}
	}
	fillGaps(ratio, gap)
	for h := range v {
		if gap[h] {
			v[h] = 0
			if ratio[h] == ratio[h] {
				v[h] = ratio[h] * outside(w.suns[h])
			}
		}
	}
}

// deriveColumns makes the columns that the source lacks of those it has, which
// are complete by now.
func (w *work) deriveColumns() {
	r := w.raw
	noGHI, noDNI, noDHI := r.GHI == nil, r.DNI == nil, r.DHI == nil
	for _, v := range [...]*[]float64{&r.GHI, &r.DNI, &r.DHI} {
		if *v == nil {
			*v = make([]float64, weather.Hours)
		}
	}
	switch {
	case noGHI:
		w.flag(FlagGHIDerived)
	case noDNI && noDHI:
		w.site.SplitModel = sky.ErbsModel
		w.flag(FlagErbs)
	case noDNI:
		w.flag(FlagDNIDerived)
	case noDHI:
		w.flag(FlagDHIDerived)
	}
	for h, s := range w.suns {
		switch {
		case noGHI:
			r.GHI[h] = r.DNI[h]*s.sz + r.DHI[h]
		case noDNI && noDHI:
			r.DNI[h], r.DHI[h] = sky.SplitErbs(r.GHI[h], s.e0n, s.sz, s.lit)
		case noDNI && s.sz >= sky.LowSun:
			r.DNI[h] = min(max(0, r.GHI[h]-r.DHI[h])/s.sz, s.normal())
		case noDHI:
			r.DHI[h] = max(0, r.GHI[h]-r.DNI[h]*s.sz)
		}
	}
}
