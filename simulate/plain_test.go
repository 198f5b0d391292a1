package simulate_test

import (
	"context"
	"math"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/simulate"
	"stillrow/simulate/collector"
)

// A plain is a single endless or finite row computed the plainest way: none of
// the packages under test, no closed form where stepping does, a sharp sun.
type plain struct {
	length, tilt, row float64 // mirror and row, m and degrees; row 0 is endless
	sky, ground       float64 // diffuse shares at plainRho, by crossed strings
}

// Three mirrors whose diffuse shares can be had by hand (see
// TestObliqueHourByHand): none; an upright one, which fills 0.29289 of the
// view; one of 120°, which fills half of it. Each is as long as the receiver
// is wide, 1 m.
var plains = []plain{
	{0, 90, 0, 1, 0},
	{1, 90, 25, 1 - .29289*(1-plainRho), 0},
	{1, 120, 0, .5 + .25*plainRho, .11603},
}

// What the plain year and the run have in common.
const (
	plainRho    = .85 * .95
	plainEta    = .8
	plainB0     = .1
	plainKd     = .9
	plainC1     = 5.
	plainC3     = 1.5
	plainC4     = .5
	plainC5     = 6000.
	plainC6     = .008
	plainDepth  = .04
	plainShield = .6 // wind at the receiver over the wind at 10 m
	plainAlbedo = .25
)

// plainSun is the Astronomical Almanac's low-precision sun: east, north and up
// parts of its direction, and its distance.
// Source: as almanac in the tests of simulate/sun.
func plainSun(day, lat, lon float64) (east, north, up, distance float64) { // day from 2000-01-01 12:00 UT
	const deg = math.Pi / 180
	g := (357.528 + .9856003*day) * deg
	lambda := (280.460+.9856474*day)*deg + (1.915*math.Sin(g)+.020*math.Sin(2*g))*deg
	eps := 23.439 * deg
	ra := math.Atan2(math.Cos(eps)*math.Sin(lambda), math.Cos(lambda))
	dec := math.Asin(math.Sin(eps) * math.Sin(lambda))
	w := (280.4606+360.9856474*day+lon)*deg - ra
	sp, cp := math.Sincos(lat * deg)
	return -math.Cos(dec) * math.Sin(w), math.Sin(dec)*cp - math.Cos(dec)*sp*math.Cos(w),
		math.Sin(dec)*sp + math.Cos(dec)*cp*math.Cos(w), 1.00014 - .01671*math.Cos(g) - .00014*math.Cos(2*g)
}

// beam gives the absorbed light, before the optical efficiency, of a beam of
// 1 W/m² from a sun whose poleward, along-the-row and upward parts are given.
func (p *plain) beam(poleward, along, up float64) float64 {
	kb := func(cos float64) float64 { return max(0, 1-plainB0*(1/cos-1)) }
	sinT, cosT := math.Sincos(p.tilt * math.Pi / 180)
	topX, topZ := 1+p.length*cosT, p.length*sinT
	lit := 1.0
	if p.length > 0 { // the mirror's shadow, from its foot at 1 to where its top's falls
		edge := topX - topZ*poleward/up
		lit = 1 - max(0, min(1, max(1, edge))-max(0, min(1, edge)))
	}
	sum := kb(up) * up * lit
	facing := -sinT*poleward + cosT*up // sun · normal
	if p.length == 0 || facing <= 0 {
		return sum
	}
	// The sun's image in the mirror: light travels along −s + 2(s·n)n.
	x, z := -poleward-2*facing*sinT, -up+2*facing*cosT
	if z >= 0 {
		return sum
	}
	const parts = 50
	var landed, path float64
	for i := range parts {
		l := p.length * (float64(i) + .5) / parts
		px, pz := 1+l*cosT, l*sinT
		if at := px - pz*x/z; at >= 0 && at <= 1 {
			landed += p.length / parts
			path += p.length / parts * pz * math.Hypot(x, z) / -z
		}
	}
	if landed == 0 {
		return sum
	}
	past := 0.0
	if p.row > 0 {
		past = min(1, path/landed*math.Abs(along)/math.Hypot(x, z)/p.row)
	}
	return sum + plainRho*kb(-z)*facing*landed*(1-past)
}

// light gives what the receiver absorbs in the hours of a year, W/m², and
// whether the sun is up in them, with the sun at every minute.
func (p *plain) light(s weather.Site, y *weather.Year) (absorbed []float64, day []bool) {
	absorbed, day = make([]float64, weather.Hours), make([]bool, weather.Hours)
	pole := math.Copysign(1, s.Lat)
	for h := range absorbed {
		start := 365*float64(s.Year[0]-2000) + float64((s.Year[0]-1997)/4) - .5 + float64(h)/24 - s.UTCOffset/24
		var direct, around, n float64
		var distance float64
		for minute := range 60 {
			east, north, up, d := plainSun(start+(float64(minute)+.5)/1440, s.Lat, s.Lon)
			distance = d
			if up <= 0 {
				continue
			}
			b := p.beam(north*pole, east, up)
			n++
			direct += b
			around += b / max(up, .0872)
		}
		diffuse, ai := float64(y.DHI[h]), 0.0
		if n > 0 {
			ai = min(1, float64(y.DNI[h])*60/n*distance*distance/1361)
			absorbed[h] = (float64(y.DNI[h])*direct + ai*diffuse*around) / n
			day[h] = true
		}
		absorbed[h] = plainEta * (absorbed[h] + plainKd*(p.sky*(1-ai)*diffuse+p.ground*plainRho*plainAlbedo*float64(y.GHI[h])))
	}
	return absorbed, day
}

