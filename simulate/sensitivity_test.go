package simulate

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"stillrow/ingest/weather"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
)

// allPicks picks every design at every outlet.
func allPicks(p *Plan) func(*result.Block) []result.Pick {
	return func(*result.Block) (list []result.Pick) {
		for o := range p.Outlets {
			for d := range p.Designs {
				list = append(list, result.Pick{Design: d, Outlet: o})
			}
		}
		return list
	}
}

// changed gives the options and the weather of a study with its inputs changed.
func changed(o Options, y *weather.Year, by [result.Params]float64) (Options, *weather.Year) {
	o.Pick = nil
	o.Receiver.Eta0b *= 1 + by[result.Eta0b]
	o.Receiver.C1 *= 1 + by[result.C1]
	o.Mirror.Reflectance *= 1 + by[result.Reflectance]
	other := *y
	for _, c := range []*[]float32{&other.GHI, &other.DNI, &other.DHI} {
		*c = slices.Clone(*c)
		for h := range *c {
			(*c)[h] = float32(float64((*c)[h]) * (1 + by[result.Irradiance]))
		}
	}
	return o, &other
}

// What a pick's heat is with an input changed is what a whole run with that
// input gives: another Plan with its own optics, other weather.
func TestSensitivitiesAgainstWholeRuns(t *testing.T) {
	for i, night := range []collector.Night{collector.Hold, collector.Drain} {
		o := Options{
			Designs: testDesigns, Receiver: testReceiver(night), Mirror: testMirror, Ground: collector.Ground{Albedo: .3},
			Outlets: []collector.Outlet{{In: 25, Out: 35}, {In: 50, Out: 60}},
		}
		o.Receiver.C6 *= float64(i) // without and with a loss that the sun has part in
		p, err := Prepare(context.Background(), o)
		if err != nil {
			t.Fatal(err)
		}
		p.Pick = allPicks(p)
		s := madeSite(38 - 60*float64(i))
		y := madeYear(s)
		b, err := p.Site(s, y)
		if err != nil {
			t.Fatal(err)
		}
		if len(b.Sensitivities) != len(o.Designs)*len(o.Outlets) {
			t.Fatalf("%d sensitivities", len(b.Sensitivities))
		}
		table := p.Table()
		for param := range result.Params {
			for _, sign := range []float64{-1, 1} {
				var by [result.Params]float64
				by[param] = sign * result.Steps[param]
				other, weather := changed(o, y, by)
				plan, err := Prepare(context.Background(), other)
				if err != nil {
					t.Fatal(err)
				}
				want, err := plan.Site(s, weather)
				if err != nil {
					t.Fatal(err)
				}
				for k := range b.Sensitivities {
					c := &b.Sensitivities[k]
					got := &c.Low[param]
					if sign > 0 {
						got = &c.High[param]
					}
					for m, w := range want.Months(&table, c.Outlet, c.Design) {
						if d := math.Abs(float64(got[m] - w)); d > 2e-5*float64(w)+2e-5 {
							t.Errorf("%s: %s %+g, design %d, outlet %d, month %d: %g, whole run %g", night, param, by[param], c.Design, c.Outlet, m+1, got[m], w)
						}
					}
				}
			}
		}
	}
}

