package study

import (
	"fmt"

	"stillrow/rank/cost"
)

// A figure is a number that may lie in a range, and where it comes from. It is
// written as a number, or as a table:
//
//	{value = 33.5, year = 2024, source = "…", licence = "…"}
//	{low = 0.5, likely = 0.7, high = 1.0, assumption = "a sentence that says why"}
type figure struct {
	value    float64 // the likely one
	about    cost.Range
	year     int
	currency string // of money
	source   string
}

// A figureKey says what a figure may be.
type figureKey struct {
	in    span
	money bool
	fixed bool // a number without a range
}

// known is a figure without a range.
func known(f fallback[float64]) figure { return figure{value: f.value, source: f.source} }

// ends are the least and the most of a figure, known ones too.
func (f figure) ends() cost.Range {
	if f.about.Known() {
		return cost.Range{Low: f.value, High: f.value}
	}
	return f.about
}

// figure reads a figure; one that is not there is otherwise. A table must say
// its origin where strict.
func (r *reader) figure(key string, k figureKey, strict bool, otherwise figure) figure {
	f, v := otherwise, any(nil)
	v, ok := r.doc.ask(key)
	if ok {
		f = figure{year: otherwise.year, currency: otherwise.currency, source: r.source}
		if _, isTable := v.(map[string]any); isTable {
			r.value(key, k, &f)
			r.origin(key, strict, &f)
		} else {
			f.value = r.toNumber(key, v, k.in)
		}
	}
	r.note(key, f.value, f.source)
	if !f.about.Known() {
		r.note(key+".low", f.about.Low, f.source)
		r.note(key+".high", f.about.High, f.source)
	}
	return f
}

// value reads value, or low, likely and high.
func (r *reader) value(key string, k figureKey, f *figure) {
	part := func(name string) (float64, bool) {
		v, ok := r.doc.ask(key + "." + name)
		if !ok {
			return 0, false
		}
		return r.toNumber(key+"."+name, v, k.in), true
	}
	v, single := part("value")
	if k.fixed {
		if f.value = v; !single {
			r.fault(key, "%s.value is missing", key)
		}
		return
	}
	names := [3]string{"low", "likely", "high"}
	var three [3]float64
	missing, found := "", ""
	for i, name := range names {
		var ok bool
		if three[i], ok = part(name); ok && found == "" {
			found = name
		} else if !ok && missing == "" {
			missing = name
		}
	}
	switch {
	case single && found != "":
		r.fault(key+"."+found, "%s.%s beside %s.value, want one of them", key, found, key)
	case single:
		f.value = v
	case found == "":
		r.fault(key, "%s.value is missing", key)
	case missing != "":
		r.fault(key, "%s.%s is missing, want low, likely and high", key, missing)
	case three[0] > three[1]:
		r.fault(key+".low", "%s.low = %g, want at most likely = %g", key, three[0], three[1])
	case three[2] < three[1]:
		r.fault(key+".high", "%s.high = %g, want at least likely = %g", key, three[2], three[1])
	default:
		f.value = three[1]
		if three[0] < three[2] {
			f.about = cost.Range{Low: three[0], High: three[2]}
		}
	}
}

// origin reads where a figure comes from.
func (r *reader) origin(key string, strict bool, f *figure) {
	part := func(name string) (string, string) {
		at := key + "." + name
		v, ok := r.doc.ask(at)
		if !ok {
			return at, ""
		}
		s, isText := v.(string)
		if !isText {
			r.fault(at, "%s = %s, want a text", at, show(v))
		}
		return at, s
	}
	_, source := part("source")
	_, licence := part("licence")
	at, assumption := part("assumption")
	year, dated := r.doc.ask(key + ".year")
	if dated {
		f.year = int(r.toNumber(key+".year", year, yearSpan))
	}
	switch {
	case assumption != "" && source+licence != "":
		r.fault(at, "%s beside a source, want one of them", at)
	case assumption != "":
		f.source = fmt.Sprintf("%s, assumption: %s", r.source, assumption)
	case strict && (source == "" || licence == "" || !dated):
		r.fault(key, "%s has no origin, want source, licence and year, or assumption", key)
	case source != "":
		f.source = fmt.Sprintf("%s: %s", r.source, source)
		if dated {
			f.source += fmt.Sprintf(", %d", f.year)
		}
		if licence != "" {
			f.source += fmt.Sprintf(" (%s)", licence)
		}
	}
}
