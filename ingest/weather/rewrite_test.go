package weather_test

import (
	"os"
	"path/filepath"
	"testing"

	arrowparquet "github.com/apache/arrow/go/v17/parquet"
	"github.com/apache/arrow/go/v17/parquet/compress"
	arrowfile "github.com/apache/arrow/go/v17/parquet/file"
	"github.com/apache/arrow/go/v17/parquet/schema"
	"github.com/parquet-go/parquet-go"

	"stillrow/ingest/weather"
)

// writeArrow writes hours with Arrow's Parquet writer: several row groups and
// pages, and no page index, which that writer does not know.
func writeArrow(t *testing.T, path string, sites int) {
	t.Helper()
	required := arrowparquet.Repetitions.Required
	id, err := schema.NewPrimitiveNodeLogical("site_id", required, schema.StringLogicalType{}, arrowparquet.Types.ByteArray, 0, -1)
	if err != nil {
		t.Fatal(err)
	}
	fields := schema.FieldList{id, schema.NewInt32Node("hour", required, -1)}
	for _, c := range weather.Columns()[2:9] {
		fields = append(fields, schema.NewFloat32Node(c.Name, required, -1))
	}
	root, err := schema.NewGroupNode("schema", required, fields, -1)
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	w := arrowfile.NewParquetWriter(f, root, arrowfile.WithWriterProps(arrowparquet.NewWriterProperties(
		arrowparquet.WithCompression(compress.Codecs.Zstd), arrowparquet.WithDataPageSize(5000), arrowparquet.WithBatchSize(1000))))
	var ids []arrowparquet.ByteArray
	var hours []int32
	var columns [7][]float32
	for i := range sites {
		site, year := synthetic(i)
		for h := range int32(weather.Hours) {
			ids, hours = append(ids, arrowparquet.ByteArray(site.ID)), append(hours, h)
		}
		for k, c := range columnsOf(year) {
			columns[k] = append(columns[k], *c...)
		}
	}
	const step = 12_345 // rows of a row group
	for row := 0; row < len(hours); row += step {
		end := min(row+step, len(hours))
		group := w.AppendRowGroup()
		for k := range 9 {
			c, err := group.NextColumn()
			if err != nil {
				t.Fatal(err)
			}
			switch c := c.(type) {
			case *arrowfile.ByteArrayColumnChunkWriter:
				_, err = c.WriteBatch(ids[row:end], nil, nil)
			case *arrowfile.Int32ColumnChunkWriter:
				_, err = c.WriteBatch(hours[row:end], nil, nil)
			case *arrowfile.Float32ColumnChunkWriter:
				_, err = c.WriteBatch(columns[k-2][row:end], nil, nil)
			}
			if err != nil {
				t.Fatal(err)
			}
			if err := c.Close(); err != nil {
				t.Fatal(err)
			}
		}
		if err := group.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil { // closes f
		t.Fatal(err)
	}
}

// A change says how rewrite departs from the file it reads.
type change struct {
	options []parquet.WriterOption
	wide    bool                                                                    // int64 and, but for lat, float32
	drop    string                                                                  // column left out
	double  string                                                                  // float column written as double
	edit    func(column string, row int, value parquet.Value) (parquet.Value, bool) // false is null
}

// rewrite copies a file of one table into another folder, every column
// nullable and the columns sorted by name.
func rewrite(t *testing.T, from, to, name string, c change) {
	t.Helper()
	in, err := os.Open(filepath.Join(from, name))
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		t.Fatal(err)
	}
	source, err := parquet.OpenFile(in, info.Size())
	if err != nil {
		t.Fatal(err)
	}
	group := parquet.Group{"extra": parquet.Optional(parquet.String())}
	for _, f := range source.Schema().Fields() {
		node := parquet.Leaf(f.Type())
		if c.wide && f.Type().Kind() == parquet.Int32 {
			node = parquet.Leaf(parquet.Int64Type)
		}
		if c.double == f.Name() {
			node = parquet.Leaf(parquet.DoubleType)
		}
		if c.drop != f.Name() {
			group[f.Name()] = parquet.Optional(node)
		}
	}
	target := parquet.NewSchema("other", group)
	out, err := os.Create(filepath.Join(to, name))
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	w := parquet.NewGenericWriter[any](out, append([]parquet.WriterOption{target}, c.options...)...)
	buffer := make([]parquet.Row, 64)
	n := 0
	for _, g := range source.RowGroups() {
		rows := g.Rows()
		for {
			m, readErr := rows.ReadRows(buffer)
			for _, row := range buffer[:m] {
				if _, err := w.WriteRows([]parquet.Row{rewriteRow(row, source.Schema(), target, n, c)}); err != nil {
					t.Fatal(err)
				}
				n++
			}
			if readErr != nil {
				break // the end: a broken source fails the comparison of what was written
			}
		}
		rows.Close()
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

func rewriteRow(row parquet.Row, source, target *parquet.Schema, n int, c change) parquet.Row {
	result := make(parquet.Row, len(target.Columns()))
	for i := range result {
		result[i] = parquet.NullValue().Level(0, 0, i)
	}
	for i, v := range row {
		name := source.Columns()[i][0]
		leaf, ok := target.Lookup(name)
		if !ok {
			continue
		}
		ok = true
		if c.edit != nil {
			v, ok = c.edit(name, n, v)
		}
		switch leaf.Node.Type().Kind() {
		case parquet.Int64:
			v = parquet.Int64Value(int64(v.Int32()))
		case parquet.Double:
			if v.Kind() == parquet.Float {
				v = parquet.DoubleValue(float64(v.Float()))
			}
		}
		if ok {
			result[leaf.ColumnIndex] = v.Level(0, 1, leaf.ColumnIndex)
		}
	}
	return result
}
