package kernel

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func (l level) String() string { return [...]string{"plain", "AVX2", "AVX-512"}[l] }

// use makes the kernel use a level to the end of a test, which is skipped if
// the processor does not have it.
func use(tb testing.TB, l level) {
	tb.Helper()
	if best() < l {
		tb.Skipf("this processor has no %s: its assembly stays untested here", l)
	}
	was := vectors
	vectors = l
	tb.Cleanup(func() { vectors = was })
}

// lanes are numbers of lanes about the widths of vectors.
var lanes = []int{0, 1, 2, 3, 7, 8, 9, 15, 16, 17, 31, 32, 33, 63, 64, 65, 127, 257}

// The assembly gives what the plain code gives, to the bit, through the entries
// that everyone uses, and touches nothing beside the lanes.
func TestVectorsArePlain(t *testing.T) {
	for _, l := range []level{avx2, avx512} {
		for _, drained := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s/drained=%t", l, drained), func(t *testing.T) {
				use(t, l)
				for _, n := range lanes {
					p := newProblem(n, 120, drained, 7)
					vectors = plain
					want := p.march()
					vectors = l
					got := p.march()
					for o := range want {
						if err := want[o].differs(got[o]); err != nil {
							t.Fatalf("%d lanes, outlet %g °C: %v", n, p.regimes[o].Out, err)
						}
						if n >= 63 && slices.Max(want[o].Heat) == 0 {
							t.Fatalf("%d lanes, outlet %g °C: no heat at all shows nothing", n, p.regimes[o].Out)
						}
					}
				}
			})
		}
	}
}

// differs says where two banks are not the same to the bit.
func (b *Bank) differs(other *Bank) error {
	for _, c := range []struct {
		name      string
		want, got []float32
	}{{"T", b.T, other.T}, {"Store", b.Store, other.Store}, {"Heat", b.Heat, other.Heat}} {
		for i, want := range c.want {
			if !same(want, c.got[i]) {
				return fmt.Errorf("%s of lane %d is %g (%08x), plain %g (%08x)", c.name, i, c.got[i], math.Float32bits(c.got[i]), want, math.Float32bits(want))
			}
		}
	}
	if !slices.Equal(b.Out, other.Out) || b.out != other.out {
		return fmt.Errorf("water is out in %v, %d lanes, plain %v, %d", other.Out, other.out, b.Out, b.out)
	}
	return nil
}

// same compares bits; any NaN is as good as another.
func same(a, b float32) bool {
	return math.Float32bits(a) == math.Float32bits(b) || a != a && b != b
}

// A fence is a slice with guards around it.
type fence[T comparable] struct {
	all   []T
	guard T
}

const guards = 19

// fenced puts values between guards.
func fenced[T comparable](values []T, guard T) *fence[T] {
	f := &fence[T]{guard: guard}
	f.all = append(f.all, slices.Repeat([]T{guard}, guards)...)
	f.all = append(f.all, values...)
	f.all = append(f.all, slices.Repeat([]T{guard}, guards)...)
	return f
}

func (f *fence[T]) slice() []T { return f.all[guards : len(f.all)-guards] }

func (f *fence[T]) check(t interface{ Fatalf(string, ...any) }, name string) {
	for i, v := range f.all {
		if v != f.guard && (i < guards || i >= len(f.all)-guards) {
			t.Fatalf("%s: written at %d of %d lanes", name, i-guards, len(f.all)-2*guards)
		}
	}
}

