package grid

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"stillrow/ingest/series"
	"stillrow/ingest/weather"
)

// at is the value of the made fields: every one is another number.
func at(q Quantity, t, y, x int) float32 { return float32(1000000*int(q) + 10000*t + 100*y + x) }

// A made file has cells at rows lat and columns lon, whose numbers in the value
// are row0+y and col0+x, and counts how often each block is read.
type made struct {
	name       string
	lat, lon   []float64
	row, col   func(int) int // number of a row and column of the file
	chunkTime  int
	chunkRows  int
	fail       func(t int) error // at a record, nil for none
	mu         sync.Mutex
	read       map[[3]int]int // blocks of quantity, time and row
	most       int            // values of a read
	totalReads int
}

func same(i int) int { return i }

// hours makes an axis of n hours from a day of 2008 on.
func hours(from string, n int) *series.Axis {
	start, err := time.Parse(time.DateOnly, from)
	if err != nil {
		panic(err)
	}
	a := &series.Axis{Step: 3600}
	for t := range n {
		a.Stamp = append(a.Stamp, start.Unix()+int64(t)*3600)
	}
	return a
}

// field makes a field whose record t is numbered t0+t.
func (m *made) field(q Quantity, axis *series.Axis, months []int, t0 int) Field {
	f := Field{Quantity: q, Variable: strings.ReplaceAll(q.String(), " ", "_"), Axis: axis, Months: months, ChunkTime: m.chunkTime, ChunkRows: m.chunkRows}
	f.Read = func(dst []float32, t, nt, y, ny int) error {
		if len(dst) != nt*ny*len(m.lon) {
			return fmt.Errorf("%d values for %d records of %d rows of %d columns", len(dst), nt, ny, len(m.lon))
		}
		m.mu.Lock()
		m.most = max(m.most, len(dst))
		m.totalReads++
		ct, cr := max(1, m.chunkTime), max(1, m.chunkRows)
		for kt := t / ct; kt <= (t+nt-1)/ct; kt++ {
			for ky := y / cr; ky <= (y+ny-1)/cr; ky++ {
				m.read[[3]int{int(q), t0 + kt*ct, ky}]++
			}
		}
		m.mu.Unlock()
		k := 0
		for it := range nt {
			if m.fail != nil {
				if err := m.fail(t + it); err != nil {
					return err
				}
			}
			for iy := range ny {
				for ix := range m.lon {
					dst[k] = at(q, t0+t+it, m.row(y+iy), m.col(ix))
					k++
				}
			}
		}
		return nil
	}
	return f
}

// file makes a file of fields.
func (m *made) file(fields ...Field) *File {
	return &File{Name: m.name, Lat: m.lat, Lon: m.lon, Fields: fields}
}

func newMade(name string, rows, cols int) *made {
	m := &made{name: name, row: same, col: same, read: map[[3]int]int{}}
	for y := range rows {
		m.lat = append(m.lat, 10+0.5*float64(y))
	}
	for x := range cols {
		m.lon = append(m.lon, 20+0.5*float64(x))
	}
	return m
}

// year is the hours that Join asks for.
var year = hours("2001-01-01", 8760)

// one joins files into one region.
func one(t *testing.T, files ...*File) *Region {
	t.Helper()
	regions, err := Join(files)
	if err != nil || len(regions) != 1 {
		t.Fatalf("%d regions, %v", len(regions), err)
	}
	return regions[0]
}

