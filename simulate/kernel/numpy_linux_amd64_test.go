package kernel

import (
	"bufio"
	"encoding/binary"
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
)

// numpy runs the kernel's arithmetic as a plain loop over hours in NumPy; it
// skips without a Python that has it.
func numpy(tb testing.TB, p *problem, years int) (time.Duration, []float32) {
	tb.Helper()
	python := ""
	for _, name := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(name, "-c", "import numpy").Run() == nil {
			python = name
			break
		}
	}
	if python == "" {
		tb.Skip("no python3 with numpy: nothing to compare with in NumPy")
	}
	dir := tb.TempDir()
	in, out := filepath.Join(dir, "problem"), filepath.Join(dir, "result")
	f, err := os.Create(in)
	if err != nil {
		tb.Fatal(err)
	}
	w := bufio.NewWriter(f)
	if err := p.write(w); err != nil {
		tb.Fatal(err)
	}
	if err := w.Flush(); err != nil {
		tb.Fatal(err)
	}
	if err := f.Close(); err != nil {
		tb.Fatal(err)
	}
	cmd := exec.Command(python, "../../testdata/bench/kernel.py", in, out, strconv.Itoa(years))
	// What some machines set for NumPy's linear algebra library is not to slow it.
	cmd.Env = slices.DeleteFunc(os.Environ(), func(v string) bool {
		return strings.HasPrefix(v, "OPENBLAS_CORETYPE=") || strings.HasPrefix(v, "OPENBLAS_L2_SIZE=")
	})
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		tb.Fatal(err)
	}
	ns, err := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64)
	if err != nil {
		tb.Fatal(err)
	}
	if f, err = os.Open(out); err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	heat := make([]float32, p.field.Lanes*len(p.regimes))
	if err := binary.Read(f, binary.LittleEndian, heat); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(ns), heat
}

// BenchmarkAgainstNumPy sets the kernel against a plain NumPy loop over hours: a
// year, 256 lanes at four outlets, processor time of the fastest run. NumPy
// reckons in double precision: heat-error is how far a year's heat is off at
// most, relative, of lanes that deliver more than 10 kWh/m².
func BenchmarkAgainstNumPy(b *testing.B) {
	const n, days, runs = 256, 365, 10
	for _, drained := range []bool{false, true} {
		b.Run(fmt.Sprintf("drained=%t", drained), func(b *testing.B) {
			p := newProblem(n, days, drained, 5)
			banks, s := p.start(), make([]float32, n)
			ours, theirs := time.Duration(math.MaxInt64), time.Duration(math.MaxInt64)
			was := vectors
			vectors = min(best(), avx2)
			defer func() { vectors = was }()
			worst := 0.0
			for range b.N {
				for range 3 {
					took, heat := numpy(b, p, 2)
					theirs = min(theirs, took)
					ours = min(ours, processor(b, runs, func() { p.restart(banks) }, func() { p.run(banks, s) }))
					for o, bank := range banks {
						worst = max(worst, apart(b, bank.Heat, heat[o*n:][:n]))
					}
				}
			}
			steps := float64(n * len(p.regimes) * len(p.hours))
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(float64(theirs.Nanoseconds())/steps, "NumPy-ns/lane-hour")
			b.ReportMetric(float64(ours.Nanoseconds())/steps, vectors.String()+"-ns/lane-hour")
			b.ReportMetric(theirs.Seconds()/ours.Seconds(), vectors.String()+":NumPy")
			b.ReportMetric(worst, "heat-error")
		})
	}
}

// apart gives the greatest relative difference of two outlets' heat.
func apart(tb testing.TB, ours, theirs []float32) (worst float64) {
	tb.Helper()
	most := float64(slices.Max(ours))
	for i, got := range ours {
		off := math.Abs(float64(got) - float64(theirs[i]))
		if off > 2e-5*most {
			tb.Fatalf("lane %d: the kernel delivers %g, NumPy %g", i, got, theirs[i])
		}
		if got > 10_000 { // Wh/m²
			worst = max(worst, off/float64(got))
		}
	}
	return worst
}
