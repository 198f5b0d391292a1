package risk

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func near(got, want, relative float64) bool { return math.Abs(got-want) <= relative*math.Abs(want) }

func moments(list []float64) (mean, sd float64) {
	for _, v := range list {
		mean += v / float64(len(list))
	}
	for _, v := range list {
		sd += (v - mean) * (v - mean) / float64(len(list))
	}
	return mean, math.Sqrt(sd)
}

func correlation(a, b []float64) float64 {
	ma, sa := moments(a)
	mb, sb := moments(b)
	sum := 0.0
	for i := range a {
		sum += (a[i] - ma) * (b[i] - mb) / float64(len(a))
	}
	return sum / (sa * sb)
}

func through(list []float64, at func(float64) float64) []float64 {
	out := make([]float64, len(list))
	for i, u := range list {
		out[i] = at(u)
	}
	return out
}

// Mean (a+4c+b)/6 and variance (μ−a)(b−μ)/7 of PERT's beta distribution, which for
// c in the middle is the beta of shape 3, 3 with the distribution function
// x³(10−15x+6x²); those of a normal cut at both ends, from the handbook formulas
// (Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions, volume
// 1, 2nd edition, section 10.1; volume 2, chapter 25 for the beta).
func TestMoments(t *testing.T) {
	m := New(Options{Draws: 20000})
	u := m.draw("moments")
	for _, r := range []Range{{0.5, 0.7, 1.2}, {1, 1, 3}, {2, 5, 5}, {0, 0, 1}, {3, 6, 9}} {
		a, c, b := r.Low, r.Likely, r.High
		mean, sd := moments(through(u, r.inverse()))
		want := (a + 4*c + b) / 6
		if math.Abs(mean-want) > 1e-5*(b-a) {
			t.Errorf("%v: mean %v, want %v", r, mean, want)
		}
		if want := math.Sqrt((want - a) * (b - want) / 7); !near(sd, want, 1e-4) {
			t.Errorf("%v: standard deviation %v, want %v", r, sd, want)
		}
	}
	for at, x := Range.inverse(Range{0, 0.5, 1}), 0.02; x < 1; x += 0.02 {
		u, limit := x*x*x*(10-15*x+6*x*x), 1e-5
		if u < 0.01 || u > 0.99 {
			limit = 2e-3
		}
		if got := at(u); math.Abs(got-x) > limit {
			t.Errorf("beta of shape 3, 3: %v, want %v", got, x)
		}
	}
	if at := (Range{1, 2, 5}).inverse(); at(1e-12) < 1 || at(1-1e-12) > 5 || at(1e-12) > 1.01 || at(1-1e-12) < 4.95 {
		t.Errorf("ends %v and %v", at(1e-12), at(1-1e-12))
	}
	density := func(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
	for _, n := range []Normal{{SD: 0.05}, {0.05, -0.15, 0.02}, {0.4, 0, 0}} {
		low, high := n.cut()
		a, b := low/n.SD, high/n.SD
		z := normal(b) - normal(a)
		da, db := density(a), density(b)
		bdb := b * db
		if math.IsInf(b, 1) {
			bdb = 0
		}
		wantMean := n.SD * (da - db) / z
		wantSD := n.SD * math.Sqrt(1+(a*da-bdb)/z-(da-db)*(da-db)/(z*z))
		list := through(u, n.inverse())
		mean, sd := moments(list)
		if math.Abs(mean-wantMean) > 1e-5 || !near(sd, wantSD, 2e-3) {
			t.Errorf("%v: mean %v, standard deviation %v; want %v, %v", n, mean, sd, wantMean, wantSD)
		}
		if slices.Min(list) < low || slices.Max(list) > high {
			t.Errorf("%v: draws from %v to %v", n, slices.Min(list), slices.Max(list))
		}
	}
	if v := known(3).inverse()(0.9); v != 3 {
		t.Errorf("a known figure is drawn as %v", v)
	}
}

// The product of lognormals is a lognormal: ln of it has the mean Σμ and the
// variance Σσ², so P10 and P90 are the median times exp(∓1.28155·√Σσ²).
func TestProductOfLognormals(t *testing.T) {
	m := New(Options{Draws: 20000})
	product := make([]float64, 20000)
	for i := range product {
		product[i] = 1
	}
	median, variance := 1.0, 0.0
	for _, p := range []struct {
		name string
		Price
	}{{"a", Price{known(2), 0.1}}, {"b", Price{known(0.06), 0.25}}, {"c", Price{known(5), 0.4}}} {
		for i, u := range m.draw(p.name) {
			product[i] *= p.inverse()(u)
		}
		median *= p.Likely
		variance += math.Pow(math.Log1p(p.Spread), 2)
	}
	q := percentiles(product)
	for i, z := range []float64{-1.2815515655446004, 0, 1.2815515655446004} {
		want := median * math.Exp(z*math.Sqrt(variance))
		se := 1.71 * math.Sqrt(variance) / math.Sqrt(20000) // relative, of a percentile of independent draws
		if !near(q[i], want, 3*se) {
			t.Errorf("percentile %d: %v, want %v", i, q[i], want)
		}
	}
}

// A stated range stands instead of the spread.
func TestPrice(t *testing.T) {
	p := Price{Range{0.04, 0.05, 0.09}, 0.25}
	if got := p.inverse()(0.3); got != p.Range.inverse()(0.3) {
		t.Errorf("%v, want that of the range", got)
	}
}

// The year meets its two percentiles, and the mean of n years spreads by 1/√n.
func TestYear(t *testing.T) {
	s := Site{ID: "x", YearP10: 0.95, YearP90: 1.03}
	z := quantile(0.9)
	if a, b, c := s.year(-z), s.year(0), s.year(z); !near(a, 0.95, 1e-12) || b != 1 || !near(c, 1.03, 1e-12) {
		t.Errorf("P10, P50, P90 of the year %v, %v, %v", a, b, c)
	}
	s.Years = 16
	if a := s.year(-z); !near(a, 1-0.05/4, 1e-12) {
		t.Errorf("P10 of the mean of 16 years %v", a)
	}
	if got := (&Site{}).year(2); got != 1 {
		t.Errorf("unknown years give a ratio of %v", got)
	}
}

// Percentiles of 1…5: linear between the ranks.
func TestPercentiles(t *testing.T) {
	if got := percentiles([]float64{3, 1, 5, 2, 4}); !near(got[0], 1.4, 1e-12) || got[1] != 3 || !near(got[2], 4.6, 1e-12) {
		t.Errorf("%v", got)
	}
	inf := math.Inf(1)
	if got := percentiles([]float64{1, inf, inf, inf}); got[1] != inf || got[2] != inf {
		t.Errorf("%v, want +Inf from the median on", got)
	}
}

// Whatever the order and however many are equal, the percentiles are those of the
// sorted list.
func TestPercentilesOfAnyOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		list := make([]float64, 1+r.IntN(60))
		values := 1 + r.IntN(40)
		for i := range list {
			list[i] = float64(r.IntN(values))
		}
		sorted := slices.Sorted(slices.Values(list))
		var want [3]float64
		for i, p := range [3]float64{0.1, 0.5, 0.9} {
			at := p * float64(len(list)-1)
			k := int(at)
			want[i] = sorted[k] + (at-float64(k))*(sorted[min(k+1, len(list)-1)]-sorted[k])
		}
		if got := percentiles(list); got != want {
			t.Fatalf("percentiles %v of %v, want %v", got, sorted, want)
		}
	}
}

// Stratified draws have one in each part; names alone tell them apart.
func TestDraw(t *testing.T) {
	m := New(Options{Draws: 1000})
	a := m.draw("market", "north", "price of film")
	b := m.draw("market", "north", "price of foam")
	if got := correlation(a, b); math.Abs(got) > 3.3/math.Sqrt(1000) {
		t.Errorf("correlation %v between draws of two names", got)
	}
	if !slices.Equal(a, m.draw("market", "north", "price of film")) {
		t.Error("one name gives two lists of draws")
	}
	if slices.Equal(m.draw("ab", "c"), m.draw("a", "bc")) {
		t.Error("names that only read alike together give the same draws")
	}
	slices.Sort(a)
	for i, u := range a {
		if int(u*1000) != i {
			t.Fatalf("draw %d of the sorted ones is %v", i, u)
		}
	}
	if len(New(Options{}).physics) != DefaultDraws {
		t.Errorf("%d draws without a number", len(New(Options{}).physics))
	}
}
