package collector

import (
	"math"
	"slices"

	"stillrow/simulate/sun"
)

// A quick works out the factors of a section for many profile angles, as a
// table needs them: within 1e-6 of what Section.Factors gives by the complementary
// error function, in a fraction of the time. What it takes instead: the normal
// distribution from a table, arcs by a short series, and one look at a stretch
// of mirror on which nothing changes. It has no Spill, and no Path for rows
// without ends.
type quick struct {
	*Section
	turns []turn    // of the steps, in standard deviations, at which the mirror is split
	edges []point   // of receiver and mirrors that may stand in the way: pairs
	cuts  []float64 // scratch
	far   float64   // tangent of quickReach standard deviations

	// Of the profile angle at hand.
	nominal turn
	g0      float64
	back    float64 // from the nominal ray to the mirror's own plane
}

// A turn is the sine and cosine of an angle.
type turn struct{ sin, cos float64 }

// quickSteps are the offsets from an edge, in standard deviations, at which the
// integral along the mirror is split; beyond the last, 3.4e-6 of the bell are
// left.
var quickSteps = [...]float64{-quickReach, -1.5, 1.5, quickReach}

const quickReach = 4.5

// widestQuick is the spread, rad, up to which all this holds; wider ones, of
// mirrors that hardly deserve the name, take the long way.
const widestQuick = 0.02

func newQuick(s *Section) *quick {
	q := &quick{Section: s, far: math.Tan(quickReach * s.sigma)}
	steps := quickSteps[:]
	if s.design.RowLength > 0 { // the mean path bends more
		steps = edgeSteps[:]
	}
	for _, n := range steps {
		sin, cos := math.Sincos(n * s.sigma)
		q.turns = append(q.turns, turn{sin, cos})
	}
	q.edges = append(q.edges, point{0, 0}, point{s.design.ReceiverWidth, 0})
	for k := -1; k >= -s.rows; k-- {
		q.edges = append(q.edges, s.foot(k), s.top(k))
	}
	return q
}

// Factors gives the factors at a profile angle.
func (q *quick) Factors(psi sun.Angle) Factors {
	// Light that all but grazes the mirror is blurred into its plane.
	if q.sigma > widestQuick || math.Abs(math.Pi-q.beta-float64(psi)) < 6*q.sigma {
		return Factors{q.Direct(psi), q.Section.reflect(psi)}
	}
	return Factors{q.Direct(psi), q.reflect(psi)}
}

func (q *quick) reflect(psi sun.Angle) Reflection {
	r := Reflection{Nominal: q.Nominal(psi)}
	sinP, cosIn := math.Sin(float64(psi)), math.Sin(q.beta+float64(psi))
	if q.noMirror || sinP <= 0 || cosIn <= 0 {
		return r
	}
	r.Lit = true
	lo := q.litFrom(psi)
	if lo >= q.design.MirrorLength {
		return r
	}
	q.g0 = float64(r.Nominal)
	q.nominal.sin, q.nominal.cos = math.Sincos(q.g0)
	q.back = q.beta + math.Pi - q.g0
	q.split(lo, q.design.MirrorLength)
	var own, path float64
	for i := 1; i < len(q.cuts); i++ {
		half, mid := (q.cuts[i]-q.cuts[i-1])/2, (q.cuts[i]+q.cuts[i-1])/2
		if q.still(mid) {
			p, d := q.landing(mid)
			own += 2 * half * p
			path += 2 * half * d
			continue
		}
		for j, x := range gauss6.x {
			w := gauss6.w[j] * half
			p, d := q.landing(mid + half*x)
			own += w * p
			path += w * d
		}
	}
	r.Fmir = cosIn * own / q.design.ReceiverWidth
	if own > 0 {
		r.Path = path / own
	}
	return r
}

