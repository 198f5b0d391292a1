package simulate_test

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"stillrow/ingest"
	"stillrow/ingest/weather"
	"stillrow/ingest/weather/realfiles"
	"stillrow/rank/cost"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/film"
	"stillrow/simulate/result"
	"stillrow/simulate/sun"
)

const desert = "epw/USA_CA_Blythe-Riverside.County.AP.747188_TMY3.epw"

// station reads and repairs one real file.
func station(t *testing.T, path string) (weather.Site, *weather.Year) {
	t.Helper()
	sources, err := ingest.Files([]string{path})
	if err != nil {
		t.Fatal(err)
	}
	raw, err := sources[0].Read(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	s, y, _, err := ingest.One(raw, ingest.Closed)
	if err != nil {
		t.Fatal(err)
	}
	return s, y
}

func preset(t *testing.T, name string) collector.Receiver {
	t.Helper()
	r, _, err := film.Preset(name)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// tightCover is a receiver under a good infrared-absorbing cover, coefficients
// within the usual range of flat plates (from memory: η0 .75 to .82, c1 3 to
// 4.5, c2 .01 to .02).
func tightCover() collector.Receiver {
	return collector.Receiver{
		Eta0b: .80, Kb: collector.B0(.1), Kd: .91, C1: 4, C2: .012, C5: 7000, WaterDepth: .04, WindFactor: .65,
		Night: collector.Hold, FrostLock: math.NaN(), SofteningBlack: math.NaN(), SofteningClear: math.NaN(), FoamLimit: math.NaN(),
	}
}

var filmMirror = collector.Mirror{Reflectance: .85, Cleanliness: .95, SlopeError: 3, Scatter: 2, UVReflectance: .7, WindLimit: 15}

// tilts are candidates 1, 2, …: a mirror as long as the receiver is wide from
// 50 to 130°, in steps of 5; candidate 0 has none.
func tilts() []collector.Design {
	list := []collector.Design{{ReceiverWidth: 1, MirrorTilt: 90}}
	for tilt := 50.0; tilt <= 130; tilt += 5 {
		list = append(list, collector.Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: tilt, RowPitch: 3})
	}
	return list
}

// A yield is the heat of a site by design, outlet and month.
type yield struct {
	block *result.Block
	table result.Table
}

func simulated(t *testing.T, s weather.Site, y *weather.Year, r collector.Receiver, outlets ...collector.Outlet) yield {
	t.Helper()
	p, err := simulate.Prepare(context.Background(), simulate.Options{
		Designs: tilts(), Receiver: r, Mirror: filmMirror, Ground: collector.Ground{Albedo: .2, FieldDepth: math.NaN()}, Outlets: outlets,
	})
	if err != nil {
		t.Fatal(err)
	}
	b, err := p.Site(s, y)
	if err != nil {
		t.Fatal(err)
	}
	return yield{b, p.Table()}
}

// heat adds up months first to last (1 to 12, round the year's end).
func (y yield) heat(outlet, design, first, last int) (sum float64) {
	for m := first; ; m = m%12 + 1 {
		sum += float64(y.block.Months(&y.table, outlet, design)[m-1])
		if m == last {
			return sum
		}
	}
}

// best gives the design with the most heat in those months.
func (y yield) best(outlet, first, last int) int {
	best := 0
	for d := range y.table.Designs {
		if y.heat(outlet, d, first, last) > y.heat(outlet, best, first, last) {
			best = d
		}
	}
	return best
}

// Every real station with a whole year gives plausible heat: some at 35 °C, no
// more than the optics let in, less the hotter the outlet.
func TestRealStations(t *testing.T) {
	for _, pattern := range []string{"epw/*.epw", "tmy3csv/*.tmy3"} {
		paths, err := filepath.Glob(realfiles.Path(t, filepath.Dir(pattern)) + "/" + filepath.Base(pattern))
		if err != nil || len(paths) == 0 {
			t.Fatalf("%s: %v", pattern, err)
		}
		for _, path := range paths {
			s, y := station(t, path)
			r := preset(t, "film over air gap")
			h := simulated(t, s, y, r, collector.Outlet{In: 25, Out: 35}, collector.Outlet{In: 50, Out: 60})
			var beam, global float64
			for i := range y.GHI {
				global += float64(y.GHI[i]) / 1000
				beam += float64(y.DNI[i]) / 1000
			}
			for d := range h.table.Designs {
				warm, hot := h.heat(0, d, 1, 12), h.heat(1, d, 1, 12)
				// A mirror 1 m long sends at most its own beam to a receiver 1 m wide.
				if limit := r.Eta0b * (global*1.1 + beam); !(warm > 0 && warm < limit) || !(hot >= 0 && hot < warm) {
					t.Errorf("%s, design %d: %.0f kWh/m² at 35 °C, %.0f at 60 °C; at most %.0f falls in", s.Name, d, warm, hot, limit)
				}
			}
		}
	}
}

// The site-built shallow-pond collector of long-lived plastics reached 42 %
// over the year (Lawrence Livermore, UCRL-86746, 1982). At a sunny desert
// station, 35 to 45 °C without a mirror, a wet film stays below that and a
// tight cover above it.
func TestShallowPondEfficiency(t *testing.T) {
	s, y := station(t, realfiles.Path(t, desert))
	var global float64
	for _, g := range y.GHI {
		global += float64(g) / 1000
	}
	out := collector.Outlet{In: 35, Out: 45}
	wet := simulated(t, s, y, preset(t, "wet film"), out).heat(0, 0, 1, 12) / global
	tight := simulated(t, s, y, tightCover(), out).heat(0, 0, 1, 12) / global
	t.Logf("yearly efficiency 35 to 45 °C: wet film %.1f %%, tight cover %.1f %%", 100*wet, 100*tight)
	if !(wet < .42 && .42 < tight) {
		t.Errorf("wet film %.3f, tight cover %.3f: 0.42 is not between", wet, tight)
	}
}

// Common practice, no source, at about 33° N: the higher the outlet, the less
// heat and the dearer; the best summer mirror leans back and collects next to
// nothing extra in midwinter; the best winter mirror overhangs; winter-tuned
// heat is the more even one over the year; which gives more over the year turns
// with the losses.
func TestTradeFactsAt33N(t *testing.T) {
	s, y := station(t, realfiles.Path(t, desert))
	outlets := []collector.Outlet{{In: 25, Out: 35}, {In: 35, Out: 45}, {In: 50, Out: 60}, {In: 65, Out: 75}}
	plan := cost.Plan{
		Items:        []cost.Item{{Name: "all", Unit: cost.ReceiverM2, Price: 40, LifeYears: 10}},
		HorizonYears: 20, DiscountRate: .05, DeliveredShare: 1,
	}
	lossy := preset(t, "wet film")
	lossy.WindFactor = 1 // rows in the open, no shelter from the ground's roughness
	wet := simulated(t, s, y, lossy, outlets...)
	tight := simulated(t, s, y, tightCover(), outlets...)
	for name, h := range map[string]yield{"wet film": wet, "tight cover": tight} {
		before, dearer := math.Inf(1), 0.0
		for o, out := range outlets {
			summer, winter := h.best(o, 6, 8), h.best(o, 12, 2)
			ds, dw := h.table.Designs[summer], h.table.Designs[winter]
			heat := h.heat(o, summer, 1, 12)
			l, err := plan.Levelise(ds, heat)
			if err != nil {
				t.Fatal(err)
			}
			if !(heat < before && *l.LCOH > dearer) {
				t.Errorf("%s, %g °C: %.0f kWh/m² at %.4f, no less or no dearer than the outlet below", name, out.Out, heat, *l.LCOH)
			}
			before, dearer = heat, *l.LCOH
			if !(ds.MirrorLength > 0 && ds.MirrorTilt < 90) {
				t.Errorf("%s, %g °C: best in summer is %v, want one that leans back", name, out.Out, ds)
			}
			if h.heat(o, winter, 12, 2) < 1 {
				continue // next to no winter heat at all: nothing to tune
			}
			if !(dw.MirrorTilt > 90) {
				t.Errorf("%s, %g °C: best in winter is %v, want one that overhangs", name, out.Out, dw)
			}
			extra := h.heat(o, summer, 12, 1) - h.heat(o, 0, 12, 1)
			if gain := h.heat(o, winter, 12, 1) - h.heat(o, 0, 12, 1); !(extra < gain/10) {
				t.Errorf("%s, %g °C: the summer mirror adds %.1f kWh/m² in midwinter, the winter one %.1f", name, out.Out, extra, gain)
			}
			if a, b := unevenness(h, o, summer), unevenness(h, o, winter); !(b < a) {
				t.Errorf("%s, %g °C: unevenness %.2f summer-tuned, %.2f winter-tuned", name, out.Out, a, b)
			}
			ys, yw := h.heat(o, summer, 1, 12), h.heat(o, winter, 1, 12)
			t.Logf("%s at %g °C: summer-tuned %g° gives %.0f kWh/m² a year, winter-tuned %g° %.0f (%+.1f %%)", name, out.Out, ds.MirrorTilt, ys, dw.MirrorTilt, yw, 100*(yw/ys-1))
			// At 35 °C the water is cooler than this desert's summer air: nothing
			// is lossy then, and the two mirrors come out even.
			if name == "wet film" && out.Out >= 45 && !(ys > yw) {
				t.Errorf("wet film, %g °C: summer-tuned %.0f, winter-tuned %.0f kWh/m²: want the former greater", out.Out, ys, yw)
			}
			if gain := yw/ys - 1; name == "tight cover" && out.Out <= 60 && !(gain > 0 && gain < .1) {
				t.Errorf("tight cover, %g °C: winter-tuned gives %+.1f %%, want a few per cent more", out.Out, 100*gain)
			}
		}
	}
}

// unevenness is the standard deviation of the months' heat over their mean.
func unevenness(h yield, outlet, design int) float64 {
	mean := h.heat(outlet, design, 1, 12) / 12
	var sum float64
	for m := 1; m <= 12; m++ {
		d := h.heat(outlet, design, m, m) - mean
		sum += d * d
	}
	return math.Sqrt(sum/12) / mean
}

// Common practice, no source: at 50° N the noon spot of an upright mirror lies
// wholly on a receiver of the mirror's own length on 25 August, partly beside
// it on 15 September, and only a wider receiver keeps it from equinox to
// equinox; the spot wanders equatorward as the sun sinks and blurs as its path
// grows.
func TestNoonSpotAt50N(t *testing.T) {
	place := sun.NewPlace(50*sun.Degree, 0)
	noon := func(month, day int) sun.Angle {
		best := sun.Vector{Up: -1}
		for minute := 690.0; minute <= 750; minute++ {
			if v := place.Sun(sun.JulianDate(2022, month, day, minute/60)); v.Up > best.Up {
				best = v
			}
		}
		sx, _, sz := best.Row(0)
		return sun.Profile(sx, sz)
	}
	// share of the mirror's beam that lands on a receiver of a width.
	landed := func(width float64, psi sun.Angle) float64 {
		s := collector.NewSection(collector.Design{ReceiverWidth: width, MirrorLength: 1, MirrorTilt: 90}, filmMirror)
		return s.Reflect(psi).Fmir * width / math.Cos(float64(psi))
	}
	if got := landed(1, noon(8, 25)); got < .99 {
		t.Errorf("25 August: %.3f of the beam lands, want all", got)
	}
	if got := landed(1, noon(9, 15)); got > .98 || got < .5 {
		t.Errorf("15 September: %.3f of the beam lands, want part", got)
	}
	if got := landed(1, noon(9, 22)); got > .95 {
		t.Errorf("equinox: %.3f of the beam lands on a receiver as wide as the mirror is long", got)
	}
	if got := landed(1.3, noon(9, 22)); got < .99 {
		t.Errorf("equinox: %.3f of the beam lands on a receiver 1.3 times as wide, want all", got)
	}
	// The spot itself, felt with a receiver 2 cm wide at a distance from the
	// mirror's foot.
	light := func(psi, distance float64) float64 {
		s := collector.NewSection(collector.Design{ReceiverWidth: .02, Setback: distance, MirrorLength: 1, MirrorTilt: 90}, filmMirror)
		return s.Reflect(sun.Angle(psi) * sun.Degree).Fmir
	}
	// The distance at which the light of the spot's far edge, from the top of
	// the mirror, falls to a share of what it is inside.
	fallsTo := func(psi, share float64) float64 {
		edge := 1 / math.Tan(psi*math.Pi/180)
		inside := light(psi, edge-.3)
		for d := edge - .3; d < edge+.5; d += .001 {
			if light(psi, d) < share*inside {
				return d
			}
		}
		return math.NaN()
	}
	for _, step := range [][2]float64{{50, 35}, {35, 25}, {25, 15}} {
		high, low := step[0], step[1]
		if a, b := fallsTo(high, .5), fallsTo(low, .5); !(b > a) {
			t.Errorf("the spot ends %.2f m from the mirror with the sun at %g°, %.2f m at %g°", a, high, b, low)
		}
		if a, b := fallsTo(high, .1)-fallsTo(high, .9), fallsTo(low, .1)-fallsTo(low, .9); !(b > a) {
			t.Errorf("its edge is %.3f m wide with the sun at %g°, %.3f m at %g°", a, high, b, low)
		}
	}
}

// Common practice, no source: on a clear day a lossy film receiver that reaches
// 55 to 65 °C without a mirror reaches 80 to 100 °C with one, and a dry one
// under a mirror passes 98 °C at its films on a clear, low-sun day at 14 °C.
func TestClearDayTemperatures(t *testing.T) {
	wet := preset(t, "wet film")
	wet.WindFactor = 1 // lossy: rows in the open
	heater := func(tilt, length float64) *collector.Heater {
		return collector.NewHeater(collector.Design{ReceiverWidth: 1, MirrorLength: length, MirrorTilt: tilt}, &wet, filmMirror)
	}
	clear := func(month, day int, lat, hour float64) collector.Light {
		place := sun.NewPlace(sun.Angle(lat)*sun.Degree, 0)
		at, fraction, e := place.Sunlit(nil, sun.JulianDate(2022, month, day, hour), 6)
		up := at[3].Up
		// Hottel 1976, 23 km haze at sea level, mid-latitude summer; diffuse by
		// Liu and Jordan 1960.
		a0, a1, k := .97*(.4237-.00821*36), .99*(.5055+.00595*42.25), 1.02*(.2711+.01858*6.25)
		tau := a0 + a1*math.Exp(-k/up)
		e0n := sun.SolarConstant / (e.Distance * e.Distance)
		dni, dhi := tau*e0n, (.271-.294*tau)*e0n*up
		return collector.LightOf(nil, dni*up+dhi, dni, dhi, fraction, e.Distance, at, 0, collector.Ground{Albedo: .2})
	}
	// Two summer days at 35° N: water in, no flow, from 20 °C at sunrise.
	hottest := func(h *collector.Heater) (top float64) {
		// An outlet out of reach: the water only warms. The loss is made linear
		// half-way to where it goes.
		out := collector.Outlet{In: 60, Out: 100}
		state := collector.State{T: 20}
		for hour := 6.0; hour < 18; hour++ {
			w := collector.Weather{AirTemperature: 28, Wind: 2, SkyInfrared: 370}
			line := wet.Linear(w, out)
			state, _ = wet.Hour(state, h.Absorbed(clear(6, 21, 35, hour)), line, collector.Outlet{In: 150, Out: 150}, collector.Event{})
			top = max(top, state.T)
		}
		return top
	}
	plain, mirrored := hottest(heater(90, 0)), hottest(heater(70, 1.5))
	t.Logf("clear day, wet film: %.0f °C without a mirror, %.0f °C with one", plain, mirrored)
	if plain < 55 || plain > 65 {
		t.Errorf("without a mirror %.1f °C, want 55 to 65", plain)
	}
	if mirrored < 80 || mirrored > 100 {
		t.Errorf("with a mirror %.1f °C, want 80 to 100", mirrored)
	}

	gap := preset(t, "film over air gap")
	h := collector.NewHeater(collector.Design{ReceiverWidth: 1, MirrorLength: 1.5, MirrorTilt: 105}, &gap, filmMirror)
	w := collector.Weather{AirTemperature: 14, Wind: 1, SkyInfrared: 280}
	dry := gap.DryStagnation(w, h.Absorbed(clear(11, 10, 38, 12)))
	t.Logf("dry receiver under a mirror, 10 November, 38° N, 14 °C: %.0f °C (foam's limit %g °C)", dry, gap.FoamLimit)
	if dry < 98 {
		t.Errorf("dry receiver %.1f °C, want above 98", dry)
	}
}

// Common practice, no source: the winter mirror of 50° N overhangs strongly.
func TestWinterMirrorAt50N(t *testing.T) {
	place := sun.NewPlace(50*sun.Degree, 0)
	best, most := 0.0, 0.0
	for tilt := 60.0; tilt <= 150; tilt += 5 {
		s := collector.NewSection(collector.Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: tilt}, filmMirror)
		var sum float64
		for hour := 8.0; hour <= 16; hour += .25 {
			v := place.Sun(sun.JulianDate(2022, 12, 21, hour))
			if v.Up <= .03 {
				continue
			}
			sx, _, sz := v.Row(0)
			psi := sun.Profile(sx, sz)
			sum += sz*s.Direct(psi) + filmMirror.Rho()*math.Hypot(sx, sz)*s.Reflect(psi).Fmir
		}
		if sum > most {
			best, most = tilt, sum
		}
	}
	t.Logf("best tilt on 21 December at 50° N: %g°", best)
	if best < 105 {
		t.Errorf("best tilt in midwinter %g°, want a strong overhang", best)
	}
}
