package kernel

// The plain loops, which define the arithmetic.

// light is Light.
func (f *Field) light(s []float32, lo int, h *Hour) {
	sky, ground := f.Sky[lo:lo+len(s)], f.Ground[lo:lo+len(s)]
	for i := range s {
		s[i] = float32(h.Sky*sky[i]) + float32(h.Ground*ground[i])
	}
	at := func(k int32) []float32 { return f.Beam[int(h.Row[k])*f.Lanes+lo:][:len(s)] }
	k := int32(0)
	for ; k+3 <= h.N; k += 3 {
		w0, w1, w2 := h.Weight[k], h.Weight[k+1], h.Weight[k+2]
		r0, r1, r2 := at(k), at(k+1), at(k+2)
		for i := range s {
			s[i] = s[i] + float32(w0*r0[i]) + float32(w1*r1[i]) + float32(w2*r2[i])
		}
	}
	for ; k < h.N; k++ {
		w, row := h.Weight[k], at(k)
		for i := range s {
			s[i] += float32(w * row[i])
		}
	}
}

// dry is an hour with the water out, in every lane, and none coming back.
func (b *Bank) dry(s []float32, l *Line) {
	for i, s := range s {
		ts := l.Base + float32(s*l.InvU)
		b.T[i] = ts - float32((ts-b.T[i])*l.Dry.Hour)
	}
}

// stretch is how many lanes flow looks at together.
const stretch = 64

// flow is an hour with the water in, in every lane: what morning does of it,
// sorted so that a processor need not guess which way a lane goes.
func (b *Bank) flow(s []float32, r *Regime, l *Line) {
	for lo := 0; lo < len(s); lo += stretch {
		hi := min(lo+stretch, len(s))
		flowStretch(s[lo:hi], b.T[lo:hi], b.Heat[lo:hi], r, l)
	}
}

func flowStretch(s, t, heat []float32, r *Regime, l *Line) {
	var lane, above, reach [stretch + 1]uint8
	var steady, gaps, means [stretch + 1]float32
	base, invU, out, decay := l.Base, l.InvU, r.Out, l.Wet.Hour
	t, heat = t[:len(s)], heat[:len(s)]
	n := 0
	for i, s := range s {
		ts := base + float32(s*invU)
		gap, d := ts-t[i], ts-out
		t[i] = ts - float32(gap*decay) // unless it flows
		lane[n], steady[n], gaps[n], means[n] = uint8(i), ts, gap, d
		if d > tiny {
			n++
		}
	}
	if span := r.Out - r.In; span > 0 {
		for k, d := range means[:n] {
			num, den := logRatio(span, d+span, d)
			means[k] = float32(span*den) / num
		}
	}
	na, nr := 0, 0
	for k, d := range means[:n] {
		gap := gaps[k]
		above[na], reach[nr] = uint8(k), uint8(k)
		if gap <= d { // at or above the plug-flow mean
			na++
		} else if float32(gap*decay) <= d { // reached within the hour
			nr++
		}
	}
	for _, k := range above[:na] {
		d, i := means[k], lane[k]
		t[i] = steady[k] - d
		heat[i] += float32(r.Wet*(d-gaps[k])) + float32(l.U*d)
	}
	for _, k := range reach[:nr] {
		d, i := means[k], lane[k]
		num, den := logRatio(gaps[k]-d, gaps[k], d)
		left := 1 - float32(l.Wet.Time*(num/den))
		if left < 0 {
			left = 0
		}
		t[i] = steady[k] - d
		heat[i] += float32(float32(l.U*d) * left)
	}
}

// plug is a part of an hour, or all of it, with water in and the steady
// temperature d above the outlet: from a receiver that is gap below steady to
// the gap it ends with and the heat delivered. decay is what is left of a
// distance after the part.
func plug(d, gap, part, decay float32, r *Regime, l *Line) (end, heat float32) {
	if span := r.Out - r.In; span > 0 {
		num, den := logRatio(span, d+span, d)
		d = float32(span*den) / num
	}
	switch {
	case gap <= d: // at or above the plug-flow mean: the excess leaves at once
		return d, float32(r.Wet*(d-gap)) + float32(float32(l.U*d)*part)
	case float32(gap*decay) <= d: // reached within the time
		num, den := logRatio(gap-d, gap, d)
		left := part - float32(l.Wet.Time*(num/den))
		return d, float32(float32(l.U*d) * max(left, 0))
	}
	return float32(gap * decay), 0
}

// morning is an hour in which some lanes have their water and some do not.
func (b *Bank) morning(s []float32, r *Regime, refill bool, l *Line) {
	for i, s := range s {
		ts := l.Base + float32(s*l.InvU)
		part, decay := float32(1), l.Wet.Hour
		if b.Out[i] {
			back, ok := float32(0), false
			if refill {
				back, ok = b.warm(i, ts, r, l)
			}
			if !ok {
				b.T[i] = ts - float32((ts-b.T[i])*l.Dry.Hour)
				continue
			}
			b.mix(i, r)
			part = 1 - back
			decay = expNeg(part / l.Wet.Time)
		}
		gap := ts - b.T[i]
		if d := ts - r.Out; d > tiny {
			end, q := plug(d, gap, part, decay, r, l)
			b.T[i] = ts - end
			b.Heat[i] += q
		} else {
			b.T[i] = ts - float32(gap*decay)
		}
	}
}

// warm says whether a dry lane becomes warm enough for its water within the
// hour and after what time; the receiver is then left at that temperature.
func (b *Bank) warm(i int, ts float32, r *Regime, l *Line) (after float32, ok bool) {
	need := min(b.Store[i], r.Run)
	if b.T[i] >= need {
		return 0, true
	}
	gap, d := ts-b.T[i], ts-need
	if d <= tiny || float32(gap*l.Dry.Hour) > d {
		return 0, false
	}
	b.T[i] = need
	num, den := logRatio(gap-d, gap, d)
	return min(1, float32(l.Dry.Time*(num/den))), true
}
