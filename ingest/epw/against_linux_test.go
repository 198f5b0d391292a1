package epw

import (
	"bytes"
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// BenchmarkAgainstStandardLibrary sets Parse against the same cells by the
// standard library without checks, turn about: the medians of what each run takes
// of the processor, all goroutines together, so that what else the machine does
// counts little.
func BenchmarkAgainstStandardLibrary(b *testing.B) {
	x := benchText()
	var ours, theirs []time.Duration
	for b.Loop() {
		ours = append(ours, processor(b, func() {
			if _, err := Parse("made.epw", bytes.NewReader(x)); err != nil {
				b.Fatal(err)
			}
		}))
		theirs = append(theirs, processor(b, func() { byStandardLibrary(b, x) }))
	}
	median := func(list []time.Duration) float64 {
		slices.Sort(list)
		return list[len(list)/2].Seconds()
	}
	mine, other := median(ours), median(theirs)
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(float64(len(x))/mine/1e6, "MB/s")
	b.ReportMetric(float64(len(x))/other/1e6, "csv-MB/s")
	b.ReportMetric(other/mine, "epw:csv")
}

// processor gives the processor time of f.
func processor(b *testing.B, f func()) time.Duration {
	now := func() time.Duration {
		var t unix.Timespec
		if err := unix.ClockGettime(unix.CLOCK_PROCESS_CPUTIME_ID, &t); err != nil {
			b.Fatal(err)
		}
		return time.Duration(t.Nano())
	}
	from := now()
	f()
	return now() - from
}

func byStandardLibrary(b *testing.B, x []byte) {
	r := csv.NewReader(bytes.NewReader(x))
	r.FieldsPerRecord = -1
	r.ReuseRecord = true
	v := make([][]float64, len(columns))
	for {
		f, err := r.Read()
		if err == io.EOF {
			return
		}
		if err != nil {
			b.Fatal(err)
		}
		if len(f) < rowFields {
			continue
		}
		for c := range columns {
			n, err := strconv.ParseFloat(f[columns[c].field], 64)
			if err != nil {
				b.Fatal(err)
			}
			v[c] = append(v[c], n)
		}
	}
}
