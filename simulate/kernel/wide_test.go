package kernel

import (
	"math"
	"testing"
)

// The hours once more in plain Go and double precision, as one writes them with
// the library's logarithm and exponential: what the kernel is measured against,
// in error and in time. Inputs are the kernel's own.

type bank64 struct {
	T, Store, Heat []float64
	Out            []bool
	out            int
}

type regime64 struct{ In, Out, Run, Dry, Wet float64 }

type decay64 struct{ Hour, Time float64 }

type line64 struct {
	Base, InvU, U float64
	Wet, Dry      decay64
}

func (l *Line) wide() line64 {
	return line64{float64(l.Base), float64(l.InvU), float64(l.U),
		decay64{float64(l.Wet.Hour), float64(l.Wet.Time)}, decay64{float64(l.Dry.Hour), float64(l.Dry.Time)}}
}

func (r *Regime) wide() regime64 {
	return regime64{float64(r.In), float64(r.Out), float64(r.Run), float64(r.Dry), float64(r.Wet)}
}

func (b *Bank) wide() *bank64 {
	w := &bank64{Out: append([]bool(nil), b.Out...), out: b.out}
	for _, c := range []struct {
		from []float32
		to   *[]float64
	}{{b.T, &w.T}, {b.Store, &w.Store}, {b.Heat, &w.Heat}} {
		for _, v := range c.from {
			*c.to = append(*c.to, float64(v))
		}
	}
	return w
}

// heatError gives how far a year's heat in single precision is off, at worst and
// relative, and of how many sums.
func heatError(drained bool) (worst float64, sums int) {
	p := newProblem(64, 365, drained, 13)
	w := p.wide()
	banks := w.start()
	w.run(banks, make([]float64, 64))
	for o, b := range p.march() {
		for i, got := range b.Heat {
			want := banks[o].Heat[i]
			if want < 1000 {
				continue // Wh/m² in a year: nothing to be relative to
			}
			sums++
			worst = max(worst, math.Abs(float64(got)/want-1))
		}
	}
	return worst, sums
}

// A year's heat in single precision is that in double precision to 2e-5: sums
// of single precision and short logarithms lose no more.
func TestYearInDoublePrecision(t *testing.T) {
	for _, drained := range []bool{false, true} {
		worst, sums := heatError(drained)
		t.Logf("drained %t: %.1e at worst in %d sums", drained, worst, sums)
		if worst > 2e-5 || sums < 64 {
			t.Errorf("drained %t: single precision is off by %.1e at worst, %d sums", drained, worst, sums)
		}
	}
}

// BenchmarkHeat tells the error of a year's heat in single precision; its time
// means nothing.
func BenchmarkHeat(b *testing.B) {
	var worst float64
	for range b.N {
		for _, drained := range []bool{false, true} {
			off, _ := heatError(drained)
			worst = max(worst, off)
		}
	}
	b.ReportMetric(worst, "heat-error")
}

// A problem64 is a problem in double precision.
type problem64 struct {
	*problem
	beam, sky, ground []float64
	regimes           []regime64
	lines             [][]line64
}

func (p *problem) wide() *problem64 {
	w := &problem64{problem: p}
	for _, c := range []struct {
		from []float32
		to   *[]float64
	}{{p.field.Beam, &w.beam}, {p.field.Sky, &w.sky}, {p.field.Ground, &w.ground}} {
		for _, v := range c.from {
			*c.to = append(*c.to, float64(v))
		}
	}
	for o := range p.regimes {
		w.regimes = append(w.regimes, p.regimes[o].wide())
		lines := make([]line64, len(p.hours))
		for h := range lines {
			lines[h] = p.lines[o][h].wide()
		}
		w.lines = append(w.lines, lines)
	}
	return w
}

// start gives the banks at the beginning of the year.
func (p *problem64) start() []*bank64 {
	var banks []*bank64
	for _, b := range p.problem.start() {
		banks = append(banks, b.wide())
	}
	return banks
}

func (p *problem64) run(banks []*bank64, s []float64) {
	for h := range p.hours {
		p.light(s, &p.hours[h])
		for o, b := range banks {
			b.advance(s, &p.regimes[o], p.hours[h].Event, &p.lines[o][h])
		}
	}
}

