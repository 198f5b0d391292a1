package weather_test

import (
	"bytes"
	"errors"
	"os"
	"strings"
	"testing"
	"unsafe"

	"github.com/apache/arrow/go/v17/arrow"
	"github.com/apache/arrow/go/v17/arrow/array"
	"github.com/apache/arrow/go/v17/arrow/ipc"
	"github.com/apache/arrow/go/v17/arrow/memory"
	"golang.org/x/sync/errgroup"

	"stillrow/ingest/weather"
)

// TestYearOfSharesMemory proves that a Year is a view of its record.
func TestYearOfSharesMemory(t *testing.T) {
	table, err := weather.Open(write(t, 2))
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	rec, err := table.Record(1)
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Release()
	year, err := weather.YearOf(rec)
	if err != nil {
		t.Fatal(err)
	}
	for k, c := range columnsOf(year) {
		buffer := rec.Column(2 + k).Data().Buffers()[1].Bytes()
		if unsafe.Pointer(unsafe.SliceData(*c)) != unsafe.Pointer(unsafe.SliceData(buffer)) {
			t.Errorf("column %d is a copy", k)
		}
		if len(*c) != weather.Hours || cap(*c) != weather.Hours {
			t.Errorf("column %d: length %d, capacity %d, want %d", k, len(*c), cap(*c), weather.Hours)
		}
		if at := uintptr(unsafe.Pointer(unsafe.SliceData(*c))); at%64 != 0 {
			t.Errorf("column %d begins at %#x, not on 64 bytes", k, at)
		}
	}
	table.Close()
	_, want := synthetic(1)
	if k, h := firstDifference(year, want); k >= 0 {
		t.Errorf("after Close column %d, hour %d has changed", k, h)
	}
	if _, err := table.Record(0); !errors.Is(err, os.ErrClosed) {
		t.Errorf("reading a closed table gave %v, want %v", err, os.ErrClosed)
	}
}

// TestRecordColumns checks keys, names, types and metadata of a record.
func TestRecordColumns(t *testing.T) {
	table, err := weather.Open(write(t, 2))
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	rec, err := table.Record(1)
	if err != nil {
		t.Fatal(err)
	}
	defer rec.Release()
	for i, c := range weather.Columns()[:9] {
		f := rec.Schema().Field(i)
		unit, ok := f.Metadata.GetValue("unit")
		if f.Name != c.Name || !ok || unit != c.Unit || f.Nullable {
			t.Errorf("field %d is %v, want %s in %q without nulls", i, f, c.Name, c.Unit)
		}
	}
	id := rec.Column(0).(*array.Dictionary)
	names := id.Dictionary().(*array.String)
	hour := rec.Column(1).(*array.Int32)
	for h := range weather.Hours {
		if got := names.Value(id.GetValueIndex(h)); got != "HV-0001" || hour.Value(h) != int32(h) {
			t.Fatalf("row %d is site %s, hour %d", h, got, hour.Value(h))
		}
	}
}

// TestYearOfRefuses gives it records that are no year.
func TestYearOfRefuses(t *testing.T) {
	floats := func(n int, null bool) arrow.Array {
		b := array.NewFloat32Builder(memory.DefaultAllocator)
		b.AppendValues(make([]float32, n-1), nil)
		if null {
			b.AppendNull()
		} else {
			b.Append(1)
		}
		return b.NewArray()
	}
	doubles := array.NewFloat64Builder(memory.DefaultAllocator)
	doubles.AppendValues(make([]float64, weather.Hours), nil)
	for _, tt := range []struct {
		name, want string
		column     string // renamed or replaced
		with       arrow.Array
	}{
		{"column missing", "0 columns dhi_w_m2", "dhi_w_m2", nil},
		{"null", "column wind_speed_m_s has 1 nulls", "wind_speed_m_s", floats(weather.Hours, true)},
		{"double", "column ghi_w_m2 is float64", "ghi_w_m2", doubles.NewArray()},
	} {
		var fields []arrow.Field
		var columns []arrow.Array
		for _, c := range weather.Columns()[2:9] {
			v := floats(weather.Hours, false)
			if c.Name == tt.column {
				if v = tt.with; v == nil {
					continue
				}
			}
			fields = append(fields, arrow.Field{Name: c.Name, Type: v.DataType(), Nullable: true})
			columns = append(columns, v)
		}
		_, err := weather.YearOf(array.NewRecord(arrow.NewSchema(fields, nil), columns, weather.Hours))
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want %q in it", tt.name, err, tt.want)
		}
	}
	short := floats(24, false)
	var fields []arrow.Field
	var columns []arrow.Array
	for _, c := range weather.Columns()[2:9] {
		fields, columns = append(fields, arrow.Field{Name: c.Name, Type: short.DataType()}), append(columns, short)
	}
	_, err := weather.YearOf(array.NewRecord(arrow.NewSchema(fields, nil), columns, 24))
	if err == nil || !strings.Contains(err.Error(), "column ghi_w_m2 has 24 rows") {
		t.Errorf("a day: error %v", err)
	}
}

