package main

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"stillrow/simulate/kernel"
)

// BenchmarkAgainstNumPy sets the kernel against a plain NumPy loop over hours,
// turn about, median of processor times, on the problems that simulate/kernel's
// BenchmarkAgainst leaves in the folder that STILLROW_PROBLEMS names. NumPy
// reckons in double precision; its heat must be the kernel's.
func BenchmarkAgainstNumPy(b *testing.B) {
	for _, name := range []string{"drained-false", "drained-true"} {
		b.Run(name, func(b *testing.B) {
			path := filepath.Join(os.Getenv("STILLROW_PROBLEMS"), name+".problem")
			text, err := os.ReadFile(path)
			if err != nil {
				b.Skip("no problem to solve: ", err)
			}
			p := readProblem(b, text)
			var ours, theirs []time.Duration
			for range b.N {
				for range 3 {
					took, want := numPy(b, path, p)
					theirs = append(theirs, took...)
					var got []float32
					ours = append(ours, processor(b, 10, func() { got = p.march() })...)
					same(b, got, want, p.field.Lanes)
				}
			}
			steps := float64(p.field.Lanes * len(p.regimes) * len(p.hours))
			b.ReportMetric(0, "ns/op")
			b.ReportMetric(float64(median(theirs).Nanoseconds())/steps, "NumPy-ns/lane-hour")
			b.ReportMetric(float64(median(ours).Nanoseconds())/steps, "ns/lane-hour")
			b.ReportMetric(median(theirs).Seconds()/median(ours).Seconds(), "kernel:NumPy")
		})
	}
}

// same holds heat to another's, lane by lane of each outlet, to single precision.
func same(b *testing.B, got, want []float32, lanes int) {
	for lo := 0; lo < len(got); lo += lanes {
		most := float64(slices.Max(want[lo : lo+lanes]))
		for i, v := range got[lo : lo+lanes] {
			if math.Abs(float64(v-want[lo+i])) > 2e-5*most {
				b.Fatalf("outlet %d, lane %d: the kernel delivers %g, NumPy %g", lo/lanes, i, v, want[lo+i])
			}
		}
	}
}

// numPy gives the processor time of each of some runs, and the heat.
func numPy(b *testing.B, path string, p *problem) (took []time.Duration, heat []float32) {
	python := ""
	for _, name := range []string{"/usr/bin/python3", "python3"} {
		if exec.Command(name, "-c", "import numpy").Run() == nil {
			python = name
			break
		}
	}
	if python == "" {
		b.Skip("no python3 with NumPy: nothing to compare with")
	}
	out := filepath.Join(b.TempDir(), "heat")
	cmd := exec.Command(python, "../../testdata/bench/kernel.py", path, out, "3")
	// What some machines set for NumPy's linear algebra library is not to slow it.
	cmd.Env = slices.DeleteFunc(os.Environ(), func(v string) bool {
		return strings.HasPrefix(v, "OPENBLAS_CORETYPE=") || strings.HasPrefix(v, "OPENBLAS_L2_SIZE=")
	})
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		b.Fatal(err)
	}
	for field := range strings.FieldsSeq(string(text)) {
		ns, err := strconv.ParseInt(field, 10, 64)
		if err != nil {
			b.Fatal(err)
		}
		took = append(took, time.Duration(ns))
	}
	heat = make([]float32, p.field.Lanes*len(p.regimes))
	if text, err = os.ReadFile(out); err == nil {
		err = binary.Read(bytes.NewReader(text), binary.LittleEndian, heat)
	}
	if err != nil {
		b.Fatal(err)
	}
	return took, heat
}

// A problem is what the kernel is handed for some months.
type problem struct {
	field   kernel.Field
	hours   []kernel.Hour
	regimes []kernel.Regime
	lines   [][]kernel.Line // of each regime
}

// march gives the heat of all lanes at each outlet.
func (p *problem) march() (heat []float32) {
	light := make([]float32, p.field.Lanes)
	var banks []*kernel.Bank
	for o := range p.regimes {
		banks = append(banks, kernel.NewBank(p.field.Lanes))
		banks[o].Start(&p.regimes[o])
	}
	for h := range p.hours {
		p.field.Light(light, 0, &p.hours[h])
		for o, bank := range banks {
			bank.Advance(light, &p.regimes[o], &p.hours[h], &p.lines[o][h])
		}
	}
	for _, bank := range banks {
		heat = append(heat, bank.Heat...)
	}
	return heat
}

// readProblem reads a problem as simulate/kernel's twin does.
func readProblem(b *testing.B, text []byte) *problem {
	in := bytes.NewReader(text)
	get := func(into any) {
		if err := binary.Read(in, binary.LittleEndian, into); err != nil {
			b.Fatal("problem: ", err)
		}
	}
	var size struct{ Lanes, Rows, Hours, Outlets int32 }
	get(&size)
	n := int(size.Lanes)
	p := &problem{field: kernel.Field{Lanes: n, Sky: make([]float32, n), Ground: make([]float32, n), Beam: make([]float32, int(size.Rows)*n)}}
	get(p.field.Sky)
	get(p.field.Ground)
	get(p.field.Beam)
	hours := make([]struct {
		Row         [kernel.Samples]int32
		Weight      [kernel.Samples]float32
		N           int32
		Sky, Ground float32
		Event       uint32
	}, size.Hours)
	get(hours)
	for _, h := range hours {
		p.hours = append(p.hours, kernel.Hour{Row: h.Row, Weight: h.Weight, N: h.N, Sky: h.Sky, Ground: h.Ground, Event: kernel.Event(h.Event)})
	}
	regimes := make([]struct {
		In, Out, Run, Dry, Wet float32
		StartDry               uint32
		FirstAirC              float32
	}, size.Outlets)
	get(regimes)
	for _, r := range regimes {
		p.regimes = append(p.regimes, kernel.Regime{In: r.In, Out: r.Out, Run: r.Run, Dry: r.Dry, Wet: r.Wet, StartDry: r.StartDry != 0, FirstAirC: r.FirstAirC})
	}
	for range p.regimes {
		lines := make([]kernel.Line, size.Hours)
		get(lines)
		p.lines = append(p.lines, lines)
	}
	return p
}