// plainHeat steps the receiver through the year, 5 s at a time, kWh/m².
func plainHeat(y *weather.Year, absorbed []float64, day []bool, in, out float64, drain bool) (sum float64) {
	const dt = 5
	t, store, away := float64(y.AirTemperature[0]), in, drain
	const water = plainDepth * 998 * 4182
	for h, s := range absorbed {
		if drain && h > 0 && day[h-1] && !day[h] && !away {
			store, away = t, true
		}
		air, u := float64(y.AirTemperature[h]), plainShield*float64(y.Wind[h])
		slope := plainC1 + plainC3*u
		fixed := plainC4*(5.670374e-8*math.Pow(air+273.15, 4)-float64(y.SkyInfrared[h])) + plainC6*u*float64(y.GHI[h])
		steady := air + (s-fixed)/slope
		mean := math.Inf(1) // of a plug flow from in to out, for which the water must be this warm
		if steady > out {
			mean = steady - (out-in)/math.Log((steady-in)/(steady-out))
		}
		for range 3600 / dt {
			capacity := plainC5 + water
			if away {
				capacity = plainC5
			}
			t += (s - fixed - slope*(t-air)) * dt / capacity
			if away && day[h] && t >= min(store, (in+out)/2) {
				t, away = (plainC5*t+water*store)/(plainC5+water), false
			}
			if !away && t > mean { // what is above the mean of the profile leaves
				sum += (plainC5 + water) * (t - mean) / 3.6e6
				t = mean
			}
		}
	}
	return sum
}

// plainYear is invented weather: bright and dull days by turns, a warm summer
// and a dry sky.
func plainYear(s weather.Site) *weather.Year {
	y := weather.NewYear()
	for h := range weather.Hours {
		day := float64(h / 24)
		noon := math.Max(0, math.Sin(math.Pi*(float64(h%24)-5.5)/13))
		bright := .5 + .5*math.Sin(day*2.1)
		season := -math.Cos(2*math.Pi*(day-15)/365) * math.Copysign(1, s.Lat)
		y.DNI[h] = float32(900 * bright * math.Sqrt(noon))
		y.DHI[h] = float32((60 + 150*(1-bright)) * noon)
		y.GHI[h] = float32((float64(y.DNI[h])*.6 + float64(y.DHI[h])) * noon)
		y.AirTemperature[h] = float32(18 + 9*season + 6*math.Sin(2*math.Pi*float64(h%24-9)/24))
		y.Wind[h] = float32(2.5 + 1.5*math.Sin(day))
		y.SkyInfrared[h] = float32(300 + 5*(y.AirTemperature[h]-15))
	}
	return y
}

// The whole way from weather to heat against a second computation that shares
// no code with it, north and south, nights held and drained: within 0.3 %, where
// the project allows 0.5 %.
func TestYearAgainstPlain(t *testing.T) {
	outlets := []collector.Outlet{{In: 25, Out: 35}, {In: 50, Out: 60}}
	for _, tt := range []struct {
		lat   float64
		night collector.Night
	}{{34, collector.Hold}, {-34, collector.Drain}} {
		s := weather.Site{ID: "made", Lat: tt.lat, Lon: -37, UTCOffset: -2, Kind: weather.KindStation}
		for m := range s.Year {
			s.Year[m] = 2023
		}
		y := plainYear(s)
		var designs []collector.Design
		for _, p := range plains {
			designs = append(designs, collector.Design{ReceiverWidth: 1, MirrorLength: p.length, MirrorTilt: p.tilt, RowLength: p.row})
		}
		nan := math.NaN()
		plan, err := simulate.Prepare(context.Background(), simulate.Options{
			Designs: designs, Outlets: outlets,
			Receiver: collector.Receiver{
				Eta0b: plainEta, Kb: collector.B0(plainB0), Kd: plainKd, C1: plainC1, C3: plainC3, C4: plainC4, C5: plainC5, C6: plainC6,
				WaterDepth: plainDepth, WindFactor: plainShield, Night: tt.night,
				FrostLock: nan, SofteningBlack: nan, SofteningClear: nan, FoamLimit: nan,
			},
			Mirror: collector.Mirror{Reflectance: .85, Cleanliness: .95, WindLimit: nan},
			Ground: collector.Ground{Albedo: plainAlbedo, FieldDepth: nan},
		})
		if err != nil {
			t.Fatal(err)
		}
		b, err := plan.Site(s, y)
		if err != nil {
			t.Fatal(err)
		}
		h := yield{b, plan.Table()}
		for d, p := range plains {
			light, day := p.light(s, y)
			for o, out := range outlets {
				got, want := h.heat(o, d, 1, 12), plainHeat(y, light, day, out.In, out.Out, tt.night == collector.Drain)
				t.Logf("lat %g, %s, mirror %g m at %g°, %g °C: %.1f kWh/m², plain %.1f (%+.2f %%)", tt.lat, tt.night, p.length, p.tilt, out.Out, got, want, 100*(got/want-1))
				if want < 20 || math.Abs(got-want) > .003*want {
					t.Errorf("lat %g, %s, mirror %g m at %g°, %g °C: %.2f kWh/m², plain %.2f", tt.lat, tt.night, p.length, p.tilt, out.Out, got, want)
				}
			}
		}
	}
}