// loadAll loads every band and checks every value; it gives the loader closed.
func loadAll(t *testing.T, r *Region, cells []Cell, bytes int64, dir string) *Loader {
	t.Helper()
	l, err := r.NewLoader(cells, bytes, dir)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := l.Close(); err != nil {
			t.Error(err)
		}
		if list, _ := os.ReadDir(dir); len(list) > 0 {
			t.Errorf("left behind: %v", list)
		}
	}()
	b := l.NewBand()
	var seen []Cell
	for k := range l.Bands() {
		if err := l.Load(context.Background(), b, k); err != nil {
			t.Fatal(err)
		}
		for i, c := range b.cells {
			seen = append(seen, c)
			for _, f := range b.fields {
				for rec, v := range b.column(f.quantity, i) {
					if want := at(f.quantity, rec, c.Row, c.Col); v != want {
						t.Fatalf("band %d, cell %v, %v, record %d: %.0f, want %.0f", k, c, f.quantity, rec, v, want)
					}
				}
			}
		}
	}
	if !slices.Equal(seen, cells) {
		t.Fatalf("bands have the cells %v, want %v", seen, cells)
	}
	return l
}

// Every value comes to its place, whatever the memory, the cells kept and the
// blocks of the file; where bands and memory have room for blocks each is read
// once.
func TestLoader(t *testing.T) {
	const records, rows, cols = 8760, 6, 5
	perCell := int64(4 * 2 * records)
	all := func(lat, lon, _, _ float64) bool { return true }
	for _, tt := range []struct {
		name                 string
		chunkTime, chunkRows int
		inside               func(lat, lon, _, _ float64) bool
		every                int
		bytes                int64
		bands                int // 0: any
		scratch, once        bool
	}{
		{"all at once", 0, 0, all, 1, 64 << 20, 1, false, true},
		{"rows", 0, 0, all, 1, perCell * 5 * 4 / 3, 6, false, true},
		{"two rows", 0, 0, all, 1, perCell * 14 * 4 / 3, 3, false, true},
		{"less than a row", 0, 0, all, 1, perCell * 3 * 4 / 3, 10, true, true},
		{"a cell", 0, 0, all, 1, perCell * 4 / 3, 30, true, true},
		{"blocks of rows", 100, 3, all, 1, perCell * 16 * 4 / 3, 2, false, true},
		{"blocks of rows, bands of less", 100, 3, all, 1, perCell * 10 * 4 / 3, 3, true, true},
		{"one block of all rows", 700, 6, all, 1, perCell * 7 * 4 / 3, 5, true, true},
		{"a block of all time", 8760, 2, all, 1, perCell * 10 * 4 / 3, 3, false, false},
		{"thinned", 0, 0, all, 2, 64 << 20, 1, false, true},
		{"thinned, a cell a band", 50, 4, all, 3, perCell * 4 / 3, 4, true, true},
		{"within", 64, 2, func(lat, lon, _, _ float64) bool { return lat > 11 && lon < 21.2 }, 1, perCell * 2 * 4 / 3, 5, true, true},
		{"an island", 0, 0, func(lat, lon, _, _ float64) bool { return lat == 12 && lon == 21 }, 1, 64 << 20, 1, false, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m := newMade("made.nc", rows, cols)
			m.chunkTime, m.chunkRows = tt.chunkTime, tt.chunkRows
			r := one(t, m.file(m.field(GHI, year, nil, 0), m.field(AirTemperature, year, nil, 0)))
			cells, _ := r.Select(tt.inside, tt.every)
			l := loadAll(t, r, cells, tt.bytes, t.TempDir())
			if l.Bands() != tt.bands || (l.scratch != nil) != tt.scratch {
				t.Errorf("%d bands, scratch %v, want %d, %v", l.Bands(), l.scratch != nil, tt.bands, tt.scratch)
			}
			for block, n := range m.read {
				if n > 1 && tt.once {
					t.Fatalf("block %v read %d times", block, n)
				}
			}
			if window := int(tt.bytes / 16); m.most > window {
				t.Errorf("%d values read at once, want up to %d", m.most, window)
			}
		})
	}
}

// Rows between those kept are not read where the file has them apart.
func TestLoaderSkipsRows(t *testing.T) {
	m := newMade("made.nc", 40, 300)
	r := one(t, m.file(m.field(GHI, sixHours(), nil, 0), m.field(AirTemperature, sixHours(), nil, 0)))
	cells, _ := r.Select(nil, 20)
	loadAll(t, r, cells, 1<<30, t.TempDir())
	for block := range m.read {
		if y := block[2]; y != 10 && y != 30 {
			t.Fatalf("row %d read", y)
		}
	}
}

