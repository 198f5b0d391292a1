package simulate

import (
	"context"
	"math"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
	"stillrow/simulate/sun"
)

// madeYear is a year of invented weather with broken cloud, warm afternoons
// and some wind: enough for every branch of the receiver, no claim beyond.
func madeYear(s weather.Site) *weather.Year {
	y := weather.NewYear()
	place := sun.NewPlace(sun.Angle(s.Lat)*sun.Degree, sun.Angle(s.Lon)*sun.Degree)
	seed := uint32(1)
	random := func() float64 {
		seed = seed*1664525 + 1013904223
		return float64(seed>>8) / (1 << 24)
	}
	h := 0
	for m, days := range weather.MonthDays {
		for d := range days {
			clear := 0.25 + 0.75*random()
			for clock := range 24 {
				jd := sun.JulianDate(s.Year[m], m+1, d+1, float64(clock)-s.UTCOffset)
				at, fraction, _ := place.Sunlit(nil, jd, 4)
				var up float64
				for _, v := range at {
					up += v.Up / 4
				}
				season := -math.Cos(2*math.Pi*float64(h)/weather.Hours) * math.Copysign(1, s.Lat)
				y.AirTemperature[h] = float32(14 + 9*season + 5*math.Sin(2*math.Pi*float64(clock-9)/24))
				y.Wind[h] = float32(1 + 4*random())
				y.SkyInfrared[h] = float32(280 + 3*y.AirTemperature[h])
				if fraction > 0 {
					dni := 950 * clear * clear * math.Exp(-0.12/max(up, 0.05)) * fraction
					dhi := (40 + 180*(1-clear)) * math.Sqrt(up) * fraction
					y.DNI[h], y.DHI[h] = float32(dni), float32(dhi)
					y.GHI[h] = float32(dni*up + dhi)
				}
				h++
			}
		}
	}
	return y
}

func madeSite(lat float64) weather.Site {
	s := weather.Site{ID: "made", Lat: lat, Lon: -37, UTCOffset: -2, Kind: weather.KindStation}
	for m := range s.Year {
		s.Year[m] = 2010 + m%3
	}
	return s
}

func testReceiver(night collector.Night) collector.Receiver {
	return collector.Receiver{
		Eta0b: 0.85, Kb: collector.FilmStack{{N: 1.5, KL: 0.02}}, Kd: 0.92,
		C1: 7, C2: 0.02, C3: 1.2, C4: 0.6, C5: 9000, C6: 0.01,
		WaterDepth: 0.04, WindFactor: 0.7, Night: night, FrostLock: math.NaN(),
	}
}

var testMirror = collector.Mirror{Reflectance: .85, Cleanliness: .95, SlopeError: 2, Scatter: 1}

var testDesigns = []collector.Design{
	{ReceiverWidth: 1, MirrorTilt: 90},
	{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 65},
	{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 75, RowPitch: 2.5},
	{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 90, RowPitch: 3},
	{ReceiverWidth: 1, MirrorLength: 1.5, MirrorTilt: 110, RowPitch: 3},
	{ReceiverWidth: 1.2, MirrorLength: 2, MirrorTilt: 120, Setback: .2, Raise: .3, RowPitch: 4, RowLength: 30},
	{ReceiverWidth: 1, MirrorLength: .3, MirrorTilt: 100, Setback: .5, RowLength: 10},
	{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 80, RowPitch: 3, RowAzimuth: 20},
}

// A denseOptics is the section's exact factors on a grid of profile angles so
// fine, 0.02°, that what lies between them does not matter.
type denseOptics []collector.Factors

func newDenseOptics(h *collector.Heater) denseOptics {
	d := make(denseOptics, 9000)
	for i := range d {
		d[i] = h.Factors(sun.Angle(float64(i)+0.5) * sun.Degree / 50)
	}
	return d
}

func (d denseOptics) at(psi sun.Angle) collector.Factors {
	return d[min(len(d)-1, max(0, int(psi.Degrees()*50)))]
}

// denseLight is the light a design absorbs in every hour of a year by 240
// instants of its sunlit part, in double precision.
func denseLight(p *Plan, sy *siteYear, design int) []float64 {
	h := p.Heater(design)
	az := p.groups[p.lanes[design].group].azimuth
	dense := newDenseOptics(h)
	place := sy.where()
	s := make([]float64, weather.Hours)
	hour := 0
	var vectors []sun.Vector
	var rays []collector.Ray
	for m, days := range weather.MonthDays {
		for d := range days {
			for clock := range 24 {
				jd := sun.JulianDate(sy.site.Year[m], m+1, d+1, float64(clock)-sy.site.UTCOffset+float64(sy.site.ClockMin[m])/60)
				at, fraction, e := place.Sunlit(vectors[:0], jd, 240)
				vectors = at
				y := sy.year
				l := collector.LightOf(rays, float64(y.GHI[hour]), float64(y.DNI[hour]), float64(y.DHI[hour]), fraction, e.Distance, at, az, p.Ground)
				rays = l.Rays
				s[hour] = h.AbsorbedBy(l, dense.at)
				hour++
			}
		}
	}
	return s
}

// The yearly heat of every design must be within 0.5 % of the dense reference,
// within 1.5 % where it is under a tenth of the site's best, or within half a
// watt-hour, which no output shows.
func TestYearAgainstDense(t *testing.T) {
	for i, lat := range []float64{38, -20, 62} {
		night := []collector.Night{collector.Hold, collector.Drain}[i%2]
		p, err := Prepare(context.Background(), Options{
			Designs: testDesigns, Receiver: testReceiver(night), Mirror: testMirror, Ground: collector.Ground{Albedo: .2},
			Outlets: []collector.Outlet{{In: 25, Out: 35}, {In: 50, Out: 60}, {In: 75, Out: 75}},
		})
		if err != nil {
			t.Fatal(err)
		}
		s := madeSite(lat)
		y := madeYear(s)
		b, err := p.Site(s, y)
		if err != nil {
			t.Fatal(err)
		}
		table := p.Table()
		heat := func(o, d int) (sum float64) {
			for _, q := range b.Months(&table, o, d) {
				sum += float64(q)
			}
			return sum
		}
		var best float64
		for d := range p.Designs {
			best = max(best, heat(0, d))
		}
		sy := newSiteYear(p.sun, s, y, &p.Receiver)
		for d := range p.Designs {
			light := denseLight(p, sy, d)
			for o, out := range p.Outlets {
				var want float64
				state := p.Receiver.Start(float64(y.AirTemperature[0]), out)
				for h, absorbed := range light {
					var l collector.Ledger
					state, l = p.Receiver.Hour(state, absorbed, p.Receiver.Linear(sy.air(h), out), out, sy.events[h])
					want += l.Delivered / 1000
				}
				got := heat(o, d)
				tolerance := 0.005
				if want < best/10 {
					tolerance = 0.015
				}
				t.Logf("lat %g outlet %g design %d: %.3f, dense %.3f (%+.3f %%)", lat, out.Out, d, got, want, 100*(got/want-1))
				if math.Abs(got-want) > max(tolerance*want, 0.0005) {
					t.Errorf("lat %g outlet %g design %d: %.4f kWh/m², dense reference %.4f", lat, out.Out, d, got, want)
				}
			}
		}
	}
}
