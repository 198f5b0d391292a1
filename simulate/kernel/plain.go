package kernel

// The plain loops, which define the arithmetic.

// light is Light.
func (f *Field) light(s []float32, lo int, h *Hour) {
	sky, ground := f.Sky[lo:lo+len(s)], f.Ground[lo:lo+len(s)]
	for i := range s {
		s[i] = float32(h.Sky*sky[i]) + float32(h.Ground*ground[i])
	}
	for k := range h.N {
		w := h.Weight[k]
		row := f.Beam[int(h.Row[k])*f.Lanes+lo:][:len(s)]
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

// flow is an hour with the water in, in every lane.
func (b *Bank) flow(s []float32, r *Regime, l *Line) {
	t, heat := b.T[:len(s)], b.Heat[:len(s)]
	for i, s := range s {
		ts := l.Base + float32(s*l.InvU)
		gap := ts - t[i]
		if d := ts - r.Out; d > tiny {
			end, q := plug(d, gap, 1, l.Wet.Hour, r, l)
			t[i] = ts - end
			heat[i] += q
		} else {
			t[i] = ts - float32(gap*l.Wet.Hour)
		}
	}
}

// plug is a part of an hour, or all of it, with water in and the steady
// temperature d above the outlet: from a receiver that is gap below steady to
// the gap it ends with and the heat delivered. decay is what is left of a
// distance after the part.
func plug(d, gap, part, decay float32, r *Regime, l *Line) (end, heat float32) {
	if span := r.Out - r.In; span > 0 {
		d = span / lnRatio(d+span, d)
	}
	switch {
	case gap <= d: // at or above the plug-flow mean: the excess leaves at once
		return d, float32(r.Wet*(d-gap)) + float32(float32(l.U*d)*part)
	case float32(gap*decay) <= d: // reached within the time
		left := part - float32(l.Wet.Time*lnRatio(gap, d))
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
	return min(1, float32(l.Dry.Time*lnRatio(gap, d))), true
}
