package main

import (
	"fmt"
	"time"
)

// A pace is how far a stage is and how fast it goes. Its clock starts with the
// first step, since what comes before is not done again for the others.
type pace struct {
	what        string // what its steps are, in the plural
	start       time.Time
	done, total int
	marks       []mark // a few along the way, the first and the last step among them
}

// A mark is when a step was done.
type mark struct {
	at   time.Time
	done int
}

// Of the steps so far, the first are forgotten, since first sites are slow, and
// the rate counts from amid those that come next: later ones may cost more or
// less than those long ago. A shorter memory would follow every site that is
// unlike the others. What no memory can tell is that the sites to come are
// unlike all before: where their cost changes by a quarter over the whole stage,
// the time left is still within a fifth.
const forgotten, faded = 0.1, 0.5

// step counts steps. Of calls that come out of order the furthest counts.
func (p *pace) step(done, total int, now time.Time) {
	p.total = total
	if len(p.marks) > 0 && done <= p.done {
		return
	}
	p.done = done
	// A mark stays where a hundredth has been done since the one before it, so
	// that there are some thousand at most, whatever the number of steps.
	if n := len(p.marks); n > 2 && p.since(n-1) < p.since(n-2)+p.since(n-2)/100+1 {
		p.marks = p.marks[:n-1]
	}
	p.marks = append(p.marks, mark{now, done})
}

// since is the number of steps from the first mark to the i-th.
func (p *pace) since(i int) int { return p.marks[i].done - p.marks[0].done }

// ofLate gives the time a step takes of late, and for how long the next one has
// been awaited, as far as that is no longer than a wait before; each is 0 where
// it cannot be told yet. Steps may come in bursts: so what is of late begins
// amid some of the marks, and a wait makes steps slower only by what it exceeds
// any other.
func (p *pace) ofLate(now time.Time) (each, awaited time.Duration) {
	n := len(p.marks)
	if n < 2 {
		return 0, 0
	}
	i, all := 0, float64(p.since(n-1))
	for i < n-2 && float64(p.since(i)) < forgotten*all {
		i++
	}
	first, last := p.marks[i], p.marks[n-1]
	var longest, ago time.Duration // ago is the mean time from first to the marks to begin amid
	steps, amid := 0.0, 0
	for k := i; k < n-1; k++ {
		longest = max(longest, p.marks[k+1].at.Sub(p.marks[k].at))
		if amid == 0 || float64(p.since(k)) <= faded*all {
			amid++
			ago += p.marks[k].at.Sub(first.at)
			steps += float64(last.done - p.marks[k].done)
		}
	}
	ago /= time.Duration(amid)
	awaited = min(now.Sub(last.at), longest)
	took := now.Sub(first.at) - ago - awaited
	return time.Duration(float64(took) * float64(amid) / steps), awaited
}

// rate gives the steps a second, 0 where it cannot be told yet.
func (p *pace) rate(now time.Time) float64 {
	each, _ := p.ofLate(now)
	if each <= 0 {
		return 0
	}
	return 1 / each.Seconds()
}

// left gives the time to the end at that rate.
func (p *pace) left(now time.Time) time.Duration {
	if p.done >= p.total {
		return 0
	}
	each, awaited := p.ofLate(now)
	return max(0, time.Duration(p.total-p.done)*each-awaited)
}

// text tells it in words, for a bar.
func (p *pace) text(now time.Time) string {
	switch {
	case p.done > 0 && p.done == p.total:
		return fmt.Sprintf("%d %s in %s", p.done, p.what, spoken(p.marks[len(p.marks)-1].at.Sub(p.start)))
	case p.rate(now) == 0:
		return fmt.Sprintf("no %s yet, %s", p.what, spoken(now.Sub(p.start)))
	}
	return fmt.Sprintf("%d of %d %s, %.3g/s, %s left", p.done, p.total, p.what, p.rate(now), spoken(p.left(now)))
}

// spoken is a duration as exact as anybody wants to know it.
func spoken(d time.Duration) string {
	switch d = d.Round(time.Second); {
	case d < 100*time.Second:
		return fmt.Sprintf("%d s", d/time.Second)
	case d < 100*time.Minute:
		return fmt.Sprintf("%d min", d.Round(time.Minute)/time.Minute)
	}
	d = d.Round(time.Minute)
	return fmt.Sprintf("%d h %02d min", d/time.Hour, d%time.Hour/time.Minute)
}
