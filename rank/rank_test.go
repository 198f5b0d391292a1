package rank

import (
	"bytes"
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// halvane is a run of five sites, four designs, two outlets and two uses: a
// station, a cell, a cell across the antimeridian, one in the south, and one
// without heat.
func halvane(t *testing.T) (Options, []*result.Block) {
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 60), mirror(1, 75), mirror(2, 75)}, wholeYear,
		Use{Name: "winter showers", Months: months12(12, 1, 2)})
	o.Table.Outlets = []float64{45, 60.5}
	o.Columns = []result.Column{{File: "heat/heat.parquet", Name: "month_01", Unit: "kWh/m²", Meaning: "heat of January"}}
	var blocks []*result.Block
	for i, s := range []result.Site{
		{ID: "HV01", Name: "Halvane Ness", Country: "Halvane", Lat: 61.5, Lon: -4.25},
		{ID: "HV02", Name: "", Lat: 62, Lon: 8, CellDeg: 0.5},
		{ID: "HV03", Name: "Line <Rock> & \"Sound\"", Lat: 61, Lon: 179.9, CellDeg: 0.5},
		{ID: "HV04", Name: "Sør", Lat: -45, Lon: 170.5},
		{ID: "HV05", Name: "Dark Glen", Lat: 61.25, Lon: -4},
	} {
		b := &result.Block{Site: s}
		for outlet := range 2 {
			for d := range 4 {
				for m := range 12 {
					h := 0.0
					if i < 4 {
						h = 10*float64(2-outlet) + float64(d*(i+1)) + float64(m)/4
					}
					b.Heat = append(b.Heat, float32(h))
				}
			}
		}
		blocks = append(blocks, b)
	}
	return o, blocks
}

func writeHeat(t *testing.T, o Options, blocks []*result.Block) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "heat")
	w, err := result.Create(dir, o.Table)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Abort()
	for _, b := range blocks {
		if err := w.Append(b); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return dir
}

// Blocks handed over in memory and blocks read from the heat table give the
// same bytes.
func TestRunGivesTheSameBytes(t *testing.T) {
	o, blocks := halvane(t)
	first := summarise(t, o, blocks...)
	heat := writeHeat(t, o, blocks)
	again := o
	again.Out, again.Table = t.TempDir(), result.Table{}
	var steps []int
	again.Progress = func(done, of int) { steps = append(steps, done, of) }
	second, err := Run(context.Background(), heat, again)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(first, second); d != "" {
		t.Errorf("summaries differ:\n%s", d)
	}
	if !slices.Equal(steps, []int{1, 5, 2, 5, 3, 5, 4, 5, 5, 5}) {
		t.Errorf("progress %v", steps)
	}
	for _, name := range names(t, o.Out) {
		a, errA := os.ReadFile(filepath.Join(o.Out, name))
		b, errB := os.ReadFile(filepath.Join(again.Out, name))
		if err := errors.Join(errA, errB); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("%s differs", name)
		}
	}
}

func TestCancelledRunWritesNothing(t *testing.T) {
	o, blocks := halvane(t)
	heat := writeHeat(t, o, blocks)
	for stop := 1; stop <= len(blocks); stop++ { // after the last site, too
		ctx, cancel := context.WithCancel(context.Background())
		o.Progress = func(done, _ int) {
			if done == stop {
				cancel()
			}
		}
		if _, err := Run(ctx, heat, o); !errors.Is(err, context.Canceled) {
			t.Errorf("stopped after site %d: error %v, want context.Canceled", stop, err)
		}
		cancel()
		if left := names(t, o.Out); len(left) > 0 {
			t.Errorf("stopped after site %d: %v is there", stop, left)
		}
	}
}

