package main

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"stillrow/ingest"
	"stillrow/ingest/epw"
	"stillrow/ingest/weather"
)

// processor gives the processor time of each of some runs of f, all goroutines
// together, so that what else the machine does counts little.
func processor(b *testing.B, runs int, f func()) (list []time.Duration) {
	now := func() time.Duration {
		var t unix.Timespec
		if err := unix.ClockGettime(unix.CLOCK_PROCESS_CPUTIME_ID, &t); err != nil {
			b.Fatal(err)
		}
		return time.Duration(t.Nano())
	}
	for range runs {
		from := now()
		f()
		list = append(list, now()-from)
	}
	return list
}

// median is of the times of a virtual machine's clock, whose least may be
// nonsense.
func median(list []time.Duration) time.Duration {
	slices.Sort(list)
	return list[len(list)/2]
}

// duckDB gives what each of some runs takes DuckDB, and the sums it finds. It skips
// without its package for node, in the folder that STILLROW_NODE_MODULES names.
func duckDB(b *testing.B, what, path string, runs int) (took []time.Duration, sums []float64) {
	modules := os.Getenv("STILLROW_NODE_MODULES")
	if _, err := os.Stat(filepath.Join(modules, "@duckdb/node-api")); modules == "" || err != nil {
		b.Skip("no @duckdb/node-api in STILLROW_NODE_MODULES: nothing to compare with in DuckDB")
	}
	cmd := exec.Command("node", "../../testdata/bench/duckdb.mjs", modules, what, path, fmt.Sprint(runs))
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		b.Fatal(err)
	}
	for i, field := range strings.Fields(string(text)) {
		v, err := strconv.ParseFloat(field, 64)
		if err != nil {
			b.Fatal(err)
		}
		if i < runs {
			took = append(took, time.Duration(v))
		} else {
			sums = append(sums, v)
		}
	}
	return took, sums
}

// BenchmarkAgainstDuckDB sets the reading of weather against DuckDB on one thread,
// turn about, median of processor times: a table of the demo's places,
// read and summed, and an EPW file, checked by us and not by DuckDB, whose types
// it is given.
func BenchmarkAgainstDuckDB(b *testing.B) {
	b.Run("table", func(b *testing.B) {
		dir := b.TempDir()
		if _, err := ingest.Run(context.Background(), ingest.Options{Sources: []ingest.Source{demoSource{}}, Out: dir}); err != nil {
			b.Fatal(err)
		}
		t, err := weather.Open(dir)
		if err != nil {
			b.Fatal(err)
		}
		defer t.Close()
		var y weather.Year
		var sums []float64
		against(b, "table", dir, int64(len(t.Sites)*7*4*weather.Hours), func() []float64 {
			sums = make([]float64, 7)
			for i := range t.Sites {
				if err := t.ReadYear(i, &y); err != nil {
					b.Fatal(err)
				}
				for c, list := range [][]float32{y.GHI, y.DNI, y.DHI, y.AirTemperature, y.Wind, y.SkyInfrared, y.Snow} {
					sums[c] += total(list)
				}
			}
			return sums
		})
	})
	b.Run("text", func(b *testing.B) {
		text := []byte(epwYear(nil))
		path := filepath.Join(b.TempDir(), "made.epw")
		if err := os.WriteFile(path, text, 0o666); err != nil {
			b.Fatal(err)
		}
		against(b, "epw", path, int64(len(text)), func() []float64 {
			raw, err := epw.Parse("made.epw", bytes.NewReader(text))
			if err != nil {
				b.Fatal(err)
			}
			return []float64{total(raw.AirTemperature)}
		})
	})
}

// against takes turns with DuckDB, whose first sums must be those of ours, and
// tells the ratio and the pace of each.
func against(b *testing.B, what, path string, size int64, ours func() []float64) {
	const turns, runs = 3, 25
	var mine, theirs []time.Duration
	for range b.N {
		for range turns {
			took, want := duckDB(b, what, path, runs)
			theirs = append(theirs, took...)
			var got []float64
			mine = append(mine, processor(b, runs, func() { got = ours() })...)
			for i, v := range got {
				if math.Abs(v-want[i]) > 1e-9*math.Abs(want[i]) {
					b.Fatalf("sum %d is %v, DuckDB has %v", i, v, want[i])
				}
			}
		}
	}
	pace := func(d time.Duration) float64 { return float64(size) / d.Seconds() / 1e6 }
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(pace(median(mine)), "MB/s")
	b.ReportMetric(pace(median(theirs)), "DuckDB-MB/s")
	b.ReportMetric(median(theirs).Seconds()/median(mine).Seconds(), what+":DuckDB")
}

// total adds up in four sums, lest each addition wait for the one before.
func total[F float32 | float64](list []F) float64 {
	var a, b, c, d float64
	i := 0
	for ; i+8 <= len(list); i += 8 {
		l := (*[8]F)(list[i:])
		a += float64(l[0])
		b += float64(l[1])
		c += float64(l[2])
		d += float64(l[3])
		a += float64(l[4])
		b += float64(l[5])
		c += float64(l[6])
		d += float64(l[7])
	}
	for _, v := range list[i:] {
		a += float64(v)
	}
	return a + b + c + d
}
