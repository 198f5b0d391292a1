package simulate_test

import (
	"bytes"
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"stillrow/data"
	"stillrow/ingest"
	"stillrow/ingest/climate"
	"stillrow/ingest/weather"
	"stillrow/ingest/weather/realfiles"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
)

// A plot is a site with its year.
type plot struct {
	site weather.Site
	year *weather.Year
}

// brighter is the year with its irradiance changed by a share.
func brighter(y *weather.Year, change float64) *weather.Year {
	other := *y
	for _, c := range []*[]float32{&other.GHI, &other.DNI, &other.DHI} {
		*c = slices.Clone(*c)
		for h := range *c {
			(*c)[h] = float32(float64((*c)[h]) * (1 + change))
		}
	}
	return &other
}

// demoPlots are two cells of the demo.
func demoPlots(t *testing.T) (list []plot) {
	t.Helper()
	text, err := data.FS.ReadFile("halvane/climate.csv")
	if err != nil {
		t.Fatal(err)
	}
	cells, err := climate.Read(bytes.NewReader(text), "climate.csv")
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range []int{0, len(cells) - 1} {
		s, y, _, err := ingest.One(cells[i].Raw(), ingest.Closed)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, plot{s, y})
	}
	return list
}

func TestResponseOnTheDemo(t *testing.T) { testResponse(t, demoPlots(t)) }

// Stations from the tropics to the Arctic's edge, and one at 3 km.
func TestResponseAtRealStations(t *testing.T) {
	var list []plot
	for _, name := range []string{
		desert, "epw/CHN_Zhejiang.Hangzhou.584570_SWERA.epw", "epw/ETH_Addis.Ababa-Bole.634500_SWERA.epw", "epw/GUM_Andersen.AFB.912180_TMY3.epw",
		"epw/USA_AK_Fairbanks.Intl.AP.702610_TMY3.epw", "epw/USA_CO_Leadville-Lake.County.AP.724673_TMY3.epw", "epw/USA_WA_Bellingham.Intl.AP.727976_TMY3.epw",
	} {
		s, y := station(t, realfiles.Path(t, name))
		list = append(list, plot{s, y})
	}
	testResponse(t, list)
}

// testResponse holds the response of heat to the changes of all inputs at once
// against whole simulations with the inputs so changed, the optics built anew:
// what Response promises of the error, for the year, June to August and
// December to February.
func testResponse(t *testing.T, plots []plot) {
	t.Helper()
	designs := []collector.Design{
		{ReceiverWidth: 1, MirrorTilt: 90},
		{ReceiverWidth: 1, MirrorLength: 1, MirrorTilt: 75, RowPitch: 3},
		{ReceiverWidth: 1.2, MirrorLength: 1.8, MirrorTilt: 115, Setback: .05, RowPitch: 3.6, RowLength: 60},
	}
	outlets := []collector.Outlet{{In: 25, Out: 35}, {In: 35, Out: 45}, {In: 50, Out: 60}, {In: 65, Out: 75}}
	windows := [][]int{{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}, {5, 6, 7}, {11, 0, 1}}
	rng := rand.New(rand.NewPCG(5, 17))
	var relative, absolute []float64 // errors above and up to 50 kWh/m²
	var square float64
	for i, r := range []collector.Receiver{preset(t, "film over air gap"), preset(t, "wet film"), preset(t, "two films"), tightCover()} {
		r.Night = []collector.Night{collector.Hold, collector.Drain}[i%2]
		o := simulate.Options{Designs: designs, Receiver: r, Mirror: filmMirror, Ground: collector.Ground{Albedo: .2, FieldDepth: math.NaN()}, Outlets: outlets}
		o.Pick = func(*result.Block) (list []result.Pick) {
			for o := range outlets {
				for d := range designs {
					list = append(list, result.Pick{Design: d, Outlet: o})
				}
			}
			return list
		}
		p, err := simulate.Prepare(context.Background(), o)
		if err != nil {
			t.Fatal(err)
		}
		table := p.Table()
		blocks := make([]*result.Block, len(plots))
		for k, plot := range plots {
			if blocks[k], err = p.Site(plot.site, plot.year); err != nil {
				t.Fatal(err)
			}
		}
		for draw := range 8 {
			var change [result.Params]float64
			for param, in := range [result.Params][2]float64{result.Eta0b: {-.05, .05}, result.C1: {-.3, .3}, result.Reflectance: {-.1, .05}, result.Irradiance: {-.08, .08}} {
				change[param] = in[0] + rng.Float64()*(in[1]-in[0])
				if draw%4 == 3 {
					change[param] = in[rng.IntN(2)]
				}
			}
			other := o
			other.Pick = nil
			other.Receiver.Eta0b *= 1 + change[result.Eta0b]
			other.Receiver.C1 *= 1 + change[result.C1]
			other.Mirror.Reflectance *= 1 + change[result.Reflectance]
			whole, err := simulate.Prepare(context.Background(), other)
			if err != nil {
				t.Fatal(err)
			}
			for k, plot := range plots {
				b, err := whole.Site(plot.site, brighter(plot.year, change[result.Irradiance]))
				if err != nil {
					t.Fatal(err)
				}
				for _, s := range blocks[k].Sensitivities {
					for _, window := range windows {
						var on [12]bool
						var want float64
						for _, m := range window {
							on[m] = true
							want += float64(b.Months(&table, s.Outlet, s.Design)[m])
						}
						response := s.Response(blocks[k].Months(&table, s.Outlet, s.Design), on)
						off := math.Abs(response.Heat(change) - want)
						if want > 50 {
							relative = append(relative, off/want)
							square += off / want * off / want
						} else {
							absolute = append(absolute, off)
						}
					}
				}
			}
		}
	}
	slices.Sort(relative)
	slices.Sort(absolute)
	rms := math.Sqrt(square / float64(len(relative)))
	at := func(list []float64, share float64) float64 { return list[int(share*float64(len(list)))] }
	t.Logf("%d above 50 kWh/m²: root mean square %.2f %%, 95 %% under %.2f %%, 99 %% under %.2f %%, all under %.1f %%", len(relative), 100*rms, 100*at(relative, .95), 100*at(relative, .99), 100*relative[len(relative)-1])
	t.Logf("%d others: 95 %% under %.2f, 99 %% under %.2f, all under %.1f kWh/m²", len(absolute), at(absolute, .95), at(absolute, .99), absolute[len(absolute)-1])
	if rms > .01 || at(relative, .95) > .01 || at(relative, .99) > .03 || at(absolute, .95) > 2 {
		t.Error("the error is greater than Response says")
	}
}