func (p *problem64) light(s []float64, h *Hour) {
	skyLight, groundLight := float64(h.Sky), float64(h.Ground)
	sky, ground := p.sky[:len(s)], p.ground[:len(s)]
	for i := range s {
		s[i] = skyLight*sky[i] + groundLight*ground[i]
	}
	for k := range h.N {
		w := float64(h.Weight[k])
		row := p.beam[int(h.Row[k])*p.field.Lanes:][:len(s)]
		for i := range s {
			s[i] += w * row[i]
		}
	}
}

func (b *bank64) advance(s []float64, r *regime64, e Event, l *line64) {
	s = s[:len(b.T)]
	if e&Leave != 0 && b.out < len(b.T) {
		for i := range b.T {
			if !b.Out[i] {
				b.Out[i], b.Store[i] = true, b.T[i]
			}
		}
		b.out = len(b.T)
	}
	if e&Return != 0 && b.out > 0 {
		for i := range b.T {
			if b.Out[i] {
				b.mix(i, r)
			}
		}
	}
	refill := e&Refill != 0
	switch {
	case b.out == 0:
		b.flow(s, r, l)
	case !refill && b.out == len(b.T):
		b.dry(s, l)
	default:
		b.morning(s, r, refill, l)
	}
}

func (b *bank64) mix(i int, r *regime64) {
	b.T[i] = ((r.Dry * b.T[i]) + ((r.Wet - r.Dry) * b.Store[i])) / r.Wet
	b.Out[i] = false
	b.out--
}

func (b *bank64) dry(s []float64, l *line64) {
	for i, s := range s {
		ts := l.Base + (s * l.InvU)
		b.T[i] = ts - ((ts - b.T[i]) * l.Dry.Hour)
	}
}

func (b *bank64) flow(s []float64, r *regime64, l *line64) {
	t, heat := b.T[:len(s)], b.Heat[:len(s)]
	for i, s := range s {
		ts := l.Base + (s * l.InvU)
		gap := ts - t[i]
		if d := ts - r.Out; d > tiny {
			end, q := plug64(d, gap, 1, l.Wet.Hour, r, l)
			t[i] = ts - end
			heat[i] += q
		} else {
			t[i] = ts - (gap * l.Wet.Hour)
		}
	}
}

func plug64(d, gap, part, decay float64, r *regime64, l *line64) (end, heat float64) {
	if span := r.Out - r.In; span > 0 {
		d = span / math.Log((d+span)/d)
	}
	switch {
	case gap <= d: // at or above the plug-flow mean: the excess leaves at once
		return d, (r.Wet * (d - gap)) + ((l.U * d) * part)
	case (gap * decay) <= d: // reached within the time
		left := part - (l.Wet.Time * math.Log(gap/d))
		return d, ((l.U * d) * max(left, 0))
	}
	return (gap * decay), 0
}

func (b *bank64) morning(s []float64, r *regime64, refill bool, l *line64) {
	for i, s := range s {
		ts := l.Base + (s * l.InvU)
		part, decay := float64(1), l.Wet.Hour
		if b.Out[i] {
			back, ok := float64(0), false
			if refill {
				back, ok = b.warm(i, ts, r, l)
			}
			if !ok {
				b.T[i] = ts - ((ts - b.T[i]) * l.Dry.Hour)
				continue
			}
			b.mix(i, r)
			part = 1 - back
			decay = math.Exp(-part / l.Wet.Time)
		}
		gap := ts - b.T[i]
		if d := ts - r.Out; d > tiny {
			end, q := plug64(d, gap, part, decay, r, l)
			b.T[i] = ts - end
			b.Heat[i] += q
		} else {
			b.T[i] = ts - (gap * decay)
		}
	}
}

func (b *bank64) warm(i int, ts float64, r *regime64, l *line64) (after float64, ok bool) {
	need := min(b.Store[i], r.Run)
	if b.T[i] >= need {
		return 0, true
	}
	gap, d := ts-b.T[i], ts-need
	if d <= tiny || (gap*l.Dry.Hour) > d {
		return 0, false
	}
	b.T[i] = need
	return min(1, (l.Dry.Time * math.Log(gap/d))), true
}
