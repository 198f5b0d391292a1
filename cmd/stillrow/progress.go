package main

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"sync"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// every is how often a line is written where there is no terminal.
const every = 5 * time.Second

// progress shows how far a stage is, how fast it goes and how long it still
// takes: a bar on a terminal, else a line every few seconds, and nothing when
// quiet. It tells that the stage is at work also before the first step, while
// files are being read. The first result is told of every step from one
// goroutine; the second ends the display.
func (e *env) progress(stage string, quiet bool) (func(done, total int), func()) {
	switch {
	case quiet:
		return nil, func() {}
	case isTerminal(e.stderr):
		return bar(stage, e.stderr)
	}
	return lines(stage, e.log(false), every)
}

// A pace is how far a stage is. Its rate counts from the first step, since what
// comes before is not done again for the others.
type pace struct {
	start, first time.Time
	skipped      int // steps done at first
	done, total  int
}

func (p *pace) step(done, total int, now time.Time) {
	if p.first.IsZero() {
		p.first, p.skipped = now, done
	}
	p.done, p.total = done, total
}

// rate gives the steps a second, 0 where it cannot be told yet.
func (p *pace) rate(now time.Time) float64 {
	if p.done <= p.skipped {
		return 0
	}
	return float64(p.done-p.skipped) / now.Sub(p.first).Seconds()
}

// left gives the time to the end at the rate so far.
func (p *pace) left(now time.Time) time.Duration {
	return time.Duration(float64(p.total-p.done) / p.rate(now) * float64(time.Second)).Round(time.Second)
}

// text tells it in words, for a bar.
func (p *pace) text(now time.Time) string {
	if p.rate(now) == 0 {
		return fmt.Sprintf("no site yet, %s", now.Sub(p.start).Round(time.Second))
	}
	return fmt.Sprintf("%d of %d sites, %.3g/s, %s left", p.done, p.total, p.rate(now), p.left(now))
}

// lines writes a line in every interval, from a goroutine that ends with the
// display.
func lines(stage string, log *slog.Logger, every time.Duration) (func(done, total int), func()) {
	var mu sync.Mutex
	p := pace{start: time.Now()}
	stop, ended := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		tick := time.NewTicker(every)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				return
			case now := <-tick.C:
				mu.Lock()
				q := p
				mu.Unlock()
				switch rate := q.rate(now); {
				case rate == 0:
					log.Info(stage, "done", q.done, "elapsed", now.Sub(q.start).Round(time.Second))
				case q.done < q.total:
					log.Info(stage, "done", q.done, "of", q.total, "per_second", fmt.Sprintf("%.3g", rate), "left", q.left(now))
				}
			}
		}
	}()
	return func(done, total int) {
			mu.Lock()
			defer mu.Unlock()
			p.step(done, total, time.Now())
		}, sync.OnceFunc(func() {
			close(stop)
			<-ended
		})
}

func bar(stage string, w io.Writer) (func(done, total int), func()) {
	var mu sync.Mutex
	p := pace{start: time.Now()}
	pool := mpb.New(mpb.WithOutput(w), mpb.WithWidth(40))
	b := pool.AddBar(0, // the total comes with the first step
		mpb.PrependDecorators(decor.Name(fmt.Sprintf("%-9s", stage))),
		mpb.AppendDecorators(decor.Any(func(decor.Statistics) string {
			mu.Lock()
			defer mu.Unlock()
			return p.text(time.Now())
		})))
	return func(done, total int) {
			mu.Lock()
			p.step(done, total, time.Now())
			mu.Unlock()
			b.SetTotal(int64(total), false)
			b.SetCurrent(int64(done))
		}, func() {
			if !b.Completed() {
				b.Abort(false)
			}
			pool.Wait()
		}
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
