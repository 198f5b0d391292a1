package simulate

import (
	"math"
	"slices"

	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
	"stillrow/simulate/sun"
)

// Wear says how the doses that age films are counted.
type Wear struct {
	UVShare            float64 // of the irradiance that is ultraviolet
	ClearUVTransmitted float64 // share of it that the clear film lets through
	ActivationEnergy   float64 // J/mol
	Reference          float64 // °C, temperature whose hours the warm hours count
}

// gasConstant is R, J/(mol·K); CODATA 2018.
const gasConstant = 8.314462618

// strainEvery thins the instants at which strain is looked at: doses and peaks
// do not need each of them.
const strainEvery = 3

// strains is the strain of a group's lanes by bins of the profile angle, one
// row of lanes a bin.
type strains struct {
	lanes                              int
	receiver, uv, edge0, edge1, mirror []float32
	escapes                            []bool
	mirrorSky                          []float32 // of each lane: share of the sky its mirror's front sees
}

func newStrains(lanes int) *strains {
	n := collector.PsiBins * lanes
	return &strains{
		lanes: lanes, receiver: make([]float32, n), uv: make([]float32, n),
		edge0: make([]float32, n), edge1: make([]float32, n), mirror: make([]float32, n),
		escapes: make([]bool, n), mirrorSky: make([]float32, lanes),
	}
}

// tabulate fills a lane.
func (s *strains) tabulate(h *collector.Heater, g collector.Ground, lane int) {
	for i := range collector.PsiBins {
		st := h.Strain(collector.BinMiddle(i), g)
		at := i*s.lanes + lane
		s.receiver[at], s.uv[at], s.mirror[at] = float32(st.Receiver), float32(st.UV), float32(st.Mirror)
		s.edge0[at], s.edge1[at], s.escapes[at] = float32(st.Edge[0]), float32(st.Edge[1]), st.Escapes
	}
	if d := h.Design(); d.MirrorLength > 0 {
		s.mirrorSky[lane] = float32((1 + math.Cos(d.MirrorTilt*math.Pi/180)) / 2)
	}
}

// topHours is how many of the hottest hours decide the percentile: the 99.9th
// of a year's hours, by nearest rank, is the ninth highest.
const topHours = 9

// A strainYear gathers a year's strain of some lanes of a group.
type strainYear struct {
	*strains
	where                          sun.Place
	lo, n                          int
	hot                            []float32 // topHours a lane, the least first
	overClear, overBlack, overFoam []float32
	peak, peakEdge                 []float32
	uv, uvMirror                   []float32 // kWh/m² of light, not yet of ultraviolet
	glare                          []float32 // eight sectors a lane, h

	irradiance, uvNow, edge0, edge1, mirror []float32 // of the hour
}

func newStrainYear(s *strains, where sun.Place, lo, n int) *strainYear {
	y := &strainYear{strains: s, where: where, lo: lo, n: n, hot: make([]float32, topHours*n), glare: make([]float32, 8*n)}
	for i := range y.hot {
		y.hot[i] = float32(math.Inf(-1))
	}
	for _, v := range []*[]float32{&y.overClear, &y.overBlack, &y.overFoam, &y.peak, &y.peakEdge, &y.uv, &y.uvMirror,
		&y.irradiance, &y.uvNow, &y.edge0, &y.edge1, &y.mirror} {
		*v = make([]float32, n)
	}
	return y
}

// hour adds a sunlit hour in which the lanes absorb s.
func (y *strainYear) hour(s []float32, l collector.Light, w collector.Weather, g *group, o *Options, beam bool) {
	r := &o.Receiver
	f := &g.field
	sky, ground := f.Sky[y.lo:y.lo+y.n], f.Ground[y.lo:y.lo+y.n]
	iso, up := float32(l.Isotropic), float32(l.Ground*o.Mirror.Rho())
	for i := range y.n {
		diffuse := iso*sky[i] + up*ground[i]
		y.irradiance[i], y.uvNow[i], y.edge0[i], y.edge1[i] = diffuse, diffuse, diffuse, diffuse
		y.mirror[i] = iso * y.mirrorSky[y.lo+i]
	}
	// Every strainEvery-th instant stands for all: their number divides the
	// instants, so the weights still add up to the hour.
	for k := strainEvery / 2; k < len(l.Rays); k += strainEvery {
		ray := l.Rays[k]
		weight := float32(ray.DNI * ray.S2 * strainEvery)
		row := collector.Bin(ray.Psi)*y.lanes + y.lo
		add(y.irradiance, y.receiver[row:], weight)
		add(y.uvNow, y.strains.uv[row:], weight)
		add(y.edge0, y.strains.edge0[row:], weight)
		add(y.edge1, y.strains.edge1[row:], weight)
		add(y.mirror, y.strains.mirror[row:], weight)
		if beam {
			y.glareAt(ray, len(l.Rays), row, g)
		}
	}
	fixed, b := r.DryTerms(w)
	for i := range y.n {
		y.peak[i] = max(y.peak[i], y.irradiance[i])
		y.peakEdge[i] = max(y.peakEdge[i], y.edge0[i], y.edge1[i])
		y.uv[i] += y.uvNow[i] / 1000
		y.uvMirror[i] += y.mirror[i] / 1000
		t := float32(r.DryRise(float64(s[i])-fixed, b) + w.AirTemperature)
		y.keepHot(i, t)
		y.overClear[i] += over(t, r.SofteningClear)
		y.overBlack[i] += over(t, r.SofteningBlack)
		y.overFoam[i] += over(t, r.FoamLimit)
	}
}

