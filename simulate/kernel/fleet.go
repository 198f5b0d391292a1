package kernel

// group is how many lanes of a Fleet share a line; a bank has whole groups.
const group = 16

// A Fleet is some banks that go through the same hours with a line and a regime
// each: few lanes take a processor nearly as long as many, unless they go
// together.
type Fleet struct {
	Banks []*Bank
	from  []int // first lane of each

	t, heat []float32 // of all banks
	spanned bool      // all their outlets are above their inlets
	alike   bool      // or none is
	regimes []*Regime // of each
	// Of each group of lanes, with as many more as the assembly may read.
	groupRegimes []*float32
	groupLines   []*float32
}

// NewFleet makes banks of so many lanes at these regimes, and puts them to the
// beginning of a year.
func NewFleet(lanes []int, regimes []*Regime) *Fleet {
	f := &Fleet{regimes: regimes}
	n := 0
	for _, lanes := range lanes {
		f.from = append(f.from, n)
		n += (lanes + group - 1) / group * group
	}
	f.t, f.heat = make([]float32, n), make([]float32, n)
	store, out := make([]float32, n), make([]bool, n)
	f.alike = true
	for i, from := range f.from {
		to := from + lanes[i]
		b := &Bank{T: f.t[from:to:to], Store: store[from:to:to], Heat: f.heat[from:to:to], Out: out[from:to:to]}
		b.Start(regimes[i])
		f.Banks = append(f.Banks, b)
		spanned := regimes[i].Out-regimes[i].In > 0
		f.alike = f.alike && (i == 0 || spanned == f.spanned)
		f.spanned = spanned
	}
	const ahead = 4 // groups of a block of 64 lanes
	tables := (n/group + ahead - 1) / ahead * ahead
	f.groupRegimes, f.groupLines = make([]*float32, tables), make([]*float32, tables)
	f.spread(f.groupRegimes, func(bank int) *float32 { return &regimes[bank].In })
	return f
}

// spread fills a table of the groups with what each bank has.
func (f *Fleet) spread(table []*float32, of func(bank int) *float32) {
	bank := 0
	for i := range table {
		for bank+1 < len(f.from) && i*group >= f.from[bank+1] {
			bank++
		}
		table[i] = of(bank)
	}
}

// Lanes is how long the light of an hour is, in which that of a bank's lanes
// begins at From.
func (f *Fleet) Lanes() int { return len(f.t) }

// From is where a bank begins.
func (f *Fleet) From(bank int) int { return f.from[bank] }

// Advance is that of every bank with its line.
func (f *Fleet) Advance(s []float32, h *Hour, lines []*Line) {
	if h.Event&Leave == 0 && f.alike && f.in() && f.flowVector(s, lines) {
		return
	}
	for i, b := range f.Banks {
		b.Advance(s[f.from[i]:][:len(b.T)], f.regimes[i], h, lines[i])
	}
}

// in says whether all lanes have their water in.
func (f *Fleet) in() bool {
	for _, b := range f.Banks {
		if b.out > 0 {
			return false
		}
	}
	return true
}
