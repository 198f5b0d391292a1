package main

import (
	"fmt"
	"io"
	"log/slog"
	"os"
	"sync"
	"sync/atomic"
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
	case isTerminal(e.stderr) && os.Getenv("TERM") != "dumb":
		step, end, above := bar(stage, e.stderr)
		e.above = above
		return step, func() {
			e.above = nil
			end()
		}
	}
	return lines(stage, e.log(false), every)
}

// writing is progress of the files that end a ranking: a stage of its own,
// which begins when it is first told of, from whatever goroutine.
func (e *env) writing(quiet bool) (func(done, total int), func()) {
	if quiet {
		return nil, func() {}
	}
	begin := sync.OnceValues(func() (func(done, total int), func()) { return e.progress(mapsStage, quiet) })
	var begun atomic.Bool
	return func(done, total int) {
			begun.Store(true)
			step, _ := begin()
			step(done, total)
		}, func() {
			if begun.Load() {
				_, end := begin()
				end()
			}
		}
}

const mapsStage = "maps"

// steps are what a stage counts.
func steps(stage string) string {
	if stage == mapsStage {
		return "files"
	}
	return "sites"
}

// lines writes a line in every interval, from a goroutine that ends with the
// display.
func lines(stage string, log *slog.Logger, every time.Duration) (func(done, total int), func()) {
	var mu sync.Mutex
	p := pace{what: steps(stage), start: time.Now()}
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
				rate, left, done, total := p.rate(now), p.left(now), p.done, p.total
				mu.Unlock()
				switch {
				case rate == 0:
					log.Info(stage, "done", done, "elapsed", now.Sub(p.start).Round(time.Second))
				case done < total:
					log.Info(stage, "done", done, "of", total, "per_second", fmt.Sprintf("%.3g", rate), "left", left.Round(time.Second))
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

// bar draws on a terminal. Lines for the third result come to stand above it.
func bar(stage string, w io.Writer) (func(done, total int), func(), io.Writer) {
	var mu sync.Mutex
	p := pace{what: steps(stage), start: time.Now()}
	pool := mpb.New(mpb.WithOutput(w), mpb.WithWidth(40), mpb.WithAutoRefresh())
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
			done = p.done
			mu.Unlock()
			b.SetTotal(int64(total), false)
			b.SetCurrent(int64(done))
		}, func() {
			if !b.Completed() {
				b.Abort(false)
			}
			pool.Wait()
		}, pool
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
