package main

import (
	"bytes"
	"log/slog"
	"strings"
	"testing"
	"time"
)

// Rate and time left count from the first step, not from the reading before it.
func TestPace(t *testing.T) {
	start := time.Unix(1000, 0)
	p := pace{start: start}
	after := func(s int) time.Time { return start.Add(time.Duration(s) * time.Second) }
	if got := p.text(after(60)); got != "no site yet, 1m0s" {
		t.Errorf("before the first step: %q", got)
	}
	p.step(1, 101, after(100))
	if got := p.text(after(100)); got != "no site yet, 1m40s" {
		t.Errorf("at the first step: %q", got)
	}
	p.step(21, 101, after(110))
	if got := p.text(after(110)); got != "21 of 101 sites, 2/s, 40s left" {
		t.Errorf("10 s later: %q", got)
	}
	p.step(101, 101, after(150))
	if got := p.text(after(150)); got != "101 of 101 sites, 2/s, 0s left" {
		t.Errorf("at the end: %q", got)
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
