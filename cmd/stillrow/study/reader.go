package study

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// A reader takes values out of a document one key at a time. It checks them,
// notes where each came from, and collects the faults; what it returns for a
// faulty key is of no use.
type reader struct {
	doc      *document
	source   string // of values that stand in the document
	faults   Faults
	faulty   map[string]bool // keys that have a fault
	settings []Setting
}

// A span is the range a number must lie in.
type span struct {
	lo, hi    float64
	aboveLo   bool // lo itself is out
	lessThan  bool // hi itself is out
	wholeOnly bool
}

func (s span) holds(v float64) bool {
	return v >= s.lo && v <= s.hi && !(s.aboveLo && v == s.lo) && !(s.lessThan && v == s.hi) &&
		!(s.wholeOnly && v != math.Trunc(v))
}

func (s span) String() string {
	text := ""
	if s.wholeOnly {
		text = "a whole number, "
	}
	switch {
	case s == anyNumber:
		return "a finite number"
	case s.aboveLo && s.lessThan:
		return fmt.Sprintf("%sabove %g and below %g", text, s.lo, s.hi)
	case s.aboveLo:
		return fmt.Sprintf("%sabove %g and at most %g", text, s.lo, s.hi)
	case s.lessThan:
		return fmt.Sprintf("%sat least %g and below %g", text, s.lo, s.hi)
	}
	return fmt.Sprintf("%s%g to %g", text, s.lo, s.hi)
}

// anyNumber leaves the range to the Validate of the type the number goes to.
var anyNumber = span{lo: -math.MaxFloat64, hi: math.MaxFloat64}

// A fallback is what a key holds when the document does not have it.
type fallback[T any] struct {
	value  T
	source string
}

func byDefault[T any](v T) fallback[T] { return fallback[T]{v, "default"} }

// notStated is the fallback of a number that may be absent.
var notStated = byDefault(math.NaN())

// fault adds a fault at a key. The first one of a key stands: what follows from
// a value that is wrong already helps nobody.
func (r *reader) fault(key, format string, args ...any) {
	if r.faulty[key] {
		return
	}
	if r.faulty == nil {
		r.faulty = make(map[string]bool)
	}
	r.faulty[key] = true
	at := r.doc.at(key)
	r.faults = append(r.faults, &Fault{r.doc.file, at.line, at.column, fmt.Sprintf(format, args...)})
}

func (r *reader) note(key string, value any, source string) {
	if f, ok := value.(float64); ok && math.IsNaN(f) {
		value = nil
	}
	r.settings = append(r.settings, Setting{key, value, source})
}

// has reports whether the document has a key, and marks it as known.
func (r *reader) has(key string) bool {
	_, ok := r.doc.ask(key)
	return ok
}

// number reads a number.
func (r *reader) number(key string, in span, otherwise fallback[float64]) float64 {
	v, ok := r.doc.ask(key)
	if !ok {
		r.note(key, otherwise.value, otherwise.source)
		return otherwise.value
	}
	f := r.toNumber(key, v, in)
	r.note(key, f, r.source)
	return f
}

func (r *reader) toNumber(key string, v any, in span) float64 {
	f, ok := asFloat(v)
	switch {
	case !ok:
		r.fault(key, "%s = %s, want a number", key, show(v))
	case !in.holds(f): // NaN fails every comparison and lands here too
		r.fault(key, "%s = %g, want %v", key, f, in)
	}
	return f
}

// numbers reads a list of numbers, or one number as a list of one.
func (r *reader) numbers(key string, in span, otherwise fallback[[]float64]) []float64 {
	v, ok := r.doc.ask(key)
	if !ok {
		r.note(key, otherwise.value, otherwise.source)
		return otherwise.value
	}
	list, ok := v.([]any)
	if !ok {
		f := r.toNumber(key, v, in)
		r.note(key, f, r.source)
		return []float64{f}
	}
	out := make([]float64, len(list))
	for i, e := range list {
		out[i] = r.toNumber(index(key, i), e, in)
	}
	r.note(key, out, r.source)
	return out
}

// text reads a string; choices, if any, are the only ones allowed.
func (r *reader) text(key string, otherwise fallback[string], choices ...string) string {
	v, ok := r.doc.ask(key)
	if !ok {
		r.note(key, otherwise.value, otherwise.source)
		return otherwise.value
	}
	s, ok := v.(string)
	switch {
	case !ok:
		r.fault(key, "%s = %s, want a text", key, show(v))
	case len(choices) > 0 && !slices.Contains(choices, s):
		r.fault(key, "%s = %q, want %s", key, s, either(choices))
	}
	r.note(key, s, r.source)
	return s
}

// table checks that a key, if there, is a table, and reports whether it is.
func (r *reader) table(key string) bool {
	v, ok := r.doc.ask(key)
	if !ok {
		return false
	}
	if _, ok = v.(map[string]any); !ok {
		r.fault(key, "%s = %s, want a table", key, show(v))
	}
	return ok
}

// tables checks that a key, if there, is a list of tables, and counts them.
func (r *reader) tables(key string) int {
	v, ok := r.doc.ask(key)
	if !ok {
		return 0
	}
	list, ok := v.([]any)
	if !ok {
		r.fault(key, "%s = %s, want a list of tables", key, show(v))
		return 0
	}
	for i := range list {
		if !r.table(index(key, i)) {
			return 0
		}
	}
	return len(list)
}

// check turns the error of a type's Validate, "name = value, want …", into a
// fault at the key of that name in a table.
func (r *reader) check(table string, err error) {
	if err == nil {
		return
	}
	name, _, _ := strings.Cut(err.Error(), " = ")
	r.fault(join(table, name), "%s.%v", table, err)
}

// finish adds a fault for every unknown key and gives all faults in order.
func (r *reader) finish() error {
	for _, key := range r.doc.unknown() {
		r.fault(key, "unknown key %s%s", key, r.doc.suggest(key))
	}
	if len(r.faults) == 0 {
		return nil
	}
	slices.SortStableFunc(r.faults, func(a, b *Fault) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return r.faults
}

func asFloat(v any) (float64, bool) {
	switch v := v.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, true
	}
	return math.NaN(), false
}

// show writes a value of the wrong kind as briefly as an error can bear.
func show(v any) string {
	switch v := v.(type) {
	case string:
		return strconv.Quote(v)
	case map[string]any:
		return "{…}"
	case []any:
		if len(v) == 0 {
			return "[]"
		}
		return "[…]"
	}
	return fmt.Sprint(v)
}

func either(choices []string) string {
	quoted := make([]string, len(choices))
	for i, c := range choices {
		quoted[i] = strconv.Quote(c)
	}
	if n := len(quoted) - 1; n > 0 {
		return strings.Join(quoted[:n], ", ") + " or " + quoted[n]
	}
	return quoted[0]
}
