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
		steps := valueColumns[c].steps
		for i := range g.ids {
			for h, x := range g.column(i, c) {
				g.page[h] = parquet.FloatValue(round(x, steps))
			}
			if err := page(2 + c); err != nil {
				return err
			}
		}
	}
	return nil
}