// Blocks and sensitivities do not depend on how many sites run at a time, and
// the blocks not on whether sensitivities are asked for.
func TestSensitivitiesLeaveTheHeatAlone(t *testing.T) {
	o := Options{
		Designs: testDesigns, Receiver: testReceiver(collector.Hold), Mirror: testMirror,
		Outlets: []collector.Outlet{{In: 35, Out: 45}},
		Wear:    &Wear{UVShare: .05, ClearUVTransmitted: .8, ActivationEnergy: 80000, Reference: 40},
	}
	p, err := Prepare(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	s := madeSite(20)
	y := madeYear(s)
	plain, err := p.Site(s, y)
	if err != nil {
		t.Fatal(err)
	}
	if plain.Sensitivities != nil || p.Table().Sensitivity {
		t.Error("sensitivities that nobody asked for")
	}
	p.Pick = allPicks(p)
	with, err := p.Site(s, y)
	if err != nil {
		t.Fatal(err)
	}
	bits := func(f []float32) (list []uint32) {
		for _, v := range f {
			list = append(list, math.Float32bits(v))
		}
		return list
	}
	if !slices.Equal(bits(plain.Heat), bits(with.Heat)) || !slices.Equal(bits(plain.Stress), bits(with.Stress)) {
		t.Error("heat or stress differs with sensitivities")
	}
	if len(with.Sensitivities) == 0 || !p.Table().Sensitivity {
		t.Error("no sensitivities")
	}
	p.Pick = func(*result.Block) []result.Pick { return nil }
	if none, err := p.Site(s, y); err != nil || none.Sensitivities != nil {
		t.Errorf("nothing picked: %v, %v", none.Sensitivities, err)
	}
}

// A heat table has the same bytes however many sites are simulated at a time.
func TestSensitivitiesWhateverTheWorkers(t *testing.T) {
	dir := t.TempDir()
	w, err := weather.Create(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for i, lat := range []float64{-35, 4, 28, 41, 55} {
		s := madeSite(lat)
		s.ID = fmt.Sprint("made", i)
		if err := w.Append(s, madeYear(s)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	table, err := weather.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer table.Close()
	var files [][]byte
	for _, workers := range []int{1, 3} {
		p, err := Prepare(context.Background(), Options{
			Designs: testDesigns, Receiver: testReceiver(collector.Drain), Mirror: testMirror, Workers: workers,
			Outlets: []collector.Outlet{{In: 25, Out: 35}, {In: 50, Out: 60}},
			// Designs of two azimuths, at outlets that change from site to site.
			Pick: func(b *result.Block) []result.Pick {
				return []result.Pick{{Design: len(testDesigns) - 1, Outlet: 1}, {Design: 0, Outlet: int(b.Site.ID[4]) % 2}}
			},
		})
		if err != nil {
			t.Fatal(err)
		}
		out := t.TempDir()
		heat, err := result.Create(out, p.Table())
		if err != nil {
			t.Fatal(err)
		}
		defer heat.Abort()
		if err := p.Run(context.Background(), table, heat.Append, nil); err != nil {
			t.Fatal(err)
		}
		if err := heat.Close(); err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{result.HeatFile, result.SensitivityFile} {
			text, err := os.ReadFile(filepath.Join(out, name))
			if err != nil {
				t.Fatal(err)
			}
			files = append(files, text)
		}
	}
	if !bytes.Equal(files[0], files[2]) || !bytes.Equal(files[1], files[3]) {
		t.Error("the tables of one and of three workers differ")
	}
}

func TestWrongPicks(t *testing.T) {
	p, err := Prepare(context.Background(), Options{
		Designs: testDesigns[:2], Receiver: testReceiver(collector.Hold), Mirror: testMirror, Outlets: []collector.Outlet{{In: 35, Out: 45}},
	})
	if err != nil {
		t.Fatal(err)
	}
	s := madeSite(20)
	y := madeYear(s)
	for want, picks := range map[string][]result.Pick{
		"pick 0: design 2 at outlet 0, want one of 2 designs": {{Design: 2}},
		"pick 1: design 0 at outlet 1, want":                  {{}, {Outlet: 1}},
		"pick 0: design -1 at":                                {{Design: -1}},
		"pick 1: design 1 at outlet 0 is picked twice":        {{Design: 1}, {Design: 1}},
	} {
		p.Pick = func(*result.Block) []result.Pick { return picks }
		if _, err := p.Site(s, y); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: error %v, want one with %q", picks, err, want)
		}
	}
}

func BenchmarkSensitivities(b *testing.B) {
	designs := []collector.Design{{ReceiverWidth: 1, MirrorTilt: 90}}
	for tilt := 50.0; tilt <= 130; tilt += 5 {
		for _, l := range []float64{.75, 1, 1.25, 1.5} {
			designs = append(designs, collector.Design{ReceiverWidth: 1, MirrorLength: l, MirrorTilt: tilt, RowPitch: 3})
		}
	}
	designs = designs[:68]
	s := madeSite(38)
	y := madeYear(s)
	for _, night := range []collector.Night{collector.Hold, collector.Drain} {
		for _, c6 := range []float64{0, .01} {
			o := Options{
				Designs: designs, Receiver: testReceiver(night), Mirror: testMirror,
				Outlets: []collector.Outlet{{In: 25, Out: 35}, {In: 35, Out: 45}, {In: 50, Out: 60}, {In: 65, Out: 75}},
			}
			o.Receiver.C6 = c6
			p, err := Prepare(context.Background(), o)
			if err != nil {
				b.Fatal(err)
			}
			for _, picked := range []int{0, 2} {
				p.Pick = nil
				if picked > 0 {
					p.Pick = func(*result.Block) (list []result.Pick) {
						for o := range p.Outlets {
							list = append(list, result.Pick{Design: 20 + 2*o, Outlet: o}, result.Pick{Design: 22 + 2*o, Outlet: o})
						}
						return list
					}
				}
				b.Run(fmt.Sprintf("%s/c6=%g/picks=%d", night, c6, picked), func(b *testing.B) {
					for range b.N {
						if _, err := p.Site(s, y); err != nil {
							b.Fatal(err)
						}
					}
				})
			}
		}
	}
}
