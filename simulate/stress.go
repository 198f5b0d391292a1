package simulate

import (
	"math"
	"slices"

	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
	"stillrow/simulate/result"
	"stillrow/simulate/sun"
)

// strainEvery thins the instants at which strain is looked at: doses and peaks
// do not need each of them.
const strainEvery = 3

// A thinLight is the light of a sunlit hour at the instants at which strain is
// looked at. Each stands for strainEvery: their number divides the instants, so
// that the weights still add up to the hour.
type thinLight struct {
	rays              [instants / strainEvery]collector.Ray
	isotropic, ground float64 // W/m²
}

func (t *thinLight) thin(l *collector.Light) {
	t.isotropic, t.ground = l.Isotropic, l.Ground
	for k := range t.rays {
		t.rays[k] = l.Rays[strainEvery/2+k*strainEvery]
	}
}

// strains is the strain of a group's lanes by bins of the profile angle, one
// row of lanes a bin.
type strains struct {
	n                                  int // lanes
	receiver, uv, edge0, edge1, mirror []float32
	escapes                            []bool
	mirrorSky                          []float32 // of each lane: share of the sky its mirror's front sees
	sin2, cos2                         []float64 // of each lane: of twice its mirror's tilt
}

// strainBytes is what newStrains takes for a lane, nearly.
const strainBytes = collector.PsiBins * (5*4 + 1)

func newStrains(lanes int) *strains {
	n := collector.PsiBins * lanes
	return &strains{
		n: lanes, receiver: make([]float32, n), uv: make([]float32, n),
		edge0: make([]float32, n), edge1: make([]float32, n), mirror: make([]float32, n),
		escapes: make([]bool, n), mirrorSky: make([]float32, lanes), sin2: make([]float64, lanes), cos2: make([]float64, lanes),
	}
}

// A strainRow is the strain of all lanes at one bin of the profile angle.
type strainRow struct {
	receiver, uv, edge0, edge1, mirror []float32
	escapes                            []bool
}

func (s *strains) row(bin int) strainRow {
	at, end := bin*s.n, (bin+1)*s.n
	return strainRow{s.receiver[at:end], s.uv[at:end], s.edge0[at:end], s.edge1[at:end], s.mirror[at:end], s.escapes[at:end]}
}

// tabulate fills a lane.
func (s *strains) tabulate(h *collector.Heater, g collector.Ground, lane int) {
	h.Strains(g, func(bin int, st collector.Strain) {
		at := bin*s.n + lane
		s.receiver[at], s.uv[at], s.mirror[at] = float32(st.Receiver), float32(st.UV), float32(st.Mirror)
		s.edge0[at], s.edge1[at], s.escapes[at] = float32(st.Edge[0]), float32(st.Edge[1]), st.Escapes
	})
	s.sin2[lane], s.cos2[lane] = math.Sincos(float64(h.Nominal(0)))
	if d := h.Design(); d.MirrorLength > 0 {
		s.mirrorSky[lane] = float32((1 + math.Cos(d.MirrorTilt*math.Pi/180)) / 2)
	}
}

// narrow gives the strains of some lanes alone.
func (s *strains) narrow(lanes []int) *strains {
	t := newStrains(len(lanes))
	for bin := range collector.PsiBins {
		from, to := s.row(bin), t.row(bin)
		for i, l := range lanes {
			to.receiver[i], to.edge0[i], to.edge1[i], to.escapes[i] = from.receiver[l], from.edge0[l], from.edge1[l], from.escapes[l]
		}
	}
	for i, l := range lanes {
		t.sin2[i], t.cos2[i] = s.sin2[l], s.cos2[l]
	}
	return t
}

// topHours is how many of the hottest hours decide the percentile: the 99.9th
// of a year's hours, by nearest rank, is the ninth highest.
const topHours = 9

// A strainYear gathers a year's strain of lanes lo to lo+n of a group: what
// nobody needs for a price.
type strainYear struct {
	*strains
	lo                             int
	where                          sun.Place
	front                          sun.Front
	limit                          float32   // °C, the least of the films' limits
	hot                            []float32 // topHours a lane, the least first
	overClear, overBlack, overFoam []float32
	peak, peakEdge                 []float32
	glare                          []float32 // eight sectors a lane, h

	light                    [3]kernel.Field // of irradiance, edge0, edge1
	irradiance, edge0, edge1 []float32       // of the hour
}

