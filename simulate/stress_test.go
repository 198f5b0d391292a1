package simulate

import (
	"context"
	"math"
	"slices"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
	"stillrow/simulate/sun"
)

var testWear = Wear{UVShare: 0.05, ClearUVTransmitted: 0.6, ActivationEnergy: 80e3, Reference: 40}

// The stresses that the lanes gather are held to a plain walk through the same
// hours in double precision, with the optics at each instant.
func TestStressAgainstPlainWalk(t *testing.T) {
	r := testReceiver(collector.Hold)
	r.SofteningClear, r.SofteningBlack, r.FoamLimit, r.FrostLock = 90, 98, 75, 7
	mirror := testMirror
	mirror.UVReflectance, mirror.WindLimit = .7, 4
	ground := collector.Ground{Albedo: .2, FieldDepth: 3}
	p, err := Prepare(context.Background(), Options{
		Designs:  []collector.Design{testDesigns[0], testDesigns[1], testDesigns[4], testDesigns[7]},
		Receiver: r, Mirror: mirror, Ground: ground, Wear: &testWear,
		Outlets: []collector.Outlet{{In: 25, Out: 35}, {In: 50, Out: 60}},
	})
	if err != nil {
		t.Fatal(err)
	}
	s := madeSite(41)
	y := madeYear(s)
	b, err := p.Site(s, y)
	if err != nil {
		t.Fatal(err)
	}
	table := p.Table()
	for d := range p.Designs {
		for o := range p.Outlets {
			want := plainWalk(t, p, s, y, d, o)
			for k, w := range want {
				got := float64(b.Strain(&table, o, d, result.Stress(k)))
				name := result.StressColumns[k].Name
				if result.Stress(k) == result.GlareAzimuth {
					continue // the sector is checked by hand elsewhere
				}
				// Strain looks at two of six instants and at the middle of bins:
				// counts of hours move by a few, sums by a per cent.
				if math.Abs(got-w) > 0.012*math.Abs(w)+4 {
					t.Errorf("design %d outlet %g: %s = %.4g, plain walk %.4g", d, p.Outlets[o].Out, name, got, w)
				}
			}
		}
	}
	// The walk must have something to find.
	if at := func(s result.Stress) float32 { return b.Strain(&table, 0, 1, s) }; at(result.OverFoam) < 50 || at(result.GlareHours) < 50 ||
		at(result.WindHours) < 50 || at(result.LockedDays) < 3 || at(result.UVMirror) < 10 {
		t.Errorf("the made year strains too little to show anything: %v", b.Stress[result.Stresses:2*result.Stresses])
	}
}

