package rank

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// BenchmarkRun ranks a heat table of 10 000 sites × 68 designs × 4 outlets
// whose films wear, for three uses and at the prices of forty countries.
func BenchmarkRun(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "heat")
	o := manySites(b, dir, 10_000)
	for b.Loop() {
		o.Out = b.TempDir()
		if _, err := Run(context.Background(), dir, o); err != nil {
			b.Fatal(err)
		}
	}
}

// manySites writes a made-up heat table and gives what to rank it by.
func manySites(tb testing.TB, dir string, sites int) Options {
	t := result.Table{Outlets: []float64{35, 45, 60, 75}, Stress: true}
	for _, length := range []float64{0, 0.8, 1.2, 1.6} {
		for tilt := 50.0; tilt <= 130; tilt += 5 {
			t.Designs = append(t.Designs, result.Design{ReceiverWidth: 1.2, MirrorLength: length, MirrorTilt: tilt, Setback: 0.05, RowPitch: 3.6})
		}
	}
	w, err := result.Create(dir, t)
	if err != nil {
		tb.Fatal(err)
	}
	defer w.Abort()
	rows := len(t.Designs) * len(t.Outlets)
	block := result.Block{Heat: make([]float32, 12*rows), Stress: make([]float32, rows*result.Stresses)}
	for s := range sites {
		lat := -60 + 120*float64(s)/float64(sites)
		block.Site = result.Site{ID: fmt.Sprint("S", s), Name: "somewhere", Lat: lat, Lon: math.Mod(float64(s)*0.25, 360) - 180, CellDeg: 0.25}
		for m := range 12 {
			block.Site.HDD[m], block.Site.CDD[m] = math.Abs(lat)*float64(12-m), float64(m)*5
		}
		for r := range rows {
			d, outlet := t.Designs[r%len(t.Designs)], t.Outlets[r/len(t.Designs)]
			for m := range 12 {
				slope := (d.MirrorTilt - 70 - math.Abs(lat)/2) / 60
				block.Heat[12*r+m] = float32((100 - outlet) * (1 + d.MirrorLength*(1-slope*slope)/2) * (1 + math.Sin(float64(s+r+m))/20))
			}
			stress := block.Stress[r*result.Stresses:][:result.Stresses]
			for i := range stress {
				stress[i] = float32(80 + (s+r%len(t.Designs)+i)%97) // alike at every outlet, as doses of light are
			}
		}
		if err := w.Append(&block); err != nil {
			tb.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		tb.Fatal(err)
	}
	o := Options{
		BandDeg: 2, Currency: "EUR",
		Uses: []Use{wholeYear, {Name: "winter", Months: months12(12, 1, 2)}, {Name: "heating", Season: Heating, Threshold: 100, Amount: 200}},
		Lives: Lives{
			cost.ClearFilm: {UV: 100, Warm: 8760}, cost.BlackFilm: {UV: 100, Warm: 8760}, cost.MirrorFilm: {UV: 100, Warm: 2000},
		},
	}
	plan := cost.Plan{HorizonYears: 20, DiscountRate: 0.05, Fade: 0.005, LabourPerH: 20, SiteReceiverM2: 2000, DeliveredShare: 0.9}
	for i, unit := range []cost.Unit{cost.ReceiverM2, cost.ReceiverM2, cost.ReceiverM2, cost.ReceiverM2, cost.MirrorM2, cost.MirrorM2, cost.RowM, cost.RowM, cost.RowM, cost.GroundM2, cost.WholeSite, cost.WholeSite} {
		it := cost.Item{Name: fmt.Sprint("item ", i), Unit: unit, Price: 1 + float64(i)/10, LabourH: 0.05, LifeYears: 20 - float64(i), RunningPerYear: 0.01}
		if i < 5 {
			it.LifeYears, it.Film = float64(3+i/2), []cost.Film{cost.ClearFilm, cost.ClearFilm, cost.BlackFilm, cost.BlackFilm, cost.MirrorFilm}[i]
		}
		plan.Items = append(plan.Items, it)
	}
	for i := range 40 {
		p := plan
		p.LabourPerH = 2 + float64(i)
		o.Markets = append(o.Markets, Market{Book: fmt.Sprint("book/", i), Plan: p, Gas: handGas})
	}
	o.MarketOf = func(s result.Site) int { return int(s.Lat+60)%41 - 1 }
	return o
}

// BenchmarkHeap ranks places whose blocks are made as they come, and tells what
// each adds to the heap while they are added, and the most that is in use while
// the files are written.
func BenchmarkHeap(b *testing.B) {
	for _, places := range []int{1000, 10_000, 50_000} {
		b.Run(fmt.Sprint(places), func(b *testing.B) {
			for b.Loop() {
				o, block := someDesigns(b)
				k, err := New(o)
				if err != nil {
					b.Fatal(err)
				}
				before := heap()
				for first := 0; first < places; first += mostPlaces {
					batch := k.Batch()
					for i := first; i < min(first+mostPlaces, places); i++ {
						if err := batch.Add(block(i)); err != nil {
							b.Fatal(err)
						}
					}
					if err := k.Take(batch); err != nil {
						b.Fatal(err)
					}
				}
				added := heap() - before
				peak, stop := make(chan int64), make(chan bool)
				go func() {
					most := int64(0)
					for {
						select {
						case <-stop:
							peak <- most
							return
						case <-time.After(200 * time.Millisecond):
							most = max(most, heap()-before)
						}
					}
				}()
				if _, err := k.Finish(b.Context()); err != nil {
					b.Fatal(err)
				}
				close(stop)
				b.ReportMetric(float64(added)/float64(places), "B/place")
				b.ReportMetric(float64(<-peak)/1e6, "MB-writing")
			}
		})
	}
}

// heap is what is in use, bytes.
func heap() int64 {
	runtime.GC()
	runtime.GC() // what lay in pools
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// someDesigns is manySites in small: six designs, made site by site.
func someDesigns(tb testing.TB) (Options, func(i int) *result.Block) {
	o := manySites(tb, filepath.Join(tb.TempDir(), "heat"), 1)
	o.Out = tb.TempDir()
	o.Table = result.Table{Outlets: []float64{35, 45, 60, 75}}
	for _, tilt := range []float64{50, 60, 70, 80, 90, 100} {
		o.Table.Designs = append(o.Table.Designs, result.Design{ReceiverWidth: 1.2, MirrorLength: 1.2, MirrorTilt: tilt, RowPitch: 3.6})
	}
	block := &result.Block{Heat: make([]float32, 12*4*6)}
	return o, func(i int) *result.Block {
		block.Site = result.Site{ID: fmt.Sprint("S", i), Name: fmt.Sprint("place ", i), Lat: -60 + 0.25*float64(i/1000), Lon: 0.25*float64(i%1000) - 120, CellDeg: 0.25}
		for m := range 12 {
			block.Site.HDD[m] = math.Abs(block.Site.Lat) * float64(12-m)
		}
		for k := range block.Heat {
			block.Heat[k] = float32(20 + 10*math.Sin(float64(i+k)))
		}
		return block
	}
}
