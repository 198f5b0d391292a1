package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/vbauerster/mpb/v8"
	"github.com/vbauerster/mpb/v8/decor"
)

// every is how often a line is written where there is no terminal.
const every = 5 * time.Second

// progress shows how far a stage is: a bar on a terminal, else a line every
// few seconds, and nothing when quiet. The first result is told of every step
// from one goroutine; the second ends the display.
func (e *env) progress(stage string, quiet bool) (func(done, total int), func()) {
	if quiet {
		return nil, func() {}
	}
	if isTerminal(e.stderr) {
		return bar(stage, e.stderr)
	}
	log := e.log(false)
	start, last := time.Now(), time.Now()
	return func(done, total int) {
		if now := time.Now(); now.Sub(last) >= every && done < total {
			last = now
			left := time.Duration(float64(now.Sub(start)) / float64(done) * float64(total-done))
			log.Info(stage, "done", done, "of", total, "left", left.Round(time.Second))
		}
	}, func() {}
}

func bar(stage string, w io.Writer) (func(done, total int), func()) {
	pool := mpb.New(mpb.WithOutput(w), mpb.WithWidth(40))
	var b *mpb.Bar
	return func(done, total int) {
			if b == nil {
				b = pool.AddBar(int64(total),
					mpb.PrependDecorators(decor.Name(fmt.Sprintf("%-9s", stage))),
					mpb.AppendDecorators(decor.CountersNoUnit("%d of %d sites "), decor.AverageETA(decor.ET_STYLE_MMSS)))
			}
			b.SetCurrent(int64(done))
		}, func() {
			if b != nil && !b.Completed() {
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
