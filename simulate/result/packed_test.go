package result

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// Blocks come out as they went in, one after the other, and no cut is taken for
// a whole one.
func TestPacked(t *testing.T) {
	table := Table{Designs: make([]Design, 3), Outlets: []float64{35, 60}}
	r := rand.New(rand.NewPCG(1, 2))
	numbers := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = r.Float32()
		}
		return v
	}
	sens := Sensitivity{Pick: Pick{Design: 2, Outlet: 1}}
	sens.Low[C1][3], sens.High[Irradiance][11] = 1.5, 2.5
	blocks := []Block{
		{Heat: numbers(72), Stress: numbers(6 * Stresses), Sensitivities: []Sensitivity{sens, {}, sens}},
		{Heat: numbers(72)},
	}
	blocks[0].Stress[4] = float32(math.NaN())
	var buf []byte
	var ends []int
	for i := range blocks {
		buf = blocks[i].AppendPacked(buf)
		ends = append(ends, len(buf))
	}
	rest := buf
	for i := range blocks {
		var b Block
		var err error
		if rest, err = b.Unpack(rest, &table); err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(blocks[i], b, cmpopts.EquateNaNs()); d != "" {
			t.Errorf("block %d: -want +got:\n%s", i, d)
		}
	}
	if len(rest) != 0 {
		t.Errorf("%d bytes are left", len(rest))
	}
	for n := range ends[0] {
		if _, err := new(Block).Unpack(buf[:n], &table); err == nil {
			t.Errorf("%d bytes of %d unpack", n, ends[0])
		}
	}
	if _, err := new(Block).Unpack(buf, &Table{Designs: make([]Design, 2), Outlets: table.Outlets}); err == nil {
		t.Error("a block of other designs unpacks")
	}
}
