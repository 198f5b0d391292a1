package kernel

import "golang.org/x/sys/cpu"

//go:generate go -C gen run -tags gen . -out ../lanes_amd64.s -stubs ../lanes_amd64.go -pkg kernel

// A level is an extension of the processor that the assembly is there for.
type level int

const (
	plain level = iota
	avx2
	avx512
)

// vectors is the best this processor has; only tests change it.
var vectors = best()

func best() level {
	switch {
	case cpu.X86.HasAVX512F && cpu.X86.HasAVX2:
		return avx512
	case cpu.X86.HasAVX2:
		return avx2
	}
	return plain
}

// The methods below are the plain loops of like name by vector instructions.
// They do nothing and say false without them. The slicing holds every slice to
// the lanes that the assembly touches.

func (f *Field) lightVector(s []float32, lo int, h *Hour) bool {
	n := len(s)
	if vectors == plain || n == 0 {
		return false
	}
	sky, ground := f.Sky[lo:lo+n], f.Ground[lo:lo+n]
	var rows [Samples]*float32
	for k, row := range h.Row[:h.N] {
		rows[k] = &f.Beam[int(row)*f.Lanes+lo:][:n][0]
	}
	if vectors == avx512 {
		lightAVX512(&s[0], &sky[0], &ground[0], &rows[0], &h.Weight[0], int(h.N), n, h.Sky, h.Ground)
	} else {
		lightAVX2(&s[0], &sky[0], &ground[0], &rows[0], &h.Weight[0], int(h.N), n, h.Sky, h.Ground)
	}
	return true
}

func (b *Bank) dryVector(s []float32, l *Line) bool {
	n := len(s)
	if vectors == plain || n == 0 {
		return false
	}
	t := b.T[:n]
	if vectors == avx512 {
		dryAVX512(&t[0], &s[0], n, &l.Base)
	} else {
		dryAVX2(&t[0], &s[0], n, &l.Base)
	}
	return true
}

func (b *Bank) flowVector(s []float32, r *Regime, l *Line) bool {
	n := len(s)
	if vectors == plain || n == 0 {
		return false
	}
	t, heat := b.T[:n], b.Heat[:n]
	spanned := r.Out-r.In > 0
	if vectors == avx512 {
		flowAVX512(&t[0], &heat[0], &s[0], n, &r.In, &l.Base, spanned)
	} else {
		flowAVX2(&t[0], &heat[0], &s[0], n, &r.In, &l.Base, spanned)
	}
	return true
}

// flowVector is Bank.flow of all banks.
func (f *Fleet) flowVector(s []float32, lines []*Line) bool {
	n := len(f.t)
	if vectors == plain || n == 0 {
		return false
	}
	s, heat := s[:n], f.heat[:n]
	lines = lines[:len(f.Banks)]
	f.spread(f.groupLines, func(bank int) *float32 { return &lines[bank].Base })
	if vectors == avx512 {
		flowEachAVX512(&f.t[0], &heat[0], &s[0], n, &f.groupRegimes[0], &f.groupLines[0], f.spanned)
	} else {
		flowEachAVX2(&f.t[0], &heat[0], &s[0], n, &f.groupRegimes[0], &f.groupLines[0], f.spanned)
	}
	return true
}

func (b *Bank) morningVector(s []float32, r *Regime, refill bool, l *Line) bool {
	n := len(s)
	if vectors == plain || n == 0 {
		return false
	}
	t, store, heat, out := b.T[:n], b.Store[:n], b.Heat[:n], b.Out[:n]
	spanned := r.Out-r.In > 0
	if vectors == avx512 {
		b.out -= morningAVX512(&t[0], &store[0], &heat[0], &out[0], &s[0], n, &r.In, &l.Base, spanned, refill)
		return true
	}
	full := n &^ 31
	if full > 0 {
		b.out -= morningAVX2(&t[0], &store[0], &heat[0], &out[0], &s[0], full, &r.In, &l.Base, spanned, refill)
	}
	if full < n {
		// AVX2 has no masks for bytes.
		var part [32]bool
		copy(part[:], out[full:])
		b.out -= morningAVX2(&t[full], &store[full], &heat[full], &part[0], &s[full], n-full, &r.In, &l.Base, spanned, refill)
		copy(out[full:], part[:])
	}
	return true
}

func (b *Bank) warmVector(w *Warmth, sum []float32) (cold, ok bool) {
	n := len(b.T)
	if vectors == plain || n == 0 {
		return false, false
	}
	sum = sum[:n]
	if vectors == avx512 {
		return warmAVX512(&sum[0], &b.T[0], n, &w.A), true
	}
	return warmAVX2(&sum[0], &b.T[0], n, &w.A), true
}