// newStrainYear begins one with the diffuse shares of all lanes of s.
func newStrainYear(s *strains, sky, ground []float32, azimuth sun.Angle, where sun.Place, r *collector.Receiver, lo, n int) *strainYear {
	y := &strainYear{
		strains: s, lo: lo, where: where, front: sun.Facing(azimuth), limit: float32(math.Inf(1)),
		hot: make([]float32, topHours*n), glare: make([]float32, 8*n),
	}
	for _, c := range []float64{r.SofteningClear, r.SofteningBlack, r.FoamLimit} {
		if c < float64(y.limit) {
			y.limit = float32(c)
		}
	}
	for i, table := range [][]float32{s.receiver, s.edge0, s.edge1} {
		y.light[i] = kernel.Field{Lanes: s.n, Beam: table, Sky: sky, Ground: ground}
	}
	for i := range y.hot {
		y.hot[i] = float32(math.Inf(-1))
	}
	for _, v := range []*[]float32{&y.overClear, &y.overBlack, &y.overFoam, &y.peak, &y.peakEdge, &y.irradiance, &y.edge0, &y.edge1} {
		*v = make([]float32, n)
	}
	return y
}

// hour adds a sunlit hour in which the lanes absorb s.
func (y *strainYear) hour(s []float32, l *thinLight, w collector.Weather, o *Options, beam bool) {
	r := &o.Receiver
	k := kernel.Hour{N: int32(len(l.rays)), Sky: float32(l.isotropic), Ground: float32(l.ground * o.Mirror.Rho())}
	for j := range l.rays {
		ray := &l.rays[j]
		bin := collector.Bin(ray.Psi)
		k.Row[j], k.Weight[j] = int32(bin), float32(ray.DNI*ray.S2*strainEvery)
		if beam {
			y.glareAt(ray, y.row(bin).escapes[y.lo:])
		}
	}
	y.light[0].Light(y.irradiance, y.lo, &k)
	y.light[1].Light(y.edge0, y.lo, &k)
	y.light[2].Light(y.edge1, y.lo, &k)
	fixed, b := r.DryTerms(w)
	for i, s := range s {
		y.peak[i] = max(y.peak[i], y.irradiance[i])
		y.peakEdge[i] = max(y.peakEdge[i], y.edge0[i], y.edge1[i])
		// Most hours are too cool to matter, which is seen without a root.
		net := float64(s) - fixed
		if rise := float64(min(y.hot[i*topHours], y.limit)) - w.AirTemperature - 0.01; rise > 0 && net < rise*(b+r.C2*rise) {
			continue
		}
		t := float32(r.DryRise(net, b) + w.AirTemperature)
		y.keepHot(i, t)
		y.overClear[i] += over(t, r.SofteningClear)
		y.overBlack[i] += over(t, r.SofteningBlack)
		y.overFoam[i] += over(t, r.FoamLimit)
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
func (y *strainYear) glareAt(ray *collector.Ray, escapes []bool) {
	const share = float32(strainEvery) / instants
	sin, cos := math.Sincos(float64(ray.Psi))
	for i := range y.peak {
		if escapes[i] {
			lane := y.lo + i
			poleward := ray.S2 * (y.cos2[lane]*cos - y.sin2[lane]*sin) // of the nominal ray, 2β + ψ
			y.glare[i*8+y.where.Octant(y.front.Vector(poleward, -ray.Along, 0))] += share
		}
	}
}

// store writes what lane lo+i got into dst.
func (y *strainYear) store(dst []float32, i int) {
	dst[result.DryStagnation] = y.hot[i*topHours]
	dst[result.OverClear], dst[result.OverBlack], dst[result.OverFoam] = y.overClear[i], y.overBlack[i], y.overFoam[i]
	dst[result.PeakIrradiance], dst[result.PeakEdge] = y.peak[i], y.peakEdge[i]
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

// unpicked marks what strainYear.store writes as not worked out.
func unpicked(dst []float32) {
	for _, s := range []result.Stress{
		result.DryStagnation, result.OverClear, result.OverBlack, result.OverFoam,
		result.PeakIrradiance, result.PeakEdge, result.GlareHours, result.GlareAzimuth,
	} {
		dst[s] = float32(math.NaN())
	}
}

// siteStrain is what does not depend on the design.
type siteStrain struct {
	warmAir, windHours, windMax, lockedDays float32
}

// store writes it into dst.
func (s *siteStrain) store(dst []float32) {
	dst[result.WarmMirror], dst[result.WindHours], dst[result.WindMax], dst[result.LockedDays] = s.warmAir, s.windHours, s.windMax, s.lockedDays
}

func (sy *siteYear) strain(o *Options, warm *kernel.Warmth) (s siteStrain) {
	for h, u := range sy.year.Wind {
		s.windMax = max(s.windMax, u)
		s.windHours += over(u, o.Mirror.WindLimit)
		s.warmAir += warm.At(sy.year.AirTemperature[h])
	}
	for _, locked := range sy.lockedDays {
		if locked {
			s.lockedDays++
		}
	}
	return s
}
