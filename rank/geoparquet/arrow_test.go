package geoparquet

import (
	"bytes"
	"context"
	"testing"

	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/pqarrow"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// The Parquet reader of Apache Arrow, which shares no code with the writer,
// sees the same rows, places and boxes.
func TestArrowReadsIt(t *testing.T) {
	ctx := context.Background()
	f, err := file.NewParquetReader(bytes.NewReader(encode(t, places)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if geo := f.MetaData().KeyValueMetadata().FindValue("geo"); geo == nil {
		t.Error("no geo key")
	}
	r, err := pqarrow.NewFileReader(f, pqarrow.ArrowReadProperties{}, memory.DefaultAllocator)
	if err != nil {
		t.Fatal(err)
	}
	table, err := r.ReadTable(ctx)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Release()
	rows := array.NewTableReader(table, 0)
	defer rows.Release()
	n := 0
	for rows.Next() {
		rec := rows.Record()
		column := func(name string) any { return rec.Column(rec.Schema().FieldIndices(name)[0]) }
		cost := column("cost").(*array.Float64)
		shapes := column("geometry").(*array.Binary)
		boxes := column("bbox").(*array.Struct)
		for i := range int(rec.NumRows()) {
			if null := cost.IsNull(i); null != (n == 0) || !null && cost.Value(i) != float64(n)/8 {
				t.Errorf("row %d: cost null %v, %v", n, null, cost.Value(i))
			}
			g, err := wkb.Unmarshal(shapes.Value(i))
			if err != nil || !orb.Equal(g, places[n]) {
				t.Errorf("row %d: %v, %v; want %v", n, g, err, places[n])
			}
			west, east := boxes.Field(0).(*array.Float32).Value(i), boxes.Field(2).(*array.Float32).Value(i)
			if b := places[n].Bound(); float64(west) > b.Left() || float64(east) < b.Right() {
				t.Errorf("row %d: box from %v to %v does not cover %v", n, west, east, b)
			}
			n++
		}
	}
	if n != len(places) {
		t.Errorf("%d rows, want %d", n, len(places))
	}
}