func add(to, row []float32, weight float32) {
	row = row[:len(to)]
	for i := range to {
		to[i] += weight * row[i]
	}
}

// over counts an hour above a limit; a NaN limit is never passed.
func over(t float32, limit float64) float32 {
	if float64(t) > limit {
		return 1
	}
	return 0
}

// keepHot keeps the hottest hours of a lane, the least of them first.
func (y *strainYear) keepHot(i int, t float32) {
	h := y.hot[i*topHours : (i+1)*topHours]
	if t <= h[0] {
		return
	}
	k := 1
	for ; k < topHours && h[k] < t; k++ {
		h[k-1] = h[k]
	}
	h[k-1] = t
}

// glareAt counts an instant towards the sector the escaping beam travels in.
func (y *strainYear) glareAt(ray collector.Ray, instants, row int, g *group) {
	share := float32(strainEvery) / float32(instants)
	for i := range y.n {
		if !y.escapes[row+i] {
			continue
		}
		sin, cos := math.Sincos(float64(g.heaters[y.lo+i].Nominal(ray.Psi)))
		az := y.where.Azimuth(sun.FromRow(ray.S2*cos, -ray.Along, ray.S2*sin, g.azimuth)).Degrees()
		y.glare[i*8+int(math.Mod(az+22.5, 360)/45)] += share
	}
}

// store writes the stresses of lane i, but for those that depend on the
// outlet, into dst.
func (y *strainYear) store(dst []float32, i int, w Wear, site siteStrain) {
	dst[result.DryStagnation] = y.hot[i*topHours]
	dst[result.OverClear], dst[result.OverBlack], dst[result.OverFoam] = y.overClear[i], y.overBlack[i], y.overFoam[i]
	dst[result.PeakIrradiance], dst[result.PeakEdge] = y.peak[i], y.peakEdge[i]
	dst[result.UVClear] = float32(w.UVShare) * y.uv[i]
	dst[result.UVBlack] = float32(w.UVShare*w.ClearUVTransmitted) * y.uv[i]
	dst[result.UVMirror] = float32(w.UVShare) * y.uvMirror[i]
	dst[result.WarmMirror] = site.warmAir
	dst[result.WindHours], dst[result.WindMax], dst[result.LockedDays] = site.windHours, site.windMax, site.lockedDays
	var sum float32
	sectors := y.glare[i*8 : i*8+8]
	for _, h := range sectors {
		sum += h
	}
	dst[result.GlareHours], dst[result.GlareAzimuth] = sum, float32(math.NaN())
	if sum > 0 {
		dst[result.GlareAzimuth] = 45 * float32(slices.Index(sectors, slices.Max(sectors)))
	}
}

// siteStrain is what does not depend on the design.
type siteStrain struct {
	warmAir, windHours, windMax, lockedDays float32
}

func (sy *siteYear) strain(o *Options, warm *warmth) (s siteStrain) {
	for h, u := range sy.year.Wind {
		s.windMax = max(s.windMax, u)
		s.windHours += over(u, o.Mirror.WindLimit)
		s.warmAir += warm.hour(sy.year.AirTemperature[h])
	}
	for _, locked := range sy.lockedDays {
		if locked {
			s.lockedDays++
		}
	}
	return s
}

// warmth is the Arrhenius weight of an hour by temperature, in steps of 0.25 K:
// exp(−(Ea/R)·(1/T − 1/T0)).
type warmth [1201]float32

const (
	warmthFrom  = -100 // °C
	warmthSteps = 4    // per K
)

func newWarmth(w Wear) *warmth {
	const kelvin = 273.15
	t := new(warmth)
	for i := range t {
		c := warmthFrom + float64(i)/warmthSteps
		t[i] = float32(math.Exp(-w.ActivationEnergy / gasConstant * (1/(c+kelvin) - 1/(w.Reference+kelvin))))
	}
	return t
}

func (t *warmth) hour(c float32) float32 {
	return t[min(len(t)-1, max(0, int((c-warmthFrom)*warmthSteps+0.5)))]
}

// A warmYear gathers, at one outlet, what depends on the receiver's own
// temperature.
type warmYear struct{ warm, freezing []float32 }

func newWarmYear(n int) *warmYear {
	return &warmYear{make([]float32, n), make([]float32, n)}
}

// hour adds an hour by the state at its end.
func (y *warmYear) hour(b *kernel.Bank, w *warmth) {
	for i, t := range b.T {
		y.warm[i] += w.hour(t)
		if t < 0 && !b.Out[i] {
			y.freezing[i]++
		}
	}
}
