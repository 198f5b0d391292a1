package study

import (
	"math"
	"strconv"
	"strings"

	"stillrow/simulate/collector"
)

// MaxDesigns is the most candidates a study may have.
const MaxDesigns = 1_000_000

// geometry lists the names of [designs] in the order in which candidates are
// numbered, the last name fastest, with what a name left out stands for.
var geometry = []struct {
	name      string
	otherwise float64
	field     func(*collector.Design) *float64
}{
	{"receiver_width_m", 1, func(d *collector.Design) *float64 { return &d.ReceiverWidth }},
	{"mirror_length_m", 1, func(d *collector.Design) *float64 { return &d.MirrorLength }},
	{"mirror_tilt_deg", 90, func(d *collector.Design) *float64 { return &d.MirrorTilt }},
	{"setback_m", 0, func(d *collector.Design) *float64 { return &d.Setback }},
	{"raise_m", 0, func(d *collector.Design) *float64 { return &d.Raise }},
	{"row_pitch_m", 0, func(d *collector.Design) *float64 { return &d.RowPitch }},   // a single row
	{"row_length_m", 0, func(d *collector.Design) *float64 { return &d.RowLength }}, // endless
	{"row_azimuth_deg", 0, func(d *collector.Design) *float64 { return &d.RowAzimuth }},
}

// designs reads [designs]: the product of its lists.
func (r *reader) designs() []collector.Design {
	if !r.table("designs") {
		r.fault("designs", "no candidate designs: [designs] is missing")
		return nil
	}
	before := len(r.faults)
	lists := make([][]float64, len(geometry))
	given, total := false, 1.0
	for i, g := range geometry {
		key := "designs." + g.name
		given = r.has(key) || given
		lists[i] = r.candidates(key, g.otherwise)
		total *= float64(len(lists[i]))
	}
	switch {
	case len(r.faults) > before:
		return nil
	case !given:
		r.fault("designs", "no candidate designs: [designs] is empty")
		return nil
	case total > MaxDesigns:
		r.fault("designs", "designs: %.0f candidates, want at most %d", total, MaxDesigns)
		return nil
	}
	list := make([]collector.Design, int(total))
	for n := range list {
		rest := n
		for i := len(geometry) - 1; i >= 0; i-- {
			*geometry[i].field(&list[n]) = lists[i][rest%len(lists[i])]
			rest /= len(lists[i])
		}
	}
	r.validate(list)
	r.note("designs", len(list), "product of the lists")
	return list
}

// validate checks every candidate and reports each faulty key once.
func (r *reader) validate(list []collector.Design) {
	seen := make(map[string]bool)
	for _, d := range list {
		err := d.Validate()
		if err == nil {
			continue
		}
		if name, _, _ := strings.Cut(err.Error(), " = "); !seen[name] {
			seen[name] = true
			r.check("designs", err)
		}
	}
}

// candidates reads one name: a number, a list or {from, to, step}.
func (r *reader) candidates(key string, otherwise float64) []float64 {
	v, _ := r.doc.ask(key)
	if _, ok := v.(map[string]any); ok {
		return r.steps(key)
	}
	list := r.numbers(key, anyNumber, byDefault([]float64{otherwise}))
	if len(list) == 0 {
		r.fault(key, "%s = [], no candidate designs", key)
	}
	return list
}

// steps reads {from, to, step}, both ends included.
func (r *reader) steps(key string) []float64 {
	before := len(r.faults)
	var v [3]float64
	for i, name := range []string{"from", "to", "step"} {
		part := join(key, name)
		got, ok := r.doc.ask(part)
		if !ok {
			r.fault(key, "%s: %s is missing, want {from, to, step}", key, name)
			continue
		}
		v[i] = r.toNumber(part, got, anyNumber)
	}
	from, to, step := v[0], v[1], v[2]
	if len(r.faults) > before {
		return nil
	}
	switch {
	case step <= 0:
		r.fault(join(key, "step"), "%s.step = %g, want above 0", key, step)
		return nil
	case to < from:
		r.fault(join(key, "to"), "%s.to = %g, want at least from = %g", key, to, from)
		return nil
	}
	n := math.Floor((to-from)/step+1e-9) + 1
	if n > MaxDesigns {
		r.fault(key, "%s: %.0f values, want at most %d", key, n, MaxDesigns)
		return nil
	}
	list := make([]float64, int(n))
	for i := range list {
		list[i] = stepped(from, step, i)
	}
	r.note(key, list, r.source)
	return list
}

// stepped gives from + i·step as a person would write it: 0.3, not
// 0.30000000000000004. It counts in the last decimal that either is written
// with, as long as that stays a whole number.
func stepped(from, step float64, i int) float64 {
	scale := math.Pow10(max(decimals(from), decimals(step)))
	a, b := math.Round(from*scale), math.Round(step*scale)
	if sum := a + float64(i)*b; math.Abs(sum) < 1<<53 && math.Abs(a/scale-from) <= 0 && math.Abs(b/scale-step) <= 0 {
		return sum / scale
	}
	return from + float64(i)*step
}

// decimals counts the digits after the point in the shortest text of v.
func decimals(v float64) int {
	_, after, _ := strings.Cut(strconv.FormatFloat(v, 'f', -1, 64), ".")
	return len(after)
}
