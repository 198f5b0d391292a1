package simulate

import (
	"math"

	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
	"stillrow/simulate/kernel"
	"stillrow/simulate/sun"
)

// instants is how many midpoints of an hour's sunlit part stand for its sun.
const instants = 6

// A skyHour is the sun of one hour at a site.
type skyHour struct {
	at       [instants]sun.Vector
	n        int     // instants in use, 0 with the sun down
	fraction float64 // sunlit part of the hour
	distance float64 // of the sun, astronomical units
}

func (h *skyHour) sunlit() bool { return h.n > 0 }

// A siteYear is a site's year with what all designs share.
type siteYear struct {
	site       weather.Site
	year       *weather.Year
	sky        []skyHour
	events     []collector.Event
	month      []uint8 // of each hour, 0…11
	lockedDays []bool
}

// newSiteYear places the sun and the water's comings and goings of a year.
func newSiteYear(a *almanac, s weather.Site, y *weather.Year, r *collector.Receiver) *siteYear {
	sy := new(siteYear)
	sy.begin(a, s, y, r)
	return sy
}

// begin is newSiteYear in the memory of another site's year.
func (sy *siteYear) begin(a *almanac, s weather.Site, y *weather.Year, r *collector.Receiver) {
	sy.site, sy.year = s, y
	if sy.sky == nil {
		sy.sky = make([]skyHour, weather.Hours)
		sy.events = make([]collector.Event, weather.Hours)
		sy.month = make([]uint8, weather.Hours)
		sy.lockedDays = make([]bool, weather.Hours/24)
	}
	place := sy.where()
	h := 0
	for m, days := range weather.MonthDays {
		shift := float64(s.ClockMin[m])/60 - s.UTCOffset
		year := a.year(s.Year[m])
		for d := range days {
			midnight := sun.JulianDate(s.Year[m], m+1, d+1, shift)
			for clock := range 24 {
				sky := &sy.sky[h]
				var at []sun.Vector
				at, sky.fraction, sky.distance = year.Sunlit(place, sky.at[:0], midnight+float64(clock)/24)
				sky.n = len(at)
				sy.month[h] = uint8(m)
				h++
			}
		}
	}
	sy.place(r)
}

// place works out when the water leaves and comes back.
func (sy *siteYear) place(r *collector.Receiver) {
	wasLocked := false
	for day := range weather.Hours / 24 {
		locked := sy.locked(day, r)
		sy.lockedDays[day] = locked
		for clock := range 24 {
			h := day*24 + clock
			e := &sy.events[h]
			*e = collector.Event{}
			switch {
			case locked:
				e.Leave = clock == 0
			case r.Night == collector.Drain:
				e.Refill = sy.sky[h].sunlit()
				e.Leave = !e.Refill && h > 0 && sy.sky[h-1].sunlit()
			default:
				e.Return = wasLocked && clock == 0
			}
		}
		wasLocked = locked
	}
}

// locked says whether frost or snow keeps the receiver empty on a day.
func (sy *siteYear) locked(day int, r *collector.Receiver) bool {
	if math.IsNaN(r.FrostLock) {
		return false
	}
	var sum float64
	for h := day * 24; h < day*24+24; h++ {
		if sy.year.Snow[h] > 0 {
			return true
		}
		sum += float64(sy.year.AirTemperature[h])
	}
	// The weather is in single precision: a mean that equals the limit on paper
	// must not fall below it by rounding.
	return sum/24 < r.FrostLock-1e-4
}

// air gives the weather around the receiver in hour h.
func (sy *siteYear) air(h int) collector.Weather {
	return collector.Weather{
		GHI:            float64(sy.year.GHI[h]),
		AirTemperature: float64(sy.year.AirTemperature[h]),
		Wind:           float64(sy.year.Wind[h]),
		SkyInfrared:    float64(sy.year.SkyInfrared[h]),
	}
}

// light resolves the irradiance of hour h for rows of an azimuth. rays is
// reused.
func (sy *siteYear) light(rays []collector.Ray, h int, azimuth sun.Angle, g collector.Ground) collector.Light {
	sky, y := &sy.sky[h], sy.year
	return collector.LightOf(rays, float64(y.GHI[h]), float64(y.DNI[h]), float64(y.DHI[h]),
		sky.fraction, sky.distance, sky.at[:sky.n], azimuth, g)
}

// kernelHours writes the hours of a year as the kernel takes them for rows of
// an azimuth, and the light of the sunlit ones for their strain unless lights is
// nil.
func (sy *siteYear) kernelHours(dst []kernel.Hour, azimuth sun.Angle, o *Options, lights []thinLight) {
	var buf [instants]collector.Ray
	for h := range dst {
		l := sy.light(buf[:0], h, azimuth, o.Ground)
		if lights != nil && sy.sky[h].sunlit() {
			lights[h].thin(&l)
		}
		dst[h] = kernelHour(l, o)
		dst[h].Event = kernelEvent(sy.events[h])
	}
}

// kernelHour is the light of an hour as the kernel takes it.
func kernelHour(l collector.Light, o *Options) kernel.Hour {
	r := &o.Receiver
	k := kernel.Hour{N: int32(len(l.Rays))}
	k.Sky, k.Ground = diffuse(&l, o)
	for i, ray := range l.Rays {
		k.Row[i] = int32(collector.Row(ray.Psi, ray.S2))
		k.Weight[i] = float32(r.Eta0b * ray.DNI * ray.S2)
	}
	if k.Weight == [kernel.Samples]float32{} {
		k.N = 0 // no beam: there are no rows to read
	}
	return k
}

// diffuse is what the kernel weighs with a field's Sky and Ground.
func diffuse(l *collector.Light, o *Options) (sky, ground float32) {
	r := &o.Receiver
	return float32(r.Eta0b * r.Kd * l.Isotropic), float32(r.Eta0b * r.Kd * o.Mirror.Rho() * l.Ground)
}

func kernelEvent(e collector.Event) (k kernel.Event) {
	if e.Leave {
		k |= kernel.Leave
	}
	if e.Return {
		k |= kernel.Return
	}
	if e.Refill {
		k |= kernel.Refill
	}
	return k
}

// regime is an outlet as the kernel takes it.
func (sy *siteYear) regime(out collector.Outlet, r *collector.Receiver) kernel.Regime {
	start := r.Start(float64(sy.year.AirTemperature[0]), out)
	return kernel.Regime{
		In: float32(out.In), Out: float32(out.Out), Run: float32((out.In + out.Out) / 2),
		Dry: float32(r.C5 / 3600), Wet: float32(r.Capacity() / 3600),
		StartDry: start.Out, FirstAirC: float32(start.T),
	}
}

// sun describes the sun of hour h in the directions people use.
func (sy *siteYear) sun(h int) Sun {
	sky := &sy.sky[h]
	out := Sun{Fraction: sky.fraction, Distance: sky.distance}
	place := sy.where()
	for _, v := range sky.at[:sky.n] {
		out.Altitude = append(out.Altitude, v.Altitude().Degrees())
		out.Azimuth = append(out.Azimuth, place.Azimuth(v).Degrees())
	}
	return out
}

func (sy *siteYear) where() sun.Place {
	return sun.NewPlace(sun.Angle(sy.site.Lat)*sun.Degree, sun.Angle(sy.site.Lon)*sun.Degree)
}
