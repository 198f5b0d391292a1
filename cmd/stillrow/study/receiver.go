package study

import (
	"math"
	"slices"

	"stillrow/simulate/collector"
	"stillrow/simulate/film"
)

var temperature = span{lo: -100, hi: 400} // °C, of a film or foam limit

// coefficients is what a receiver given by its own coefficients, eta0b first,
// has where the study leaves one out: no loss of that kind.
func coefficients() collector.Receiver {
	nan := math.NaN()
	return collector.Receiver{
		Kb: collector.B0(0), Kd: 1, WaterDepth: 0.05, WindFactor: 1, Night: collector.Hold,
		FrostLock: nan, SofteningBlack: nan, SofteningClear: nan, FoamLimit: nan,
	}
}

// receiver reads [receiver]: a preset that single keys refine, or, where eta0b
// is given without one, coefficients alone. It names the preset, if any, and
// counts its clear films.
func (r *reader) receiver() (rec collector.Receiver, name string, clear int) {
	r.table("receiver")
	base, source := coefficients(), "default"
	if r.has("receiver.preset") || !r.has("receiver.eta0b") {
		name = r.text("receiver.preset", byDefault(film.Names()[0]), film.Names()...)
		source = "preset " + name
		if !slices.Contains(film.Names(), name) { // already a fault: read on by the first
			name = film.Names()[0]
		}
		preset, stack, err := film.Preset(name)
		if err != nil {
			r.fault("receiver.preset", "receiver.preset = %q: %v", name, err)
		}
		base, clear = preset, len(stack.Clear)
	}
	from := func(v float64) fallback[float64] {
		if math.IsNaN(v) {
			return notStated
		}
		return fallback[float64]{v, source}
	}
	rec = base
	for _, k := range []struct {
		name string
		v    *float64
		in   span
	}{
		{"eta0b", &rec.Eta0b, anyNumber},
		{"c1", &rec.C1, anyNumber}, {"c2", &rec.C2, anyNumber}, {"c3", &rec.C3, anyNumber},
		{"c4", &rec.C4, anyNumber}, {"c5", &rec.C5, anyNumber}, {"c6", &rec.C6, anyNumber},
		{"water_depth_m", &rec.WaterDepth, anyNumber}, {"wind_factor", &rec.WindFactor, anyNumber},
		{"frost_lock_c", &rec.FrostLock, span{lo: -50, hi: 50}},
		{"softening_black_c", &rec.SofteningBlack, temperature},
		{"softening_clear_c", &rec.SofteningClear, temperature},
		{"foam_limit_c", &rec.FoamLimit, temperature},
	} {
		*k.v = r.number("receiver."+k.name, k.in, from(*k.v))
	}
	rec.Night = collector.Night(r.text("receiver.night", fallback[string]{string(base.Night), source},
		string(collector.Hold), string(collector.Drain)))
	before := len(r.faults)
	if k := r.iam(); k != nil {
		rec.Kb = k
	} else {
		r.note("receiver.iam", "as the films give it", source)
	}
	if len(r.faults) > before { // Kb is of no use
		r.has("receiver.kd")
		return rec, name, clear
	}
	kd := from(base.Kd)
	if r.has("receiver.iam") {
		kd = fallback[float64]{collector.Diffuse(rec.Kb), "computed from receiver.iam"}
	}
	rec.Kd = r.number("receiver.kd", anyNumber, kd)
	r.check("receiver", rec.Validate())
	return rec, name, clear
}

// iam reads receiver.iam: films, a table or b0, exactly one of them; nil where
// the document has none.
func (r *reader) iam() collector.IAM {
	const key = "receiver.iam"
	if !r.table(key) {
		return nil
	}
	ways := 0
	for _, way := range []string{".films", ".table", ".b0"} {
		if r.has(key + way) {
			ways++
		}
	}
	if ways != 1 {
		r.fault(key, "%s: %d of films, table and b0 given, want exactly one", key, ways)
		return nil
	}
	switch {
	case r.has(key + ".b0"):
		return collector.B0(r.number(key+".b0", span{lo: 0, hi: 1}, notStated))
	case r.has(key + ".table"):
		return r.measuredIAM(key + ".table")
	}
	return r.films(key + ".films")
}

func (r *reader) films(key string) collector.IAM {
	n := r.tables(key)
	if n == 0 || n > 5 {
		r.fault(key, "%s: %d films, want 1 to 5", key, n)
		return nil
	}
	var stack collector.FilmStack
	for i := range n {
		film := index(key, i)
		for _, name := range []string{".n", ".kl"} {
			if !r.has(film + name) {
				r.fault(film, "%s: %s is missing, want {n, kl}", film, name[1:])
			}
		}
		stack = append(stack, collector.Film{
			N:  r.number(film+".n", span{lo: 1, hi: 5}, notStated),
			KL: r.number(film+".kl", span{lo: 0, hi: 10}, notStated),
		})
	}
	return stack
}

// measuredIAM reads [[degrees, modifier], …].
func (r *reader) measuredIAM(key string) collector.IAM {
	v, _ := r.doc.ask(key)
	rows, ok := v.([]any)
	if !ok {
		r.fault(key, "%s = %s, want [[degrees, modifier], …]", key, show(v))
		return nil
	}
	before := len(r.faults)
	points := make([][2]float64, len(rows))
	for i, row := range rows {
		pair, ok := row.([]any)
		if !ok || len(pair) != 2 {
			r.fault(index(key, i), "%s = %s, want [degrees, modifier]", index(key, i), show(row))
			continue
		}
		for j := range pair {
			points[i][j] = r.toNumber(index(index(key, i), j), pair[j], anyNumber)
		}
	}
	if len(r.faults) > before {
		return nil
	}
	k, err := collector.NewMeasuredIAM(points)
	if err != nil {
		r.fault(key, "receiver.iam.%v", err) // table …
		return nil
	}
	r.note(key, points, r.source)
	return k
}

// mirror reads [mirror].
func (r *reader) mirror() collector.Mirror {
	r.table("mirror")
	m := collector.Mirror{
		Reflectance:   r.number("mirror.reflectance", anyNumber, byDefault(0.80)),
		Cleanliness:   r.number("mirror.cleanliness", anyNumber, byDefault(0.95)),
		SlopeError:    r.number("mirror.slope_error_mrad", anyNumber, byDefault(5.0)),
		Scatter:       r.number("mirror.scatter_mrad", anyNumber, byDefault(3.0)),
		UVReflectance: r.number("mirror.uv_reflectance", anyNumber, byDefault(0.70)),
		WindLimit:     r.number("mirror.wind_limit_m_s", span{lo: 0, hi: 100, aboveLo: true}, byDefault(15.0)),
	}
	r.check("mirror", m.Validate())
	return m
}

// ground reads [ground].
func (r *reader) ground() collector.Ground {
	r.table("ground")
	g := collector.Ground{
		Albedo:     r.number("ground.albedo", anyNumber, byDefault(0.2)),
		FieldDepth: r.number("ground.field_depth_m", span{lo: 0, hi: 1e5}, notStated),
	}
	r.check("ground", g.Validate())
	return g
}
