package main

import (
	"bytes"
	"context"
	"io"
	"math"
	"os"
	"testing"
	"time"

	"stillrow/ingest"
	"stillrow/ingest/weather"
	"stillrow/rank"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
)

// BenchmarkParts sets the way from the weather table to the maps, by two
// workers, against its parts, each alone on one processor, all in milliseconds a
// place: 256 designs at four outlets with the built-in study's uses and prices.
//
//	read     a year out of the table
//	prepare  sun, light and losses of its hours: the year of one design
//	kernel   the year of all designs with their doses of light, less that of one
//	picks    stresses of the best designs and how they answer to changed inputs:
//	         the year of all designs with these, less without
//	rank     prices and the choice of designs, and how sure it is
//	maps     the files, once all is ranked: mostly pictures, as many for few places as for many
//
// ranked is what one worker takes without the maps, its parts kept for going on;
// whole:parts is what two workers take over half of their sum. It needs a table
// as long as the run it stands for: the folder that STILLROW_BENCH_WEATHER names,
// else the demo's.
func BenchmarkParts(b *testing.B) {
	table := benchTable(b)
	n := len(table.Sites)
	m, err := studyFlag{}.markets(resultSites(table.Sites))
	if err != nil {
		b.Fatal(err)
	}
	m.study().Designs = benchDesigns(256)
	for range b.N {
		var whole, ranked [3]time.Duration // by workers
		for workers := 1; workers <= 2; workers++ {
			e := &env{ctx: context.Background(), stdout: io.Discard, stderr: new(bytes.Buffer)}
			j := &job{command: "screen", markets: m, table: table, out: b.TempDir(), ranked: true, flags: workFlags{workersFlag: workersFlag{workers}, quietFlag: quietFlag{true}}}
			if err := j.prepare(e); err != nil {
				b.Fatal(err)
			}
			from := time.Now()
			if err := j.begin(e, false); err != nil {
				b.Fatal(err)
			}
			if err := j.work.run(e, j.out, j.record, true); err != nil {
				b.Fatal(err)
			}
			ranked[workers] = time.Since(from)
			if err := j.finish(e); err != nil {
				b.Fatal(err)
			}
			j.close()
			whole[workers] = time.Since(from)
		}
		p := parts{table: table, m: m, sample: make([]int, min(n, 400))}
		for i := range p.sample {
			p.sample[i] = i * n / len(p.sample)
		}
		p.measure(b)
		sum := 0.0
		for _, one := range p.took {
			b.ReportMetric(one.ms, one.name+"-ms/site")
			sum += one.ms
		}
		site := func(d time.Duration) float64 { return d.Seconds() * 1000 / float64(n) }
		b.ReportMetric(0, "ns/op")
		b.ReportMetric(sum, "parts-ms/site")
		b.ReportMetric(site(ranked[1]), "ranked-ms/site")
		b.ReportMetric(site(whole[1]), "one-ms/site")
		b.ReportMetric(site(whole[2]), "two-ms/site")
		b.ReportMetric(whole[1].Seconds()/whole[2].Seconds(), "two:one")
		b.ReportMetric(p.took[0].ms/site(whole[1]), "reading-share")
		b.ReportMetric(2*site(whole[2])/sum, "whole:parts")
	}
}

func benchTable(b *testing.B) *weather.Table {
	dir := os.Getenv("STILLROW_BENCH_WEATHER")
	if dir == "" {
		dir = b.TempDir()
		if _, err := ingest.Run(context.Background(), ingest.Options{Sources: []ingest.Source{demoSource{}}, Out: dir}); err != nil {
			b.Fatal(err)
		}
	}
	t, err := weather.Open(dir)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { t.Close() })
	return t
}

// benchDesigns gives so many candidates that differ in their mirror.
func benchDesigns(n int) (list []collector.Design) {
	lengths := []float64{.5, .75, 1, 1.25, 1.5, 1.75, 2, 2.5}
	for i := range n {
		at := float64(i/len(lengths)) / float64(n/len(lengths))
		list = append(list, collector.Design{ReceiverWidth: 1, MirrorLength: lengths[i%len(lengths)], MirrorTilt: 48 + 80*at, RowPitch: 3.5})
	}
	return list
}

func benchPlan(b *testing.B, m *markets, workers int) *simulate.Plan {
	plan, err := prepare(context.Background(), m.study(), &workFlags{workersFlag: workersFlag{workers}})
	if err != nil {
		b.Fatal(err)
	}
	plan.PickedStress = true
	return plan
}

// parts are the parts of a run, over some of its sites.
type parts struct {
	table  *weather.Table
	m      *markets
	sample []int
	years  []*weather.Year
	blocks []*result.Block
	took   []part
}

type part struct {
	name string
	ms   float64 // a site
}

// time takes one part.
func (p *parts) time(f func()) float64 {
	from := time.Now()
	f()
	return time.Since(from).Seconds() * 1000 / float64(len(p.sample))
}

func (p *parts) measure(b *testing.B) {
	var y weather.Year
	read := p.time(func() {
		for _, i := range p.sample {
			if err := p.table.ReadYear(i, &y); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, i := range p.sample {
		y := weather.NewYear()
		if err := p.table.ReadYear(i, y); err != nil {
			b.Fatal(err)
		}
		p.years = append(p.years, y)
	}
	all := p.m.study().Designs
	one, every := p.simulate(b, all[:1], false), p.simulate(b, all, false)
	picks := p.simulate(b, all, true) - every // leaves its blocks

	plan := benchPlan(b, p.m, 1)
	o := p.m.ranking()
	if _, err := p.m.sure(&o, plan, false); err != nil {
		b.Fatal(err)
	}
	o.Out, o.Workers = b.TempDir(), 1
	if err := p.m.frame(&o, resultSites(p.table.Sites)); err != nil {
		b.Fatal(err)
	}
	k, err := rank.New(o)
	if err != nil {
		b.Fatal(err)
	}
	defer k.Abort()
	ranked := p.time(func() {
		batch := k.Batch()
		for _, block := range p.blocks {
			if err := batch.Add(block); err != nil {
				b.Fatal(err)
			}
		}
		if err := k.Take(batch); err != nil {
			b.Fatal(err)
		}
	})
	maps := p.time(func() {
		if _, err := k.Finish(b.Context()); err != nil {
			b.Fatal(err)
		}
	})
	p.took = []part{{"read", read}, {"prepare", one}, {"kernel", every - one}, {"picks", picks}, {"rank", ranked}, {"maps", maps}}
}

// simulate gives what a site's year of some designs takes, the lesser of two
// rounds, with their picks or without.
func (p *parts) simulate(b *testing.B, designs []collector.Design, picked bool) float64 {
	p.m.study().Designs = designs
	plan := benchPlan(b, p.m, 1)
	if o := p.m.ranking(); picked {
		if _, err := p.m.sure(&o, plan, false); err != nil {
			b.Fatal(err)
		}
	}
	least := math.Inf(1)
	for range 2 {
		p.blocks = p.blocks[:0]
		least = min(least, p.time(func() {
			for k, i := range p.sample {
				block, err := plan.Site(p.table.Sites[i], p.years[k])
				if err != nil {
					b.Fatal(err)
				}
				p.blocks = append(p.blocks, block)
			}
		}))
	}
	return least
}
