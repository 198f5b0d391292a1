package kernel

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// A twin is the kernel in C with intrinsics, compiled and given a problem.
type twin struct{ program, problem, result string }

// newTwin skips without gcc.
func newTwin(tb testing.TB, p *problem) *twin {
	tb.Helper()
	gcc, err := exec.LookPath("gcc")
	if err != nil {
		tb.Skip("no gcc: nothing to compare with in C")
	}
	dir := tb.TempDir()
	t := &twin{filepath.Join(dir, "twin"), filepath.Join(dir, "problem"), filepath.Join(dir, "result")}
	cmd := exec.Command(gcc, "-O3", "-march=native", "-ffp-contract=off", "-o", t.program, "testdata/twin.c")
	if out, err := cmd.CombinedOutput(); err != nil {
		tb.Fatalf("%v: %v\n%s", cmd, err, out)
	}
	f, err := os.Create(t.problem)
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
	return t
}

// keep copies the problem, as the twin reads it, into the folder that the
// environment names in STILLROW_PROBLEMS, if it does: for twins in other
// languages.
func (t *twin) keep(tb testing.TB, name string) {
	dir := os.Getenv("STILLROW_PROBLEMS")
	if dir == "" {
		return
	}
	text, err := os.ReadFile(t.problem)
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, name+".problem"), text, 0o666)
	}
	if err != nil {
		tb.Fatal(err)
	}
}

// write writes a problem as the twin reads it.
func (p *problem) write(w io.Writer) error {
	n := p.field.Lanes
	parts := []any{
		[]int32{int32(n), int32(len(p.field.Beam) / n), int32(len(p.hours)), int32(len(p.regimes))},
		p.field.Sky, p.field.Ground, p.field.Beam,
	}
	for _, h := range p.hours {
		parts = append(parts, h.Row, h.Weight, h.N, h.Sky, h.Ground, uint32(h.Event))
	}
	for _, r := range p.regimes {
		dry := uint32(0)
		if r.StartDry {
			dry = 1
		}
		parts = append(parts, r.In, r.Out, r.Run, r.Dry, r.Wet, dry, r.FirstAirC)
	}
	for _, lines := range p.lines {
		parts = append(parts, lines)
	}
	for _, part := range parts {
		if err := binary.Write(w, binary.LittleEndian, part); err != nil {
			return err
		}
	}
	return nil
}

// run gives the processor time of the fastest of some years and the heat of
// all outlets and lanes.
func (t *twin) run(tb testing.TB, years, lanes, outlets int) (time.Duration, []float32) {
	tb.Helper()
	out, err := exec.Command(t.program, t.problem, t.result, strconv.Itoa(years)).Output()
	if err != nil {
		tb.Fatal(err)
	}
	ns, err := strconv.ParseInt(strings.TrimSpace(string(out)), 10, 64)
	if err != nil {
		tb.Fatal(err)
	}
	f, err := os.Open(t.result)
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	heat := make([]float32, lanes*outlets)
	if err := binary.Read(f, binary.LittleEndian, heat); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(ns), heat
}

// The same arithmetic written apart, in another language, gives the same heat
// to the bit.
func TestTwin(t *testing.T) {
	for _, drained := range []bool{false, true} {
		p := newProblem(64, 200, drained, 11)
		_, heat := newTwin(t, p).run(t, 1, 64, len(p.regimes))
		for o, b := range p.march() {
			for i, want := range b.Heat {
				if got := heat[o*64+i]; math.Float32bits(got) != math.Float32bits(want) {
					t.Fatalf("drained %t, outlet %g °C, lane %d: the twin delivers %g, the kernel %g", drained, p.regimes[o].Out, i, got, want)
				}
			}
		}
	}
}

// processor gives the processor time of the fastest of some runs of f, whose
// goroutine keeps its thread: what else the machine does counts little.
func processor(tb testing.TB, runs int, before, f func()) time.Duration {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	now := func() time.Duration {
		var t unix.Timespec
		if err := unix.ClockGettime(unix.CLOCK_THREAD_CPUTIME_ID, &t); err != nil {
			tb.Fatal(err)
		}
		return time.Duration(t.Nano())
	}
	least := time.Duration(math.MaxInt64)
	for range runs {
		before()
		from := now()
		f()
		least = min(least, now()-from)
	}
	return least
}

// BenchmarkAgainst sets the kernel against its peers, turn about: a quarter of
// a year, 256 lanes at four outlets, processor time of the fastest run. The
// ratios say how many times as fast the first is.
func BenchmarkAgainst(b *testing.B) {
	const n, days, runs = 256, 91, 20
	for _, drained := range []bool{false, true} {
		b.Run(fmt.Sprintf("drained=%t", drained), func(b *testing.B) {
			p := newProblem(n, days, drained, 5)
			c := newTwin(b, p)
			c.keep(b, fmt.Sprintf("drained-%t", drained))
			wide := p.wide()
			banks, s := p.start(), make([]float32, n)
			banks64, s64 := wide.start(), make([]float64, n)
			least := make(map[string]time.Duration)
			keep := func(name string, d time.Duration) {
				if was, ok := least[name]; !ok || d < was {
					least[name] = d
				}
			}
			for range b.N {
				for l := plain; l <= best(); l++ {
					was := vectors
					vectors = l
					keep(l.String(), processor(b, runs, func() { p.restart(banks) }, func() { p.run(banks, s) }))
					vectors = was
				}
				keep("float64", processor(b, runs, func() { banks64 = wide.start() }, func() { wide.run(banks64, s64) }))
				d, _ := c.run(b, runs, n, len(p.regimes))
				keep("C", d)
			}
			b.ReportMetric(0, "ns/op")
			for name, d := range least {
				b.ReportMetric(float64(d.Nanoseconds())/float64(n*len(p.regimes)*len(p.hours)), name+"-ns/lane-hour")
			}
			for _, r := range [][2]string{{"AVX2", "C"}, {"AVX2", "float64"}, {"AVX2", "plain"}, {"AVX-512", "AVX2"}, {"plain", "float64"}} {
				if least[r[0]] > 0 && least[r[1]] > 0 {
					b.ReportMetric(least[r[1]].Seconds()/least[r[0]].Seconds(), r[0]+":"+r[1])
				}
			}
		})
	}
}
