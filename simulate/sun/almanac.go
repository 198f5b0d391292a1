package sun

import "math"

// An Almanac tabulates the sun of calendar years, each when it is first asked
// for, so that many places share the work. One goroutine at a time may ask; the
// years may serve several.
type Almanac struct {
	offsets []turn // of an hour's samples from its middle
	end     turn   // of the hour's end from its middle

	years map[int]*Year
}

// A turn is the sine and cosine of an angle.
type turn struct{ sin, cos float64 }

func newTurn(a float64) turn {
	sin, cos := math.Sincos(a)
	return turn{sin, cos}
}

// NewAlmanac makes an empty almanac for hours sampled at so many instants.
func NewAlmanac(samples int) *Almanac {
	a := &Almanac{offsets: make([]turn, samples), end: newTurn(halfHour), years: make(map[int]*Year)}
	for j := range a.offsets {
		a.offsets[j] = newTurn(((float64(j)+0.5)/float64(samples)*2 - 1) * halfHour)
	}
	return a
}

// Year gives a calendar year.
func (a *Almanac) Year(year int) *Year {
	y := a.years[year]
	if y == nil {
		y = newYear(a, year)
		a.years[year] = y
	}
	return y
}

// A Year is a calendar year of an Almanac, with some days before and after for
// places whose clocks differ from UT.
type Year struct {
	almanac *Almanac
	from    float64 // Julian date of the first node
	nodes   []node
}

// A node is the part of an ephemeris that changes slowly.
type node struct {
	sinDec   float64
	equation float64 // of time: apparent less mean solar time, rad
	distance float64
}

const (
	nodesPerDay = 4
	spareDays   = 3
)

func newYear(a *Almanac, year int) *Year {
	first, next := JulianDate(year, 1, 1, 0), JulianDate(year+1, 1, 1, 0)
	y := &Year{almanac: a, from: first - spareDays}
	y.nodes = make([]node, int(next-first+2*spareDays)*nodesPerDay+1)
	for i := range y.nodes {
		jd := y.from + float64(i)/nodesPerDay
		e := At(jd)
		y.nodes[i] = node{
			sinDec:   math.Sin(float64(e.Declination)),
			equation: math.Remainder(float64(e.HourAngle)-meanHourAngle(jd), 2*math.Pi),
			distance: e.Distance,
		}
	}
	return y
}

// meanHourAngle is that of the mean sun at Greenwich, −π…π: Julian days begin
// as it passes.
func meanHourAngle(jd float64) float64 { return (jd - math.RoundToEven(jd)) * (2 * math.Pi) }

// at interpolates by the cubic through the four nodes about an instant, which
// between nodes of six hours is off by some 1e-9 degrees.
func (y *Year) at(jd float64) (n node, hourAngle float64) {
	x := (jd - y.from) * nodesPerDay
	i := int(x)
	if !(x >= 1) || i+2 >= len(y.nodes) {
		e := At(jd)
		return node{sinDec: math.Sin(float64(e.Declination)), distance: e.Distance}, float64(e.HourAngle)
	}
	x -= float64(i)
	p := y.nodes[i-1 : i+3 : i+3]
	below, above := x*(x-1), (x+1)*(x-2)
	a, b, c, d := -below*(x-2)/6, above*(x-1)/2, -above*x/2, below*(x+1)/6
	mix := func(p0, p1, p2, p3 float64) float64 { return a*p0 + b*p1 + (c*p2 + d*p3) }
	return node{
		sinDec:   mix(p[0].sinDec, p[1].sinDec, p[2].sinDec, p[3].sinDec),
		distance: mix(p[0].distance, p[1].distance, p[2].distance, p[3].distance),
	}, meanHourAngle(jd) + mix(p[0].equation, p[1].equation, p[2].equation, p[3].equation)
}

// Sunlit is Place.Sunlit by the table, with the almanac's number of samples, and
// of the ephemeris gives the distance only. The hour may reach beyond the year.
func (y *Year) Sunlit(p Place, dst []Vector, jd float64) (samples []Vector, fraction, distance float64) {
	n, h := y.at(jd + 0.5/24)
	w := wrap(h + float64(p.lon))
	cosDec := math.Sqrt(1 - n.sinDec*n.sinDec)
	// Up as far as the declination has it, and by the hour angle.
	still, swing := n.sinDec*p.sinLat-parallax/n.distance, cosDec*p.cosLat
	if still+swing <= 0 {
		return dst, 0, n.distance
	}
	mid, end := newTurn(w), y.almanac.end
	far := mid.cos*end.cos - math.Abs(mid.sin)*end.sin // cos(|w| + half an hour)
	if still <= swing && still > -swing {              // it rises and sets
		near := mid.cos*end.cos + math.Abs(mid.sin)*end.sin
		switch {
		case math.Abs(w) >= halfHour && still+swing*near <= 0:
			return dst, 0, n.distance
		case math.Abs(w)+halfHour > math.Pi || still+swing*far < 0:
			e := Ephemeris{Declination: Angle(math.Asin(n.sinDec)), HourAngle: Angle(wrap(h)), Distance: n.distance}
			dst, fraction, _ = p.sunlit(dst, e, len(y.almanac.offsets))
			return dst, fraction, n.distance
		}
	}
	for _, o := range y.almanac.offsets {
		dst = append(dst, p.vector(n.sinDec, cosDec, turn{mid.sin*o.cos + mid.cos*o.sin, mid.cos*o.cos - mid.sin*o.sin}, n.distance))
	}
	return dst, 1, n.distance
}

// wrap brings an angle of less than three half turns into −π…π.
func wrap(a float64) float64 {
	switch {
	case a > math.Pi:
		return a - 2*math.Pi
	case a < -math.Pi:
		return a + 2*math.Pi
	}
	return a
}
