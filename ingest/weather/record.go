package weather

import (
	"fmt"
	"io"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
)

// recordSchema has the columns of the hours file, each with its unit and
// meaning as metadata.
func recordSchema() *arrow.Schema {
	field := func(c Column, t arrow.DataType) arrow.Field {
		return arrow.Field{Name: c.Name, Type: t,
			Metadata: arrow.NewMetadata([]string{"unit", "meaning"}, []string{c.Unit, c.Meaning})}
	}
	fields := []arrow.Field{field(siteIDColumn, siteIDType), field(hourColumn, arrow.PrimitiveTypes.Int32)}
	for _, c := range valueColumns {
		fields = append(fields, field(c.Column, arrow.PrimitiveTypes.Float32))
	}
	return arrow.NewSchema(fields, nil)
}

// siteIDType refers to the identifiers of the whole table, so that a stream of
// records needs its dictionary once.
var siteIDType = &arrow.DictionaryType{IndexType: arrow.PrimitiveTypes.Int32, ValueType: arrow.BinaryTypes.String}

// Record reads the hours of site i as ReadYear does, into a new record batch of
// Hours rows: site_id, hour and the seven value columns as float32, the unit of
// each in its field's metadata under "unit". Its memory belongs to Go's
// collector: releasing it is good manners, not a need.
func (t *Table) Record(i int) (arrow.Record, error) {
	if i < 0 || i >= len(t.Sites) {
		return nil, fmt.Errorf("weather table: no site %d among %d", i, len(t.Sites))
	}
	// Columns start 64 bytes aligned, as the Arrow format recommends.
	const stride = (Hours + 15) / 16 * 16
	block := make([]float32, len(valueColumns)*stride)
	var y Year
	for k := range valueColumns {
		*valueColumns[k].of(&y) = block[k*stride:][:Hours:Hours]
	}
	if err := t.read(i, &y); err != nil {
		return nil, fmt.Errorf("weather table: %w", err)
	}
	same := make([]int32, Hours)
	for h := range same {
		same[h] = int32(i)
	}
	index := int32Array(same)
	columns := []arrow.Array{array.NewDictionaryArray(siteIDType, index, t.names), t.hour}
	for k := range valueColumns {
		columns = append(columns, float32Array(*valueColumns[k].of(&y)))
	}
	rec := array.NewRecord(t.schema, columns, Hours)
	index.Release()
	for _, c := range columns {
		if c != t.hour { // shared by all records
			c.Release()
		}
	}
	return rec, nil
}

// YearOf returns the value columns of a record as they are in its memory, not
// copied: do not write to them. The record may come from any reader; a missing
// column, a wrong type or length, or a null is an error that names the column.
func YearOf(rec arrow.Record) (*Year, error) {
	y := &Year{}
	for _, c := range valueColumns {
		at := rec.Schema().FieldIndices(c.Name)
		if len(at) != 1 {
			return nil, fmt.Errorf("weather record: %d columns %s, want one", len(at), c.Name)
		}
		column := rec.Column(at[0])
		f, ok := column.(*array.Float32)
		switch {
		case !ok:
			return nil, fmt.Errorf("weather record: column %s is %s, want float32", c.Name, column.DataType())
		case f.Len() != Hours:
			return nil, fmt.Errorf("weather record: column %s has %d rows, want %d", c.Name, f.Len(), Hours)
		case f.NullN() > 0:
			return nil, fmt.Errorf("weather record: column %s has %d nulls", c.Name, f.NullN())
		}
		*c.of(y) = f.Float32Values()
	}
	return y, nil
}

// WriteIPC writes the whole table as an Arrow IPC stream, one record batch a
// site, in the order of the table, with the columns of Record.
func (t *Table) WriteIPC(w io.Writer) error {
	out := ipc.NewWriter(w, ipc.WithSchema(t.schema))
	for i := range t.Sites {
		rec, err := t.Record(i)
		if err != nil {
			return err
		}
		err = out.Write(rec)
		rec.Release()
		if err != nil {
			return fmt.Errorf("writing the weather table as Arrow: site %q: %w", t.Sites[i].ID, err)
		}
	}
	if err := out.Close(); err != nil {
		return fmt.Errorf("writing the weather table as Arrow: %w", err)
	}
	return nil
}

// float32Array is an Arrow array over the memory of v.
func float32Array(v []float32) arrow.Array {
	return bufferArray(arrow.PrimitiveTypes.Float32, len(v), arrow.Float32Traits.CastToBytes(v))
}

// int32Array is an Arrow array over the memory of v.
func int32Array(v []int32) arrow.Array {
	return bufferArray(arrow.PrimitiveTypes.Int32, len(v), arrow.Int32Traits.CastToBytes(v))
}

func bufferArray(t arrow.DataType, n int, b []byte) arrow.Array {
	data := array.NewData(t, n, []*memory.Buffer{nil, memory.NewBufferBytes(b)}, nil, 0, 0)
	defer data.Release()
	return array.MakeFromData(data)
}
