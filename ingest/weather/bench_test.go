package weather_test

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"

	"stillrow/ingest/weather"
)

const benchSites = 96

// siteBytes is what a site's seven value columns take in memory.
const siteBytes = 7 * 4 * weather.Hours

// layouts are the two kinds of numbers tables hold: as files round them, and
// as formulas give them.
var layouts = []struct {
	name   string
	change func(*weather.Year) *weather.Year
}{{"rounded", nil}, {"unrounded", unrounded}}

// BenchmarkWrite writes a table of writtenSites sites an operation.
func BenchmarkWrite(b *testing.B) {
	const writtenSites = 512
	for _, l := range layouts {
		b.Run(l.name, func(b *testing.B) {
			var years []*weather.Year
			for i := range 64 {
				_, y := synthetic(i)
				if l.change != nil {
					y = l.change(y)
				}
				years = append(years, y)
			}
			dir := b.TempDir()
			b.SetBytes(writtenSites * siteBytes)
			for b.Loop() {
				w, err := weather.Create(dir)
				if err != nil {
					b.Fatal(err)
				}
				for i := range writtenSites {
					site := weather.Site{ID: fmt.Sprintf("HV-%04d", i), Kind: weather.KindGrid}
					if err := w.Append(site, years[i%len(years)]); err != nil {
						b.Fatal(err)
					}
				}
				if err := w.Close(); err != nil {
					b.Fatal(err)
				}
			}
			size := int64(0)
			for _, name := range partsOf(b, dir) {
				info, err := os.Stat(filepath.Join(dir, name))
				if err != nil {
					b.Fatal(err)
				}
				size += info.Size()
			}
			b.ReportMetric(float64(size)/writtenSites, "B/site")
			b.ReportMetric(writtenSites*float64(b.N)/b.Elapsed().Seconds(), "sites/s")
		})
	}
}

// BenchmarkRecord reads one site an operation, in file order.
func BenchmarkRecord(b *testing.B) {
	for _, l := range layouts {
		b.Run(l.name, func(b *testing.B) {
			t := open(b, l.change)
			b.SetBytes(siteBytes)
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				readOne(b, t, i%benchSites)
			}
		})
	}
}

// BenchmarkReadYear reads one site an operation, in file order, into one year.
func BenchmarkReadYear(b *testing.B) {
	for _, l := range layouts {
		b.Run(l.name, func(b *testing.B) {
			t := open(b, l.change)
			y := weather.NewYear()
			b.SetBytes(siteBytes)
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				if err := t.ReadYear(i%benchSites, y); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkRecordScattered reads one site an operation, each in another row
// group than the one before.
func BenchmarkRecordScattered(b *testing.B) {
	for _, l := range layouts {
		b.Run(l.name, func(b *testing.B) {
			t := open(b, l.change)
			b.SetBytes(siteBytes)
			for i := 0; b.Loop(); i++ {
				readOne(b, t, i*37%benchSites)
			}
		})
	}
}

// BenchmarkRecordParallel reads the sites on all processors.
func BenchmarkRecordParallel(b *testing.B) {
	t := open(b, nil)
	b.SetBytes(siteBytes)
	var next atomic.Int64
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			readOne(b, t, int(next.Add(1))%benchSites)
		}
	})
}

// BenchmarkWriteIPC streams the whole table an operation.
func BenchmarkWriteIPC(b *testing.B) {
	t := open(b, nil)
	b.SetBytes(benchSites * siteBytes)
	for b.Loop() {
		if err := t.WriteIPC(io.Discard); err != nil {
			b.Fatal(err)
		}
	}
}

func open(b *testing.B, change func(*weather.Year) *weather.Year) *weather.Table {
	dir := b.TempDir()
	writeTo(b, dir, benchSites, change)
	t, err := weather.Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { t.Close() })
	return t
}

func readOne(b *testing.B, t *weather.Table, i int) {
	rec, err := t.Record(i)
	if err != nil {
		b.Error(err)
		return
	}
	if _, err := weather.YearOf(rec); err != nil {
		b.Error(err)
	}
	rec.Release()
}