// Any values at all, out of the way ones among them, in any state: the hour
// ends the same. Time constants alone are never negative and sums of heat never
// −0, which adding 0 rids them of.
func vectorsArePlain(t *rapid.T, l level) {
	odd := []float32{
		0, float32(math.Copysign(0, -1)), 1, -1, 10, 35, 45, 100, -40, tiny, 1e-7, -1e-9, math.SmallestNonzeroFloat32, -1e-42, 1e-38, 1e30, -1e30,
		math.MaxFloat32, -math.MaxFloat32, float32(math.Inf(1)), float32(math.Inf(-1)), float32(math.NaN()),
	}
	value := rapid.OneOf(rapid.Float32Range(-50, 150), rapid.SampledFrom(odd), rapid.Custom(func(t *rapid.T) float32 {
		return math.Float32frombits(rapid.Uint32().Draw(t, "bits"))
	}))
	share := rapid.OneOf(rapid.Float32Range(0, 1), value)
	time := rapid.OneOf(rapid.Float32Range(0, 20), rapid.SampledFrom([]float32{0, 1e-30, .01, 1, 1e30, float32(math.Inf(1)), float32(math.NaN())}))
	// Extreme numbers that all lanes share hide what the lanes do.
	tame := rapid.OneOf(rapid.Float32Range(0, 60), rapid.Float32Range(0, 60), rapid.Float32Range(0, 60), value)
	n := rapid.OneOf(rapid.SampledFrom(lanes[1:]), rapid.IntRange(1, 100)).Draw(t, "lanes")
	column := func(g *rapid.Generator[float32], n int, name string) []float32 {
		return rapid.SliceOfN(g, n, n).Draw(t, name)
	}

	const rows = 3
	lo := rapid.IntRange(0, 3).Draw(t, "first lane")
	all := lo + n + rapid.IntRange(0, 3).Draw(t, "lanes after")
	f := Field{Lanes: all, Sky: column(share, all, "sky"), Ground: column(share, all, "ground")}
	for range rows {
		f.Beam = append(f.Beam, column(share, all, "row")...)
	}
	h := Hour{N: rapid.Int32Range(0, Samples).Draw(t, "samples"), Sky: value.Draw(t, "sky light"), Ground: value.Draw(t, "ground light")}
	for k := range h.N {
		h.Row[k], h.Weight[k] = rapid.Int32Range(0, rows-1).Draw(t, "row"), value.Draw(t, "weight")
	}
	h.Event = Event(rapid.IntRange(0, 7).Draw(t, "event"))
	r := Regime{
		In: tame.Draw(t, "in"), Out: tame.Draw(t, "out"), Run: tame.Draw(t, "run"), Dry: tame.Draw(t, "dry"), Wet: tame.Draw(t, "wet"),
	}
	line := Line{
		Base: tame.Draw(t, "base"), InvU: share.Draw(t, "1/U"), U: tame.Draw(t, "U"),
		Wet: Decay{share.Draw(t, "wet hour"), time.Draw(t, "wet time")}, Dry: Decay{share.Draw(t, "dry hour"), time.Draw(t, "dry time")},
	}
	temp, store, heat := column(value, n, "T"), column(value, n, "store"), column(rapid.Custom(func(t *rapid.T) float32 { return value.Draw(t, "of heat") + 0 }), n, "heat")
	out := rapid.SliceOfN(rapid.Bool(), n, n).Draw(t, "out")
	switch rapid.IntRange(0, 3).Draw(t, "state") {
	case 0:
		clear(out)
	case 1:
		for i := range out {
			out[i] = true
		}
	}
	// Light of its own, too: what comes out of a wild field is mostly NaN.
	light := column(rapid.OneOf(rapid.Float32Range(0, 1200), rapid.Float32Range(0, 1200), value), n, "light")

	was := vectors
	defer func() { vectors = was }()
	hour := func(l level) (*Bank, []float32) {
		vectors = l
		const guard = 12345.678
		s := fenced(make([]float32, n), guard)
		f := f
		beam, sky, ground := fenced(f.Beam, guard), fenced(f.Sky, guard), fenced(f.Ground, guard)
		f.Beam, f.Sky, f.Ground = beam.slice(), sky.slice(), ground.slice()
		f.Light(s.slice(), lo, &h)

		ft, fs, fh, fo, fl := fenced(temp, guard), fenced(store, guard), fenced(heat, guard), fenced(out, true), fenced(light, guard)
		for i := range guards {
			fo.all[i], fo.all[len(fo.all)-1-i] = i%2 == 0, i%2 == 0
		}
		flags := slices.Clone(fo.all)
		b := &Bank{T: ft.slice(), Store: fs.slice(), Heat: fh.slice(), Out: fo.slice()}
		for _, o := range out {
			if o {
				b.out++
			}
		}
		b.Advance(fl.slice(), &r, &h, &line)
		s.check(t, "s")
		beam.check(t, "Beam")
		sky.check(t, "Sky")
		ground.check(t, "Ground")
		ft.check(t, "T")
		fs.check(t, "Store")
		fh.check(t, "Heat")
		fl.check(t, "light")
		if !slices.Equal(fo.all[:guards], flags[:guards]) || !slices.Equal(fo.all[guards+n:], flags[guards+n:]) {
			t.Fatalf("Out: written beside its %d lanes", n)
		}
		for i, v := range fl.slice() {
			if !same(v, light[i]) {
				t.Fatalf("light of lane %d changed", i)
			}
		}
		return b, s.slice()
	}
	want, wantLight := hour(plain)
	got, gotLight := hour(l)
	if err := want.differs(got); err != nil {
		t.Fatal(err)
	}
	for i := range wantLight {
		if !same(wantLight[i], gotLight[i]) {
			t.Fatalf("light of lane %d is %g, plain %g", i, gotLight[i], wantLight[i])
		}
	}
}

