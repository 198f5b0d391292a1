package main

import (
	"bytes"
	"context"
	"io"
	"math"
	"testing"
	"time"

	"stillrow/ingest"
	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
)

// BenchmarkPipeline takes the demo's places from the weather table to the
// ranking, 256 designs at four outlets, by one worker: milliseconds a place, and
// the share of them that reading alone takes; wall time of the fastest run.
func BenchmarkPipeline(b *testing.B) {
	dir := b.TempDir()
	if _, err := ingest.Run(context.Background(), ingest.Options{Sources: []ingest.Source{demoSource{}}, Out: dir}); err != nil {
		b.Fatal(err)
	}
	table, err := weather.Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	defer table.Close()
	var c screenCmd
	c.Quiet = true
	m, err := c.markets(resultSites(table.Sites))
	if err != nil {
		b.Fatal(err)
	}
	s := m.study()
	s.Designs = s.Designs[:0]
	for tilt := 48.0; len(s.Designs) < 256; tilt += 2.5 {
		for _, length := range []float64{.5, .75, 1, 1.25, 1.5, 1.75, 2, 2.5} {
			s.Designs = append(s.Designs, collector.Design{ReceiverWidth: 1, MirrorLength: length, MirrorTilt: tilt, RowPitch: 3.5})
		}
	}
	plan, err := prepare(context.Background(), s, 1)
	if err != nil {
		b.Fatal(err)
	}
	e := &env{ctx: context.Background(), stdout: io.Discard, stderr: new(bytes.Buffer)}
	whole, reading := time.Duration(math.MaxInt64), time.Duration(math.MaxInt64)
	for range b.N {
		c.Out = b.TempDir()
		from := time.Now()
		if _, err := c.simulate(e, plan, m, table); err != nil {
			b.Fatal(err)
		}
		between := time.Now()
		for i := range table.Sites {
			rec, err := table.Record(i)
			if err != nil {
				b.Fatal(err)
			}
			rec.Release()
		}
		whole, reading = min(whole, between.Sub(from)), min(reading, time.Since(between))
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(whole.Seconds()*1000/float64(len(table.Sites)), "ms/site")
	b.ReportMetric(reading.Seconds()/whole.Seconds(), "reading-share")
}
