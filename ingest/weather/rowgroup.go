package weather

import "github.com/parquet-go/parquet-go"

// groupSites is the most sites in a row group: enough for its dictionaries to
// pay, few enough to hold while writing.
const groupSites = 32

// A rowGroup holds the years of up to groupSites sites until they are encoded,
// which may happen beside the filling of the next.
type rowGroup struct {
	ids    []string
	values []float32 // groupSites × valueColumns × Hours
	page   []parquet.Value
	out    *parquet.ConcurrentRowGroupWriter
	part   *partWriter
	last   bool       // of its part
	done   chan error // of encode
}

func newRowGroup() *rowGroup {
	return &rowGroup{
		values: make([]float32, groupSites*len(valueColumns)*Hours),
		page:   make([]parquet.Value, Hours),
	}
}

// add copies a year.
func (g *rowGroup) add(id string, year *Year) {
	for c := range valueColumns {
		copy(g.column(len(g.ids), c), *valueColumns[c].of(year))
	}
	g.ids = append(g.ids, id)
}

func (g *rowGroup) column(site, c int) []float32 {
	return g.values[(site*len(valueColumns)+c)*Hours:][:Hours]
}

// encode rounds and compresses the years into out, one page a site and column.
func (g *rowGroup) encode() error {
	columns := g.out.ColumnWriters()
	page := func(c int) error {
		if _, err := columns[c].WriteRowValues(g.page); err != nil {
			return err
		}
		return columns[c].Flush() // the flush ends the page
	}
	for _, id := range g.ids {
		key := parquet.ByteArrayValue([]byte(id))
		for h := range g.page {
			g.page[h] = key
		}
		if err := page(0); err != nil {
			return err
		}
	}
	for h := range g.page {
		g.page[h] = parquet.Int32Value(int32(h))
	}
	for range g.ids {
		if err := page(1); err != nil {
			return err
		}
	}
	for c := range valueColumns {
		steps, least := valueColumns[c].steps, valueColumns[c].least
		for i := range g.ids {
			for h, x := range g.column(i, c) {
				if r := round(x, steps); r >= least {
					x = r
				}
				g.page[h] = parquet.FloatValue(x)
			}
			if err := page(2 + c); err != nil {
				return err
			}
		}
	}
	return nil
}

// round gives the float32 nearest to x in whole steps, of which there are so
// many in a unit; what is rounded already stays as it is, to the bit. Values so
// large that their own steps are coarser stay too.
func round(x, steps float32) float32 {
	const (
		most  = 1 << 22
		shift = 3 << 22 // from here to twice as far, float32 holds whole numbers only
	)
	n := float32(x * steps) // the conversions keep a compiler from fusing: the same bits everywhere
	if !(n > -most && n < most) || n == 0 {
		return x
	}
	return float32(float32(n+shift)-shift) / steps
}
