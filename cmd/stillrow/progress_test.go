package main

import (
	"bytes"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
)

// Rate and time left count from the first step, not from the reading before it.
func TestPace(t *testing.T) {
	start := time.Unix(1000, 0)
	p := pace{what: "sites", start: start}
	after := func(s int) time.Time { return start.Add(time.Duration(s) * time.Second) }
	if got := p.text(after(60)); got != "no sites yet, 60 s" {
		t.Errorf("before the first step: %q", got)
	}
	p.step(1, 101, after(100))
	if got := p.text(after(102)); got != "no sites yet, 2 min" {
		t.Errorf("at the first step: %q", got)
	}
	p.step(21, 101, after(110))
	if got := p.text(after(110)); got != "21 of 101 sites, 2/s, 40 s left" {
		t.Errorf("10 s later: %q", got)
	}
	p.step(20, 101, after(110)) // out of order
	if got := p.text(after(110)); got != "21 of 101 sites, 2/s, 40 s left" {
		t.Errorf("10 s later: %q", got)
	}
	// 11 s more than the longest wait: 20 steps took 21 s, and the next is due.
	if got := p.text(after(131)); got != "21 of 101 sites, 0.952/s, 74 s left" {
		t.Errorf("after a wait: %q", got)
	}
	p.step(101, 101, after(150))
	if got := p.text(after(200)); got != "101 sites in 3 min" {
		t.Errorf("at the end: %q", got)
	}
}

func TestSpoken(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "0 s", 99*time.Second + 400*time.Millisecond: "99 s", 100 * time.Second: "2 min", 99 * time.Minute: "99 min",
		100 * time.Minute: "1 h 40 min", 27*time.Hour + 4*time.Minute + 31*time.Second: "27 h 05 min",
	} {
		if got := spoken(d); got != want {
			t.Errorf("%v is %q, want %q", d, got, want)
		}
	}
}

// After the first tenth of the time the time left is within 20 % of what it
// turns out to be, or within a second, at every moment: for stages whose rate
// changes and for what the demo took, twenty times slower.
func TestTimeLeft(t *testing.T) {
	for name, trace := range map[string][]mark{
		"steady":                       paced(1000, func(float64) float64 { return 1 }),
		"one site of ten takes triple": paced(1000, func(x float64) float64 { return 1 + 2*float64(int(x*1000)%10/9) }),
		"first sites slow":             paced(1000, func(x float64) float64 { return 1 + 3*math.Exp(-x/0.01) }),
		"sites ever cheaper":           paced(1000, func(x float64) float64 { return 1 - 0.25*x }),
		"sites ever dearer":            paced(1000, func(x float64) float64 { return 1 + 0.25*x }),
		"a quarter of a million":       paced(250_000, func(x float64) float64 { return 0.01 * (1 + 3*math.Exp(-x/0.003)) * (1 - 0.2*x) }),
		"simulate as recorded":         recorded(t, simulateTrace),
		"ingest as recorded":           recorded(t, ingestTrace),
	} {
		t.Run(name, func(t *testing.T) {
			last := trace[len(trace)-1]
			whole := last.at.Sub(time.Time{})
			p, next := pace{}, 0
			for k := range 1000 {
				now := time.Time{}.Add(whole * time.Duration(k) / 1000)
				for ; trace[next].at.Before(now); next++ {
					p.step(trace[next].done, last.done, trace[next].at)
				}
				if k <= 100 {
					continue
				}
				want := last.at.Sub(now)
				if off := (p.left(now) - want).Abs(); off > max(want/5, time.Second) {
					t.Errorf("after %d ‰, %d sites: %v left, was %v", k, p.done, p.left(now), want)
				}
			}
			if len(p.marks) > 1500 {
				t.Errorf("%d marks", len(p.marks))
			}
		})
	}
}

// paced is a stage whose i-th step of n takes cost(i/n) tenths of a second, a
// tenth more or less.
func paced(n int, cost func(float64) float64) (list []mark) {
	random := rand.New(rand.NewPCG(1, 2))
	at := time.Time{}
	for i := range n {
		took := cost(float64(i)/float64(n)) * (0.9 + 0.2*random.Float64())
		at = at.Add(time.Duration(took * float64(time.Second) / 10))
		list = append(list, mark{at, i + 1})
	}
	return list
}

func recorded(t *testing.T, trace string) (list []mark) {
	at, done := time.Time{}, 0
	for _, f := range strings.Fields(trace) {
		took, steps, many := strings.Cut(f, ":")
		if !many {
			steps = "1"
		}
		ms, err := strconv.Atoi(took)
		if err != nil {
			t.Fatal(err)
		}
		n, err := strconv.Atoi(steps)
		if err != nil {
			t.Fatal(err)
		}
		at, done = at.Add(20*time.Duration(ms)*time.Millisecond), done+n
		list = append(list, mark{at, done})
	}
	return list
}

// The stage of files begins with its first step; goroutines may tell of it at
// the same time.
func TestWriting(t *testing.T) {
	var err bytes.Buffer
	e := &env{stderr: &err}
	if step, end := e.writing(true); step != nil {
		t.Error("quiet, yet it tells")
	} else {
		end()
	}
	step, end := e.writing(false)
	end() // never begun
	step, end = e.writing(false)
	var group sync.WaitGroup
	for i := range 8 {
		group.Go(func() { step(i, 8) })
	}
	group.Wait()
	end()
	end()
}

// A remark made while a bar is drawn comes to stand above it, whole: written
// beside it, the bar's next drawing would take its line.
func TestRemarkAboveBar(t *testing.T) {
	var screen bytes.Buffer
	step, end, above := bar("ingest", &screen)
	var beside bytes.Buffer
	e := &env{stderr: &beside, above: above}
	step(1, 2)
	fmt.Fprintln(e.notes(false), "going on")
	fmt.Fprintln(e.notes(true), "said to nobody")
	step(2, 2)
	end()
	end()
	remark, drawn := strings.Index(screen.String(), "going on\n"), strings.LastIndex(screen.String(), "2 sites in")
	if remark < 0 || drawn < remark || strings.Contains(screen.String(), "nobody") || beside.Len() > 0 {
		t.Errorf("on the screen %q, beside it %q", screen.String(), beside.String())
	}
}

// Lines come before the first step too, and end with the display.
func TestProgressLines(t *testing.T) {
	tell := make(told)
	step, end := lines("ingest", slog.New(slog.NewTextHandler(tell, nil)), time.Millisecond)
	if line := <-tell; !strings.Contains(line, "msg=ingest done=0 elapsed=") {
		t.Errorf("before the first step: %s", line)
	}
	step(1, 1_000_000)
	step(10, 1_000_000)
	for line := range tell {
		if strings.Contains(line, "done=10 of=1000000 per_second=") && strings.Contains(line, " left=") {
			break
		}
	}
	go func() {
		for range tell { // what is still being written
		}
	}()
	end()
	end()
	close(tell) // a line after the end would panic
}

// told hands over what is written to it.
type told chan string

func (c told) Write(p []byte) (int, error) {
	c <- string(bytes.Clone(p))
	return len(p), nil
}