// A refused block leaves no trace, and the ranking goes on.
func TestAddRefuses(t *testing.T) {
	o, blocks := halvane(t)
	want := summarise(t, o, blocks...)
	for _, tt := range []struct {
		name, want string
		spoil      func(*result.Block)
	}{
		{"too short", "site HV02: 95 months of heat, want 96", func(b *result.Block) { b.Heat = b.Heat[1:] }},
		{"not a number", "site HV02, design 1, outlet 60.5 °C: heat of month 3 is NaN", func(b *result.Block) { b.Heat[(4+1)*12+2] = float32(math.NaN()) }},
		{"negative", "heat of month 1 is -1", func(b *result.Block) { b.Heat[0] = -1 }},
		{"off the globe", "site HV02: lat = 95", func(b *result.Block) { b.Site.Lat = 95 }},
	} {
		o.Out = t.TempDir()
		k, err := New(o)
		if err != nil {
			t.Fatal(err)
		}
		defer k.Abort()
		batch := k.Batch()
		for i, b := range blocks {
			if i == 1 {
				bad := result.Block{Site: b.Site, Heat: slices.Clone(b.Heat)}
				tt.spoil(&bad)
				if err := batch.Add(&bad); err == nil || !strings.Contains(err.Error(), tt.want) {
					t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
				}
			}
			if err := batch.Add(b); err != nil {
				t.Fatal(err)
			}
		}
		if err := k.Take(batch); err != nil {
			t.Fatal(err)
		}
		got, err := k.Finish(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s left a trace:\n%s", tt.name, d)
		}
	}
}

// Interrupted while the files are written, a ranking leaves none of them, nor
// its scratch file.
func TestInterruptedWhileWriting(t *testing.T) {
	o, blocks := halvane(t)
	k, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Abort()
	for _, b := range blocks {
		if err := add(k, b); err != nil {
			t.Fatal(err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := k.Finish(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want the context's", err)
	}
	if left := names(t, o.Out); len(left) > 0 {
		t.Errorf("%v is left", left)
	}
}

func TestOptionsRefused(t *testing.T) {
	for _, tt := range []struct {
		change func(*Options)
		want   string
	}{
		{func(o *Options) { o.BandDeg = 0 }, "map.band_deg = 0, want 0.1 to 90"},
		{func(o *Options) { o.Currency = "" }, "study.currency"},
		{func(o *Options) { o.Markets[0].Gas.BoilerEfficiency = 90 }, "gas.boiler_efficiency = 90"},
		{func(o *Options) { o.Markets[0].Plan.HorizonYears = 0 }, "cost.horizon_years = 0"},
		{func(o *Options) { o.Table.Designs = nil }, "0 designs"},
		{func(o *Options) { o.Table.Outlets = []float64{45, 60, 45} }, "map-year-45.geojson is already"},
		{func(o *Options) { o.Markets[0].Plan.Items = handPlan.Items[1:] }, "design 0 costs 0 per m²"},
		{func(o *Options) {
			o.Markets[0].Plan.Items = append(slices.Clone(handPlan.Items), cost.Item{Unit: cost.GroundM2, Price: 1, LifeYears: 50})
		}, `design 0: cost.item[2].unit = "ground_m2"`},
	} {
		o, _ := halvane(t)
		tt.change(&o)
		if _, err := New(o); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("error %v, want one with %q", err, tt.want)
		}
		if left := names(t, o.Out); len(left) > 0 {
			t.Errorf("%s: %v is left", tt.want, left)
		}
	}
}

// A year of 300 designs at four outlets for three uses.
func BenchmarkAdd(b *testing.B) {
	var designs []result.Design
	for i := range 300 {
		designs = append(designs, mirror(float64(i%10)/10, 50+float64(i)/10))
	}
	o := Options{
		Table:   result.Table{Designs: designs, Outlets: []float64{35, 45, 60, 75}},
		Uses:    []Use{wholeYear, {Name: "winter", Months: months12(12, 1, 2)}, {Name: "heating", Season: Heating, Threshold: 100}},
		Markets: []Market{{"hand", handPlan, handGas}}, BandDeg: 5, Currency: "EUR", Out: b.TempDir(),
	}
	k, err := New(o)
	if err != nil {
		b.Fatal(err)
	}
	defer k.Abort()
	block := &result.Block{Site: result.Site{ID: "x", Name: "somewhere", Lat: 50, Lon: 8, CellDeg: 0.25, HDD: [12]float64{300, 200}}}
	for i := range 300 * 4 * 12 {
		block.Heat = append(block.Heat, float32(i%977)/10)
	}
	batch := k.Batch()
	for b.Loop() {
		if len(batch.places) == mostPlaces {
			batch = k.Batch()
		}
		if err := batch.Add(block); err != nil {
			b.Fatal(err)
		}
	}
}
