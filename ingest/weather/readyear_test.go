package weather_test

import (
	"errors"
	"os"
	"strings"
	"testing"
	"unsafe"

	"golang.org/x/sync/errgroup"

	"stillrow/ingest/weather"
)

// TestReadYearReuses reads sites into one year: each is that of its record, bit
// by bit, in the memory of the one before, and leaves records alone.
func TestReadYearReuses(t *testing.T) {
	table := openTable(t, write(t, 35))
	first, err := table.Record(0)
	if err != nil {
		t.Fatal(err)
	}
	y := &weather.Year{Wind: make([]float32, 24, 2*weather.Hours), Snow: make([]float32, weather.Hours)}
	snow := y.Snow
	var were []*float32
	for n, i := range []int{0, 34, 3, 3, 33, 1} {
		if err := table.ReadYear(i, y); err != nil {
			t.Fatal(err)
		}
		rec, err := table.Record(i)
		if err != nil {
			t.Fatal(err)
		}
		want, err := weather.YearOf(rec)
		if err != nil {
			t.Fatal(err)
		}
		if k, h := firstDifference(y, want); k >= 0 {
			t.Errorf("site %d: column %d, hour %d is not that of the record", i, k, h)
		}
		for k, c := range columnsOf(y) {
			if len(*c) != weather.Hours {
				t.Errorf("site %d: column %d has %d values", i, k, len(*c))
			}
			if n == 0 {
				were = append(were, unsafe.SliceData(*c))
			} else if unsafe.SliceData(*c) != were[k] {
				t.Errorf("site %d: column %d is in other memory", i, k)
			}
		}
	}
	if unsafe.SliceData(y.Snow) != unsafe.SliceData(snow) {
		t.Error("memory that was given is not used")
	}
	was, err := weather.YearOf(first)
	if err != nil {
		t.Fatal(err)
	}
	_, want := synthetic(0)
	if k, h := firstDifference(was, want); k >= 0 {
		t.Errorf("column %d, hour %d of a record has changed", k, h)
	}
}

// TestReadYearRefuses gives it what is not there.
func TestReadYearRefuses(t *testing.T) {
	table := openTable(t, write(t, 2))
	y := weather.NewYear()
	for _, i := range []int{-1, 2} {
		if err := table.ReadYear(i, y); err == nil || !strings.Contains(err.Error(), "among 2") {
			t.Errorf("site %d of 2: error %v", i, err)
		}
	}
	table.Close()
	if err := table.ReadYear(0, y); !errors.Is(err, os.ErrClosed) {
		t.Errorf("reading a closed table gave %v, want %v", err, os.ErrClosed)
	}
}

// TestReadYearConcurrently reads all sites from many goroutines, each with a
// year of its own.
func TestReadYearConcurrently(t *testing.T) {
	const sites = 40
	table := openTable(t, write(t, sites))
	var want []*weather.Year
	for i := range sites {
		_, y := synthetic(i)
		want = append(want, y)
	}
	var group errgroup.Group
	for g := range 8 {
		group.Go(func() error {
			y := weather.NewYear()
			for k := range sites {
				i := (k*7 + g*13) % sites
				if err := table.ReadYear(i, y); err != nil {
					return err
				}
				if column, hour := firstDifference(y, want[i]); column >= 0 {
					t.Errorf("site %d, column %d, hour %d differs", i, column, hour)
				}
			}
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		t.Fatal(err)
	}
}