// split puts the ends of the lit mirror and the slants where the integrand bends
// into cuts.
func (q *quick) split(lo, hi float64) {
	q.cuts = append(q.cuts[:0], lo, hi)
	for _, t := range q.turns {
		sin := q.nominal.sin*t.cos + q.nominal.cos*t.sin
		cos := q.nominal.cos*t.cos - q.nominal.sin*t.sin
		across := q.ux*sin - q.uz*cos
		if math.Abs(across) < 1e-9 {
			continue
		}
		across = 1 / across
		for _, e := range q.edges {
			if l := ((e.x-q.footX)*sin - (e.z-q.design.Raise)*cos) * across; l > lo && l < hi {
				q.cuts = append(q.cuts, l)
			}
		}
	}
	slices.Sort(q.cuts)
}

// still says whether around slant l every edge is far from the nominal ray, so
// that up to the next cut nothing changes. Rows with ends need the mean path,
// which does.
func (q *quick) still(l float64) bool {
	if q.design.RowLength > 0 {
		return false
	}
	from := q.at(l)
	for _, e := range q.edges {
		cross, dot := q.towards(from, e)
		if math.Abs(cross) < q.far*dot {
			return false
		}
	}
	return true
}

// towards gives the sine and cosine, times the distance, of the angle from the
// nominal ray to a point.
func (q *quick) towards(from, to point) (cross, dot float64) {
	dx, dz := to.x-from.x, to.z-from.z
	return q.nominal.cos*dz - q.nominal.sin*dx, q.nominal.cos*dx + q.nominal.sin*dz
}

// arc gives that angle in standard deviations, at most six either way.
func (q *quick) arc(from, to point) float64 {
	cross, dot := q.towards(from, to)
	most := 6 * q.sigma
	if !(math.Abs(cross) < 0.2*dot) { // tan(6·widestQuick) is 0.12
		return math.Copysign(6, cross)
	}
	t := cross / dot
	y := t * t
	a := t * (1 - y*(1./3-y*(1./5-y*(1./7))))
	if math.Abs(a) > most {
		return math.Copysign(6, a)
	}
	return a / q.sigma
}

// landing is Section.landing for the row's own receiver.
func (q *quick) landing(l float64) (measure, path float64) {
	from := q.at(l)
	lo, hi := q.arc(from, q.edges[0]), min(q.arc(from, q.edges[1]), q.back/q.sigma)
	if hi <= lo {
		return 0, 0
	}
	var spans [1 + neighbours]span
	open := append(spans[:0], span{lo, hi})
	for i := 2; i < len(q.edges); i += 2 {
		a, b := q.arc(from, q.edges[i]), q.arc(from, q.edges[i+1])
		if a > b {
			a, b = b, a
		}
		if b > lo && a < hi && b > a {
			open = cut(open, span{a, b})
		}
	}
	for _, o := range open {
		if q.design.RowLength > 0 {
			m, p := q.bell(span{q.g0 + o.lo*q.sigma, q.g0 + o.hi*q.sigma}, q.g0, from.z)
			measure, path = measure+m, path+p
		} else {
			measure += below(o.hi) - below(o.lo)
		}
	}
	return measure, path
}

// below is normal from a table, within 4e-9.
func below(x float64) float64 {
	at := (x + 6) * bellSteps
	i := int(at)
	if i < 0 {
		return 0
	}
	if i >= len(bellTable)-1 {
		return 1
	}
	t := at - float64(i)
	a, b := &bellTable[i], &bellTable[i+1]
	d := b.value - a.value
	// The cubic with the values and slopes of both nodes.
	return a.value + t*(a.slope+t*(3*d-2*a.slope-b.slope+t*(a.slope+b.slope-2*d)))
}

// A node is the normal distribution and its slope per step.
type node struct{ value, slope float64 }

const bellSteps = 32

// bellTable has a node every 1/bellSteps of a standard deviation from −6 to 6.
var bellTable = func() (t [12*bellSteps + 1]node) {
	for i := range t {
		x := float64(i)/bellSteps - 6
		t[i] = node{normal(x), math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) / bellSteps}
	}
	return t
}()
