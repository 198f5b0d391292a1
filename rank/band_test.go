package rank

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"stillrow/simulate/result"
)

// Three designs with the same mirror, so that LCOH is 14/(10·heat) = 1.4/heat
// and the ratio to the site's best is best heat over the design's heat:
//
//	site  A    B    C     ratios
//	s1    120  108   60   1      1.1111 2
//	s2     90  108   72   1.2    1      1.5
//	s3     60   75  120   2      1.6    1
//	mean                  1.4    1.2370 1.5
//
// A is best at one site and B at one, but B costs least in the mean: +23.70 %,
// at worst +60 % (s3). Gas at 0.1 is beaten from 14 kWh/m² on. A kWh less is 0.1
// less saved: with B 1.2, 0 and 4.5, in the mean 1.9. Every design has a tilt of
// its own, so the one tilt is that of the one design.
func TestBandByHand(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(1, 50), mirror(1, 60), mirror(1, 70)}, wholeYear)
	s := summarise(t, o,
		flat("s1", 10, 120, 108, 60), flat("s2", 12, 90, 108, 72), flat("s3", 14.9, 60, 75, 120),
		flat("dark", 11, 0, 0, 0), // counted, not dropped
		flat("poor", 15, 12, 13, 0),
		flat("south", -0.5, 20, 30, 12),
	)
	b := s.Results[0].Bands
	if len(b) != 3 {
		t.Fatalf("%d bands, want 3: %+v", len(b), b)
	}
	near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < 1e-9 })
	design := func(d int) (*int, *result.Design) { return &d, &o.Table.Designs[d] }
	want := []Band{
		{LatFrom: -5, LatTo: 0, Sites: 1, BeatGas: 1, BeatGasWithDesign: 1},
		{LatFrom: 10, LatTo: 15, Sites: 4, NoHeat: 1, BeatGas: 3, BeatGasWithDesign: 3,
			MeanExtra: ptr(100*((200./180+1+200./125)/3) - 100), WorstExtra: ptr(60.), MeanLost: ptr(1.9), WorstLost: ptr(4.5)},
		{LatFrom: 15, LatTo: 20, Sites: 1},
	}
	for i := range want {
		want[i].Outlet, want[i].Use = 45, "year"
		want[i].DesignID, want[i].Design = design(1)
		w := &want[i]
		if w.MeanExtra == nil {
			w.MeanExtra, w.WorstExtra, w.MeanLost, w.WorstLost = ptr(0.), ptr(0.), ptr(0.), ptr(0.)
		}
		w.Tilt = &TiltFit{Tilt: 60, MeanExtra: *w.MeanExtra, WorstExtra: *w.WorstExtra, Rule: 60, RuleExtra: *w.MeanExtra}
	}
	if d := cmp.Diff(want, b, near); d != "" {
		t.Errorf("-want +got:\n%s", d)
	}
}

// C would be the cheapest in the mean of the sites it serves, but gives s2 no
// heat; A and B serve both.
func TestBandPrefersHeatEverywhere(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(1, 50), mirror(1, 60), mirror(1, 70)}, wholeYear)
	s := summarise(t, o, flat("s1", 10, 100, 90, 200), flat("s2", 12, 100, 120, 0))
	if b := s.Results[0].Bands[0]; *b.DesignID != 0 || b.DesignNoHeat != 0 {
		// A: (2 + 1.2)/2 = 1.6, B: (2.2222 + 1)/2 = 1.611
		t.Errorf("design %d, want 0: %+v", *b.DesignID, b)
	}
	// Where every design fails somewhere, the count of failures is told.
	s = summarise(t, o, flat("s1", 10, 100, 0, 0), flat("s2", 12, 0, 0, 100), flat("s3", 13, 0, 0, 50))
	if b := s.Results[0].Bands[0]; *b.DesignID != 2 || b.DesignNoHeat != 1 || *b.MeanExtra != 0 || b.NoHeat != 0 {
		t.Errorf("band %+v, want design 2, which leaves one site without heat", b)
	}
}

func TestBandTies(t *testing.T) {
	// 14/(10·175) = 10/(10·125): the same cost with and without a mirror.
	o := handOptions(t, []result.Design{mirror(1, 50), mirror(0, 60), mirror(0, 70)}, wholeYear)
	s := summarise(t, o, flat("s1", 10, 175, 125, 125))
	if b := s.Results[0].Bands[0]; *b.DesignID != 1 {
		t.Errorf("design %d, want 1: less mirror, then the lower number", *b.DesignID)
	}
}

func TestBandEdges(t *testing.T) {
	for _, tt := range []struct {
		height, lat float64
		want        int
	}{
		{5, 0, 0}, {5, -1e-6, -1}, {5, 5, 1}, {5, 4.999, 0}, {5, 90, 17}, {5, -90, -18}, {5, -5, -1},
		{0.1, 0.3, 3}, // 0.3/0.1 is 2.9999999999999996
		{7, 90, 12}, {7, 83.9, 11}, {90, 90, 0}, {90, -90, -1},
	} {
		if got := (&bands{height: tt.height}).index(tt.lat); got != tt.want {
			t.Errorf("bands of %g°: latitude %g is in band %d, want %d", tt.height, tt.lat, got, tt.want)
		}
	}
}

// Ranked by cost, the band's design may give up some saving or gain some: with
// design 0 each site has its cheapest heat (10/1000 and 10/1200); design 1
// (14/1300 and 14/1500) saves 11.6 and 13.6 a year, design 0 saves 9 and 11.
func TestSavingGainedCountsNegative(t *testing.T) {
	o := handOptions(t, []result.Design{mirror(0, 60), mirror(1, 60)}, wholeYear)
	k, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Abort()
	for _, b := range []*result.Block{flat("a", 10, 100, 130), flat("b", 11, 120, 150)} {
		if err := add(k, b); err != nil {
			t.Fatal(err)
		}
	}
	f := k.bands.band(k.bands.index(10))[0].Designs[1]
	if math.Abs(f.Lost.value()+5.2) > 1e-5 || math.Abs(f.WorstLost+2.6) > 1e-5 || f.With != 2 {
		t.Errorf("%+v, want 2.6 gained at each site", f)
	}
}
