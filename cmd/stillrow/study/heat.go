package study

import (
	"slices"

	"stillrow/simulate/collector"
)

var water = span{lo: 0, hi: 100} // °C

// outlets reads [heat] outlet_c with inlet_c or inlet_drop_k.
func (r *reader) outlets() []collector.Outlet {
	r.table("heat")
	before := len(r.faults)
	out := r.numbers("heat.outlet_c", span{lo: 0, hi: 100, aboveLo: true}, byDefault([]float64{45, 60}))
	if len(out) == 0 {
		r.fault("heat.outlet_c", "heat.outlet_c = [], want at least one outlet temperature")
	}
	for i, t := range out {
		if slices.Contains(out[:i], t) {
			r.fault(index("heat.outlet_c", i), "heat.outlet_c lists %g twice", t)
		}
	}
	sound := len(r.faults) == before
	in := r.inlets(out, sound)
	if len(r.faults) > before {
		return nil
	}
	list := make([]collector.Outlet, len(out))
	for i := range out {
		list[i] = collector.Outlet{In: in[i], Out: out[i]}
	}
	return list
}

// inlets gives the inlet temperature of every outlet, and compares the two
// where the outlets are sound.
func (r *reader) inlets(out []float64, sound bool) []float64 {
	const inlet, drop = "heat.inlet_c", "heat.inlet_drop_k"
	in := slices.Clone(out)
	if !r.has(inlet) {
		d := r.number(drop, water, byDefault(10.0))
		for i, t := range out {
			if in[i] = t - d; sound && in[i] < 0 {
				r.fault(drop, "%s = %g puts the inlet of outlet_c = %g below 0", drop, d, t)
			}
		}
		return in
	}
	if r.has(drop) {
		r.fault(drop, "%s beside %s, want one of them", drop, inlet)
	}
	list := r.numbers(inlet, water, byDefault([]float64(nil)))
	v, _ := r.doc.ask(inlet)
	_, isList := v.([]any)
	if isList && len(list) != len(out) {
		r.fault(inlet, "%s lists %d temperatures, want one or as many as outlet_c, %d", inlet, len(list), len(out))
		return in
	}
	for i, t := range out {
		key := inlet
		if in[i] = list[0]; isList {
			in[i], key = list[i], index(inlet, i)
		}
		if sound && in[i] > t {
			r.fault(key, "%s = %g, want at most its outlet_c = %g", key, in[i], t)
		}
	}
	return in
}