func plainWalk(t *testing.T, p *Plan, s weather.Site, y *weather.Year, design, outlet int) [result.Stresses]float64 {
	t.Helper()
	steps, err := p.Hourly(s, y, design, outlet)
	if err != nil {
		t.Fatal(err)
	}
	h, r := p.Heater(design), &p.Receiver
	var w [result.Stresses]float64
	var hot []float64
	locked := make(map[int]bool)
	factor := func(c float64) float64 {
		return math.Exp(-testWear.ActivationEnergy / 8.314462618 * (1/(c+273.15) - 1/(testWear.Reference+273.15)))
	}
	for st := range steps {
		w[result.WindMax] = max(w[result.WindMax], st.Air.Wind)
		if st.Air.Wind > p.Mirror.WindLimit {
			w[result.WindHours]++
		}
		w[result.WarmMirror] += factor(st.Air.AirTemperature)
		w[result.WarmReceiver] += factor(st.After.T)
		if st.After.T < 0 && !st.After.Out {
			w[result.FreezingHours]++
		}
		if st.Hour%24 == 0 && st.Event.Leave {
			locked[st.Hour/24] = true
		}
		if len(st.Light.Rays) == 0 {
			continue
		}
		dry := r.DryStagnation(st.Air, st.Absorbed)
		hot = append(hot, dry)
		for _, c := range []struct {
			limit float64
			s     result.Stress
		}{{r.SofteningClear, result.OverClear}, {r.SofteningBlack, result.OverBlack}, {r.FoamLimit, result.OverFoam}} {
			if dry > c.limit {
				w[c.s]++
			}
		}
		diffuse := h.Sky*st.Light.Isotropic + h.Ground*p.Mirror.Rho()*st.Light.Ground
		g, uv, e0, e1, m := diffuse, diffuse, diffuse, diffuse, 0.0
		if d := h.Design(); d.MirrorLength > 0 {
			m = st.Light.Isotropic * (1 + math.Cos(d.MirrorTilt*math.Pi/180)) / 2
		}
		for _, ray := range st.Light.Rays {
			x := h.Strain(ray.Psi, p.Ground)
			beam := ray.DNI * ray.S2
			g, uv, m = g+beam*x.Receiver, uv+beam*x.UV, m+beam*x.Mirror
			e0, e1 = e0+beam*x.Edge[0], e1+beam*x.Edge[1]
			if x.Escapes && st.DNI > 0 {
				w[result.GlareHours] += 1 / float64(len(st.Light.Rays))
			}
		}
		w[result.PeakIrradiance] = max(w[result.PeakIrradiance], g)
		w[result.PeakEdge] = max(w[result.PeakEdge], e0, e1)
		w[result.UVClear] += testWear.UVShare * uv / 1000
		w[result.UVBlack] += testWear.UVShare * testWear.ClearUVTransmitted * uv / 1000
		w[result.UVMirror] += testWear.UVShare * m / 1000
	}
	slices.Sort(hot)
	// The 99.9th percentile of 8760 hours, by nearest rank: the ninth highest.
	w[result.DryStagnation] = hot[len(hot)-9]
	w[result.LockedDays] = float64(len(locked))
	return w
}

// A receiver of 0.80 − 3.5·ΔT/G − 0.015·ΔT²/G stagnates at 172 °C under
// 1000 W/m² at 30 °C, and at 260 °C under 2000; one of 0.85 and 18 W/m²K at
// 77 °C. Source: the quadratic of ISO 9806, solved by hand.
func TestDryStagnationByHand(t *testing.T) {
	for _, tt := range []struct{ eta, c1, c2, g, want float64 }{
		{.80, 3.5, .015, 1000, 172}, {.80, 3.5, .015, 2000, 260}, {.85, 18, 0, 1000, 77},
		{.85, 18, 0, 2000, 124}, {.85, 12, 0, 1000, 101}, {.85, 12, 0, 2000, 172},
	} {
		r := collector.Receiver{C1: tt.c1, C2: tt.c2}
		got := r.DryStagnation(collector.Weather{AirTemperature: 30}, tt.eta*tt.g)
		if math.Abs(got-tt.want) > 0.6 {
			t.Errorf("η0 %g c1 %g c2 %g G %g: %.1f °C, want %g", tt.eta, tt.c1, tt.c2, tt.g, got, tt.want)
		}
	}
}

// An upright mirror under a low sun throws its beam at 2·90° + ψ, which points
// down: it never escapes upwards. One leaning back 20° (tilt 70°) sends the
// light of a sun at 25° upwards at 15°: 2·70 + 25 = 165° from the poleward
// horizontal. Source: the law of reflection, worked by hand.
func TestGlareByHand(t *testing.T) {
	look := func(tilt, psi float64, depth float64) bool {
		h := collector.NewHeater(collector.Design{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: tilt}, &collector.Receiver{Kb: collector.B0(0)}, testMirror)
		return h.Strain(sun.Angle(psi)*sun.Degree, collector.Ground{FieldDepth: depth}).Escapes
	}
	nan := math.NaN()
	for _, tt := range []struct {
		tilt, psi, depth float64
		want             bool
	}{
		{90, 10, nan, false}, {70, 25, nan, true}, {70, 39, nan, true}, {70, 41, nan, false},
		// From the top of an upright mirror 1 m high at x = 1, a ray that falls
		// at 10° lands 5.67 m equatorward of it, 4.67 m past the receiver.
		{90, 10, 4, true}, {90, 10, 5, false},
	} {
		if got := look(tt.tilt, tt.psi, tt.depth); got != tt.want {
			t.Errorf("tilt %g, sun at %g°, field %g m: glare %v, want %v", tt.tilt, tt.psi, tt.depth, got, tt.want)
		}
	}
}