// sixHours is a year of 6-hourly records, fewer than of hours.
func sixHours() *series.Axis {
	a := &series.Axis{Step: 6 * 3600}
	for t := range 4 * 365 {
		a.Stamp = append(a.Stamp, year.Stamp[0]+int64(t)*a.Step)
	}
	return a
}

// Too little memory is said, with the file and what to do.
func TestLoaderMemory(t *testing.T) {
	m := newMade("made.nc", 2, 3000)
	for x := range m.lon {
		m.lon[x] = 0.1 * float64(x)
	}
	r := one(t, m.file(m.field(GHI, sixHours(), nil, 0), m.field(AirTemperature, sixHours(), nil, 0)))
	cells, _ := r.Select(nil, 1)
	for bytes, want := range map[int64]string{
		12_000: "made.nc: 2920 records of a cell, 0 MiB: more than fits; allow more by --memory",
		20_000: "made.nc: 3000 columns of a row, 0 MiB: more than fits; allow more by --memory",
		50_000: "",
	} {
		_, err := r.NewLoader(cells, bytes, t.TempDir())
		var f *weather.FileError
		if want == "" && err == nil {
			continue
		}
		if err == nil || !errors.As(err, &f) || err.Error() != want {
			t.Errorf("%d bytes: %v, want %q", bytes, err, want)
		}
	}
}

// A failing read and a cancelled context end a loading, direct and by way of the
// scratch file, of which nothing is left.
func TestLoaderFails(t *testing.T) {
	torn := errors.New("torn")
	for _, bytes := range []int64{64 << 20, 4 * 2 * 8760 * 3} {
		m := newMade("made.nc", 6, 5)
		r := one(t, m.file(m.field(GHI, year, nil, 0), m.field(AirTemperature, year, nil, 0)))
		cells, _ := r.Select(nil, 1)
		dir := t.TempDir()
		load := func(ctx context.Context) error {
			l, err := r.NewLoader(cells, bytes, dir)
			if err != nil {
				t.Fatal(err)
			}
			err = l.Load(ctx, l.NewBand(), 0)
			if list, _ := os.ReadDir(dir); err != nil && len(list) > 0 {
				t.Errorf("left after an error: %v", list)
			}
			if e := l.Close(); e != nil {
				t.Error(e)
			}
			if list, _ := os.ReadDir(dir); len(list) > 0 {
				t.Errorf("left after Close: %v", list)
			}
			return err
		}
		ctx, cancel := context.WithCancel(context.Background())
		m.fail = func(rec int) error {
			if rec > 5000 {
				return torn
			}
			return nil
		}
		err := load(ctx)
		var f *weather.FileError
		if !errors.Is(err, torn) || !errors.As(err, &f) || f.File != "made.nc" || f.Field != "global_horizontal_irradiance" {
			t.Errorf("%d bytes: error %v, want that of the file and variable", bytes, err)
		}
		m.fail = func(rec int) error { cancel(); return nil }
		if err := load(ctx); !errors.Is(err, context.Canceled) {
			t.Errorf("%d bytes, cancelled: %v", bytes, err)
		}
		m.fail = nil
		if err := load(context.Background()); err != nil {
			t.Error(err)
		}
	}
	// No folder for the scratch file: an error that is not of the input.
	m := newMade("made.nc", 6, 5)
	r := one(t, m.file(m.field(GHI, year, nil, 0), m.field(AirTemperature, year, nil, 0)))
	cells, _ := r.Select(nil, 1)
	l, err := r.NewLoader(cells, 4*2*8760*3, "/nonexistent")
	if err != nil {
		t.Fatal(err)
	}
	var f *weather.FileError
	if err := l.Load(context.Background(), l.NewBand(), 0); err == nil || errors.As(err, &f) || !strings.Contains(err.Error(), "scratch file") {
		t.Errorf("no folder: %v", err)
	}
}
