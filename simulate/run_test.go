package simulate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
)

// madeTable writes a weather table of sites from south to north.
func madeTable(tb testing.TB, sites int) *weather.Table {
	tb.Helper()
	dir := tb.TempDir()
	w, err := weather.Create(dir)
	if err != nil {
		tb.Fatal(err)
	}
	defer w.Abort()
	var years [8]*weather.Year
	for i := range sites {
		s := madeSite(20 + 30*float64(i)/float64(sites))
		s.ID = fmt.Sprintf("made-%04d", i)
		y := &years[i*len(years)/sites]
		if *y == nil {
			*y = madeYear(s)
			(*y).Round()
		}
		if err := w.Append(s, *y); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	t, err := weather.Open(dir)
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { t.Close() })
	return t
}

// Every block comes once, in the table's order and to the bit what its site
// alone gives, whatever the number of workers; the sink's error ends the run.
func TestRunKeepsOrder(t *testing.T) {
	table := madeTable(t, 40)
	p, err := Prepare(context.Background(), Options{
		Designs: testDesigns[1:2], Receiver: testReceiver(collector.Hold), Mirror: testMirror,
		Outlets: []collector.Outlet{{In: 25, Out: 35}},
	})
	if err != nil {
		t.Fatal(err)
	}
	var alone [][]float32
	for i := range table.Sites {
		b, err := p.tableSite(table, i, new(weather.Year))
		if err != nil {
			t.Fatal(err)
		}
		alone = append(alone, b.Heat)
	}
	for _, workers := range []int{1, 2, 5} {
		p.Workers = workers
		n := 0
		err := p.Run(context.Background(), table, func(b *result.Block) error {
			if b.Site.ID != table.Sites[n].ID || !slices.Equal(b.Heat, alone[n]) {
				t.Errorf("%d workers: block %d is of %s, or with other heat than alone", workers, n, b.Site.ID)
			}
			n++
			return nil
		}, func(done, total int) {
			if done != n || total != len(table.Sites) {
				t.Errorf("%d workers: %d of %d told after %d of %d", workers, done, total, n, len(table.Sites))
			}
		})
		if err != nil || n != len(table.Sites) {
			t.Errorf("%d workers: %d blocks of %d, %v", workers, n, len(table.Sites), err)
		}
		full := errors.New("full")
		n = 0
		if err := p.Run(context.Background(), table, func(*result.Block) error {
			if n++; n == 7 {
				return full
			}
			return nil
		}, nil); !errors.Is(err, full) || n != 7 {
			t.Errorf("%d workers: %v after %d blocks, want the sink's error after 7", workers, err, n)
		}
	}
}

// BenchmarkWorkers sets two workers against one through Run, turn about: a table
// read, simulated and thrown away, wall time of the fastest run of each.
func BenchmarkWorkers(b *testing.B) {
	table := madeTable(b, 96)
	p := benchPlan(b, collector.Hold)
	least := [3]time.Duration{1: math.MaxInt64, 2: math.MaxInt64}
	for range b.N {
		for range 3 {
			for workers := 1; workers <= 2; workers++ {
				p.Workers = workers
				from := time.Now()
				if err := p.Run(context.Background(), table, func(*result.Block) error { return nil }, nil); err != nil {
					b.Fatal(err)
				}
				least[workers] = min(least[workers], time.Since(from))
			}
		}
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(least[1].Seconds()*1000/float64(len(table.Sites)), "ms/site-1")
	b.ReportMetric(least[1].Seconds()/least[2].Seconds(), "two:one")
}

// benchPlan has a study's usual size.
func benchPlan(b *testing.B, night collector.Night) *Plan {
	b.Helper()
	designs := []collector.Design{{ReceiverWidth: 1, MirrorTilt: 90}}
	for tilt := 50.0; tilt <= 130; tilt += 5 {
		for _, l := range []float64{.75, 1, 1.25, 1.5} {
			designs = append(designs, collector.Design{ReceiverWidth: 1, MirrorLength: l, MirrorTilt: tilt, RowPitch: 3})
		}
	}
	p, err := Prepare(context.Background(), Options{
		Designs: designs[:68], Receiver: testReceiver(night), Mirror: testMirror, Wear: &testWear, PickedStress: true,
		Ground:  collector.Ground{Albedo: .2, FieldDepth: math.NaN()},
		Outlets: []collector.Outlet{{In: 25, Out: 35}, {In: 35, Out: 45}, {In: 50, Out: 60}, {In: 65, Out: 75}},
		// Five picks an outlet, as the demo has with three uses.
		Pick: func(b *result.Block) (list []result.Pick) {
			for o := range 4 {
				for k := range 5 {
					list = append(list, result.Pick{Design: 20 + 3*k + o%2, Outlet: o})
				}
			}
			return list
		},
	})
	if err != nil {
		b.Fatal(err)
	}
	return p
}