// corners are hours at the edges of the short forms that random values miss.
func corners() (hours []corner) {
	still := Regime{In: 35, Out: 45, Run: 40, Dry: 2, Wet: 60}
	// Water that comes back at once: the decay is exp(−1/time), seen alone in
	// the temperature as the steady one is 0. Exponents halfway between whole
	// powers of two, and about the end at 87.
	back := func(time float32) {
		hours = append(hours, corner{t: 45, store: 30, out: true, regime: still, line: Line{Wet: Decay{Time: time}}})
	}
	for k := range 40 {
		time := float32(1 / ((float64(k) + .5) * math.Ln2))
		for n := -50; n <= 50; n++ {
			near := math.Float32frombits(uint32(int(math.Float32bits(time)) + n))
			scaled := float64(float32(-(1 / near) * math.Log2E))
			if math.Abs(scaled-math.Trunc(scaled)) == .5 {
				back(near)
			}
		}
	}
	for n := -20; n <= 20; n++ {
		back(math.Float32frombits(uint32(int(math.Float32bits(1./87)) + n)))
	}
	// Ratios beyond 2^126 on the way to the mean.
	for _, t := range []float32{-1e27, -5e29, -1e30, -3e30, -1e32, -3e38} {
		hours = append(hours, corner{t: t, regime: Regime{Wet: 60}, line: Line{Base: 1e-8, U: 8, Wet: Decay{Time: 1e-3}}})
	}
	// At the edge of flowing, of being warm enough, and of the mean.
	for _, ts := range []float32{tiny, math.Nextafter32(tiny, 1), math.Nextafter32(tiny, 0)} {
		hours = append(hours,
			corner{t: -.3, regime: Regime{In: -10, Wet: 60}, line: Line{Base: ts, U: 8, Wet: Decay{.9, 9}}},
			corner{t: -5, store: 0, out: true, regime: Regime{Run: 5, Dry: 2, Wet: 60}, line: Line{Base: ts, U: 8, Wet: Decay{.9, 9}, Dry: Decay{0, .1}}})
	}
	for _, t := range []float32{30, math.Nextafter32(30, 0), math.Nextafter32(30, 50)} {
		hours = append(hours,
			corner{t: t, store: 30, out: true, regime: still, line: Line{Base: 44, Wet: Decay{.9, 9}, Dry: Decay{.1, .3}}},
			corner{t: t, regime: Regime{Out: 30, In: 30, Wet: 60}, line: Line{Base: 60, U: 8, Wet: Decay{.9, 9}}},
			corner{t: t - 30, regime: Regime{Out: 30, In: 30, Wet: 60}, line: Line{Base: 60, U: 8, Wet: Decay{.5, 1.5}}})
	}
	return hours
}

// A corner is an hour with every lane in one state.
type corner struct {
	t, store float32
	out      bool
	regime   Regime
	line     Line
}

func (c *corner) run() *Bank {
	const n = 23
	b := NewBank(n)
	for i := range n {
		b.T[i], b.Store[i], b.Out[i] = c.t, c.store, c.out
	}
	if c.out {
		b.out = n
	}
	b.Advance(make([]float32, n), &c.regime, &Hour{Event: Refill}, &c.line)
	return b
}

func TestVectorsAtCorners(t *testing.T) {
	for _, l := range []level{avx2, avx512} {
		t.Run(l.String(), func(t *testing.T) {
			use(t, l)
			hours := corners()
			if len(hours) < 100 {
				t.Fatalf("%d corners: exponents halfway are missing", len(hours))
			}
			for _, c := range hours {
				vectors = plain
				want := c.run()
				vectors = l
				if err := want.differs(c.run()); err != nil {
					t.Errorf("%+v: %v", c, err)
				}
			}
		})
	}
}

func TestVectorsArePlainAnywhere(t *testing.T) {
	for _, l := range []level{avx2, avx512} {
		t.Run(l.String(), func(t *testing.T) {
			use(t, l)
			rapid.Check(t, func(t *rapid.T) { vectorsArePlain(t, l) })
		})
	}
}

func FuzzVectors(f *testing.F) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) {
		if l := level(rapid.IntRange(int(avx2), int(avx512)).Draw(t, "level")); l <= best() {
			vectorsArePlain(t, l)
		}
	}))
}
