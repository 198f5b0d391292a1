package page

import (
	"cmp"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"slices"

	"stillrow/rank/shade"
	"stillrow/rank/survey"
)

// none stands for NaN in a column.
const none = math.MinInt32

// A quantity is one column of a layer.
type quantity struct {
	name   string
	digits int // after the point, kept and shown
	// figures of money that decide the digits; 0 for what is no money.
	figures int
	of      func(f *survey.Finding) float64
}

// quantities are the columns of a layer, in their order in the block; after
// them come the best design, the runner-up, the reason for none, and the class
// of colour.
func quantities() []quantity {
	list := []quantity{
		{"lcoh", 0, 3, func(f *survey.Finding) float64 { return f.LCOH }},
		{"gas", 0, 3, func(f *survey.Finding) float64 { return f.GasHeat }},
		{"p10", 0, 3, func(f *survey.Finding) float64 { return f.P10 }},
		{"p90", 0, 3, func(f *survey.Finding) float64 { return f.P90 }},
		{"ratio", 2, 0, func(f *survey.Finding) float64 { return f.Ratio }},
		{"heat", 0, 0, func(f *survey.Finding) float64 { return f.Heat }},
		{"saving", 0, 3, func(f *survey.Finding) float64 { return f.Saving }},
		{"payback", 1, 0, func(f *survey.Finding) float64 { return f.Payback }},
		{"co2", 0, 0, func(f *survey.Finding) float64 { return f.CO2 }},
		{"second", 0, 3, func(f *survey.Finding) float64 { return f.SecondLCOH }},
		// Rounded down, so that a cell passes "at least p" here where it does
		// in full precision.
		{"sure", 1, 0, func(f *survey.Finding) float64 { return math.Floor(f.Sure*1000+1e-9) / 10 }},
	}
	for i := range survey.Units {
		list = append(list, quantity{fmt.Sprint("split", i), 0, 2, func(f *survey.Finding) float64 { return f.Split[i] }})
	}
	for i := range 12 {
		list = append(list, quantity{fmt.Sprint("month", i), 0, 0, func(f *survey.Finding) float64 { return float64(f.Months[i]) }})
	}
	return list
}

// A header says what the columns after it are.
type header struct {
	Places   int        `json:"places"`
	Of       int        `json:"of"` // cells of the survey
	Merged   bool       `json:"merged"`
	Currency string     `json:"currency"`
	Layers   []layer    `json:"layers"`
	Columns  []string   `json:"columns"`
	Digits   [][]int    `json:"digits"` // by layer and column
	Refs     [][]int    `json:"refs"`   // by layer and column: the layer it is the difference to, -1 for the place before
	Designs  [][]any    `json:"designs"`
	Reasons  []string   `json:"reasons"`
	Names    [][]string `json:"names"` // id, name, country
	Bounds   [][4]int   `json:"bounds"`
	Rings    [][][]int  `json:"rings"`  // by place; null where the bounds are all
	Counts   []int      `json:"counts"` // cells in each square
	Outline  [][]int    `json:"outline"`
	Within   [][]int    `json:"within"`
	Classes  []class    `json:"classes"`
}

type layer struct {
	Use    string  `json:"use"`
	Outlet float64 `json:"outlet"`
	When   string  `json:"when,omitempty"`
	// In the north; none where every site has its own.
	Months [12]bool `json:"months,omitzero"`
}

type class struct {
	From   float64  `json:"from"`
	To     *float64 `json:"to"`
	Colour string   `json:"colour"`
	Beats  bool     `json:"beats"`
}

// encode is the data of a page: the length of the header as a uint32, little
// endian like all here, the header as JSON, then for every layer and column the
// four bytes of each residual, zigzag, all lowest bytes first.
func encode(s *survey.Survey, o Options) ([]byte, error) {
	g := merge(s)
	h := header{Places: len(g.counts), Of: s.Len(), Merged: g.merged, Currency: s.Currency, Reasons: s.Reasons, Counts: g.counts,
		Names: g.names, Bounds: g.bounds, Rings: g.rings}
	for i, c := range shade.Classes() {
		k := class{From: c.From, Colour: fmt.Sprintf("#%02x%02x%02x", c.Colour.R, c.Colour.G, c.Colour.B), Beats: shade.BeatsGas(i)}
		if !math.IsInf(c.To, 0) {
			k.To = &c.To
		}
		h.Classes = append(h.Classes, k)
	}
	for _, d := range s.Designs {
		h.Designs = append(h.Designs, []any{d.MirrorTilt, d.MirrorLength, d.ReceiverWidth})
	}
	h.Outline, h.Within = lines(o.Outline, g.view()), lines(o.Within, g.view())
	for _, q := range quantities() {
		h.Columns = append(h.Columns, q.name)
	}
	h.Columns = append(h.Columns, "design", "runner", "without", "class")
	var body []byte
	var before [][][]int32
	for l := range s.Layers {
		h.Layers = append(h.Layers, layer(s.Layers[l]))
		columns, digits, err := g.layer(s, l)
		if err != nil {
			return nil, err
		}
		h.Digits = append(h.Digits, digits)
		var refs []int
		for c, values := range columns {
			ref := nearest(values, before, c)
			refs = append(refs, ref)
			body = appendPlanes(body, residuals(values, before, ref, c))
		}
		h.Refs = append(h.Refs, refs)
		before = append(before, columns)
	}
	text, err := json.Marshal(h)
	if err != nil {
		return nil, err
	}
	out := binary.LittleEndian.AppendUint32(nil, uint32(len(text)))
	return append(append(out, text...), body...), nil
}

// residuals are the differences to the place before, or to column c of layer
// ref, modulo 2³².
func residuals(values []int32, before [][][]int32, ref, c int) []int32 {
	out := make([]int32, len(values))
	last := int32(0)
	for i, v := range values {
		if ref >= 0 {
			last = before[ref][c][i]
		}
		out[i] = v - last
		last = v
	}
	return out
}

// nearest picks what a column is written as the difference to.
func nearest(values []int32, before [][][]int32, c int) int {
	best, least := -1, math.Inf(1)
	for ref := -1; ref < len(before); ref++ {
		bits := 0.0
		for _, r := range residuals(values, before, ref, c) {
			bits += math.Log2(1 + math.Abs(float64(r)))
		}
		if bits < least {
			best, least = ref, bits
		}
	}
	return best
}

func appendPlanes(b []byte, values []int32) []byte {
	for shift := 0; shift < 32; shift += 8 {
		for _, v := range values {
			b = append(b, byte(uint32(v<<1^v>>31)>>shift))
		}
	}
	return b
}

// decimals is how many digits money keeps after the point: so many figures of
// all but the least tenth of the sizes in its column, at most five digits. Where
// a few places have heat that costs hundredfold, the others keep theirs.
func decimals(sizes []float64, figures int) int {
	slices.Sort(sizes)
	if len(sizes) == 0 || sizes[len(sizes)-1] == 0 {
		return 2
	}
	size := cmp.Or(sizes[len(sizes)/10], sizes[len(sizes)-1])
	return min(max(figures-1-int(math.Floor(math.Log10(size))), 0), 5)
}

func quantise(v float64, digits int) int32 {
	v = math.Round(v * math.Pow10(digits))
	if math.IsNaN(v) || math.Abs(v) > math.MaxInt32 {
		return none
	}
	return int32(v)
}
