package simulate

import (
	"context"
	"math"
	"slices"
	"testing"

	"stillrow/simulate/collector"
	"stillrow/simulate/result"
)

// With stresses of picks alone, a pick has them to the bit as it has them among
// all, at every outlet; other designs have doses, frost and the weather's own.
func TestPickedStress(t *testing.T) {
	r := testReceiver(collector.Hold)
	r.SofteningClear, r.SofteningBlack, r.FoamLimit, r.FrostLock = 90, 98, 75, 2
	mirror := testMirror
	mirror.UVReflectance, mirror.WindLimit = .7, 4
	p, err := Prepare(context.Background(), Options{
		Designs:  append(slices.Clone(testDesigns), collector.Design{ReceiverWidth: 2, MirrorTilt: 60}), // the first again
		Receiver: r, Mirror: mirror, Ground: collector.Ground{Albedo: .2, FieldDepth: 3}, Wear: &testWear,
		Outlets: []collector.Outlet{{In: 25, Out: 35}, {In: 50, Out: 60}},
		Pick: func(*result.Block) []result.Pick {
			return []result.Pick{{Design: 0, Outlet: 0}, {Design: 7, Outlet: 0}, {Design: 4, Outlet: 1}, {Design: 5, Outlet: 1}}
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	s := madeSite(41)
	y := madeYear(s)
	all, err := p.Site(s, y)
	if err != nil {
		t.Fatal(err)
	}
	p.PickedStress = true
	some, err := p.Site(s, y)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(all.Heat, some.Heat) || !slices.Equal(all.Sensitivities, some.Sensitivities) {
		t.Error("heat or sensitivities are others with stresses of picks alone")
	}
	always := []result.Stress{
		result.UVClear, result.UVBlack, result.UVMirror, result.WarmReceiver, result.WarmMirror,
		result.WindHours, result.WindMax, result.LockedDays, result.FreezingHours,
	}
	picked := []int{0, 4, 5, 7, len(testDesigns)}
	for i, got := range some.Stress {
		d, stress := i/result.Stresses%len(p.Designs), result.Stress(i%result.Stresses)
		want := all.Stress[i]
		if !slices.Contains(picked, d) && !slices.Contains(always, stress) {
			want = float32(math.NaN())
		}
		if got != want && !(got != got && want != want) {
			t.Errorf("design %d: %s is %g, want %g", d, result.StressColumns[stress].Name, got, want)
		}
	}
}
