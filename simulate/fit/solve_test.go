package fit

import (
	"math"
	"testing"
)

// norris and longley are two of the Statistical Reference Datasets of the
// National Institute of Standards and Technology (itl.nist.gov/div898/strd,
// linear least squares, difficulty "lower" and "higher"): y first, then the
// predictors. Data and certified values read in public copies of the tables.
var norris = [][]float64{
	{0.1, 0.2}, {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1}, {228.1, 226.5},
	{668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4},
	{0.1, 0.6}, {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
	{557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3},
	{0.6, 0.3}, {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0},
	{10.2, 11.1}, {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5},
}

var longley = [][]float64{
	{60323, 83.0, 234289, 2356, 1590, 107608, 1947}, {61122, 88.5, 259426, 2325, 1456, 108632, 1948},
	{60171, 88.2, 258054, 3682, 1616, 109773, 1949}, {61187, 89.5, 284599, 3351, 1650, 110929, 1950},
	{63221, 96.2, 328975, 2099, 3099, 112075, 1951}, {63639, 98.1, 346999, 1932, 3594, 113270, 1952},
	{64989, 99.0, 365385, 1870, 3547, 115094, 1953}, {63761, 100.0, 363112, 3578, 3350, 116219, 1954},
	{66019, 101.2, 397469, 2904, 3048, 117388, 1955}, {67857, 104.6, 419180, 2822, 2857, 118734, 1956},
	{68169, 108.4, 442769, 2936, 2798, 120445, 1957}, {66513, 110.8, 444546, 4681, 2637, 121950, 1958},
	{68655, 112.6, 482704, 3813, 2552, 123366, 1959}, {69564, 114.2, 502601, 3931, 2514, 125368, 1960},
	{69331, 115.7, 518173, 4806, 2572, 127852, 1961}, {70551, 116.9, 554894, 4007, 2827, 130081, 1962},
}

func TestLinearAgainstReferenceDatasets(t *testing.T) {
	for _, tt := range []struct {
		name     string
		data     [][]float64
		estimate []float64
		stdDev   []float64
		residual float64
	}{
		{"Norris", norris,
			[]float64{-0.262323073774029, 1.00211681802045},
			[]float64{0.232818234301152, 0.429796848199937e-3}, 0.884796396144373},
		{"Longley", longley,
			[]float64{-3482258.63459582, 15.0618722713733, -0.358191792925910e-1, -2.02022980381683, -1.03322686717359, -0.511041056535807e-1, 1829.15146461355},
			[]float64{890420.383607373, 84.9149257747669, 0.334910077722432e-1, 0.488399681651699, 0.214274163161675, 0.226073200069370, 455.478499142212}, 304.854073561965},
	} {
		n, p := len(tt.data), len(tt.estimate)
		columns := make([][]float64, p)
		var y []float64
		for _, r := range tt.data {
			y = append(y, r[0])
			columns[0] = append(columns[0], 1)
			for k := 1; k < p; k++ {
				columns[k] = append(columns[k], r[k])
			}
		}
		ls, err := linear(columns, y)
		if err != nil {
			t.Fatal(err)
		}
		var sse, trace float64
		for i := range y {
			e := y[i]
			for k := range p {
				e -= ls.x[k] * columns[k][i]
			}
			sse += e * e
			trace += ls.leverage[i]
		}
		sigma := math.Sqrt(sse / float64(n-p))
		const tol = 1e-8 // digits that double precision keeps at Longley's condition number
		if relative(sigma, tt.residual) > tol {
			t.Errorf("%s: residual standard deviation %.15g, certified %.15g", tt.name, sigma, tt.residual)
		}
		for k := range p {
			if relative(ls.x[k], tt.estimate[k]) > tol {
				t.Errorf("%s: B%d = %.15g, certified %.15g", tt.name, k, ls.x[k], tt.estimate[k])
			}
			if se := sigma * math.Sqrt(ls.inverse.At(k, k)); relative(se, tt.stdDev[k]) > tol {
				t.Errorf("%s: standard deviation of B%d = %.15g, certified %.15g", tt.name, k, se, tt.stdDev[k])
			}
		}
		if math.Abs(trace-float64(p)) > 1e-9 {
			t.Errorf("%s: the hat matrix has trace %g, want the %d coefficients", tt.name, trace, p)
		}
	}
}

func relative(got, want float64) float64 { return math.Abs(got-want) / math.Abs(want) }

func TestLinearRefusesDependentColumns(t *testing.T) {
	for name, columns := range map[string][][]float64{
		"multiple": {{1, 2, 3}, {2, 4, 6}},
		"zero":     {{1, 2, 3}, {0, 0, 0}},
	} {
		if _, err := linear(columns, []float64{1, 2, 4}); err == nil {
			t.Errorf("%s: solved, want an error", name)
		}
	}
}

// Quantiles of Student's t, two-sided 95 %, from the usual handbook table
// (for instance NIST/SEMATECH e-Handbook, section 1.3.6.7.2, from memory).
func TestStudentQuantile(t *testing.T) {
	for freedom, want := range map[int]float64{3: 3.182, 5: 2.571, 10: 2.228, 30: 2.042, 100: 1.984} {
		if got := studentQuantile(0.975, freedom); math.Abs(got-want) > 5e-4 {
			t.Errorf("t(0.975, %d) = %.4f, want %.3f", freedom, got, want)
		}
	}
}

// The largest studentised residual of a set must equal its plain definition:
// leave the point out, fit again, predict it.
func TestStudentisedLeavesThePointOut(t *testing.T) {
	truth := film
	points := conditions(seeded(3), 20, false, false)
	measure(points, truth, 8, seeded(4))
	m, s := fitted(t, points, eta0b, c1)
	got := s.studentised()
	for _, i := range []int{0, 7, 19} {
		rest := append(append([]Point(nil), points[:i]...), points[i+1:]...)
		_, without := fitted(t, rest, eta0b, c1)
		r := &m.rows[i]
		a := []float64{m.slope(eta0b, &without.v, r), m.slope(c1, &without.v, r)}
		var spread float64
		for k := range a {
			for l := range a {
				spread += a[k] * without.inverse.At(k, l) * a[l]
			}
		}
		want := (r.heat - m.heat(&without.v, r)) / (without.sigma() * math.Sqrt(1+spread))
		if math.Abs(got[i]-want) > 1e-6*math.Abs(want) {
			t.Errorf("point %d: studentised %.8f, left out and predicted %.8f", i, got[i], want)
		}
	}
}

// fitted fits just these terms, the others at 0.
func fitted(t *testing.T, points []Point, free ...term) (*model, *solution) {
	t.Helper()
	m, err := newModel(points)
	if err != nil {
		t.Fatal(err)
	}
	s, err := m.solve(free, values{eta0b: 0.7, gain: 1})
	if err != nil {
		t.Fatal(err)
	}
	return m, s
}