// TestWriteIPC reads the stream back with the reader of Arrow: one batch a
// site, one dictionary for all, the same bytes each time.
func TestWriteIPC(t *testing.T) {
	for _, n := range []int{0, 1, 33} {
		table, err := weather.Open(write(t, n))
		if err != nil {
			t.Fatal(err)
		}
		defer table.Close()
		var one, two bytes.Buffer
		for _, b := range []*bytes.Buffer{&one, &two} {
			if err := table.WriteIPC(b); err != nil {
				t.Fatal(err)
			}
		}
		if !bytes.Equal(one.Bytes(), two.Bytes()) {
			t.Errorf("%d sites: two streams differ", n)
		}
		in, err := ipc.NewReader(&one)
		if err != nil {
			t.Fatal(err)
		}
		defer in.Release()
		if unit, _ := in.Schema().Field(5).Metadata.GetValue("unit"); unit != "°C" {
			t.Errorf("unit of %s is %q", in.Schema().Field(5).Name, unit)
		}
		i := 0
		for ; in.Next(); i++ {
			site, want := synthetic(i)
			year, err := weather.YearOf(in.Record())
			if err != nil {
				t.Fatal(err)
			}
			if k, h := firstDifference(year, want); k >= 0 {
				t.Errorf("site %d, column %d, hour %d differs", i, k, h)
			}
			id := in.Record().Column(0).(*array.Dictionary)
			if got := id.Dictionary().(*array.String).Value(id.GetValueIndex(8759)); got != site.ID {
				t.Errorf("batch %d is site %s, want %s", i, got, site.ID)
			}
		}
		if in.Err() != nil || i != n {
			t.Errorf("%d batches, error %v, want %d", i, in.Err(), n)
		}
	}
	table, err := weather.Open(write(t, 2))
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	if err := table.WriteIPC(brokenPipe{}); !errors.Is(err, errPipe) {
		t.Errorf("a failing writer gave %v, want %v", err, errPipe)
	}
}

var errPipe = errors.New("broken pipe")

type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, errPipe }

// TestConcurrentRecords reads all sites from many goroutines at once.
func TestConcurrentRecords(t *testing.T) {
	const sites = 40
	table, err := weather.Open(write(t, sites))
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	var want []*weather.Year
	for i := range sites {
		_, y := synthetic(i)
		want = append(want, y)
	}
	var group errgroup.Group
	for g := range 8 {
		group.Go(func() error {
			for k := range sites {
				i := (k*7 + g*13) % sites
				rec, err := table.Record(i)
				if err != nil {
					return err
				}
				year, err := weather.YearOf(rec)
				if err != nil {
					return err
				}
				if column, hour := firstDifference(year, want[i]); column >= 0 {
					t.Errorf("site %d, column %d, hour %d differs", i, column, hour)
				}
				rec.Release()
				if near, _ := table.Nearest(table.Sites[i].Lat, table.Sites[i].Lon); near != i {
					t.Errorf("nearest to site %d is %d", i, near)
				}
			}
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		t.Fatal(err)
	}
}
