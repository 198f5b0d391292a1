package rank

import (
	"testing"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// The tests compute by hand under this plan: no discount, ten years, 10 per m²
// of receiver and 4 per m² of mirror, so that with a mirror of L m on a receiver
// of 1 m
//
//	LCOH = (10 + 4·L) / (10 · heat)
//
// against gas at 0.1 per kWh of heat.
var (
	handPlan = cost.Plan{
		Items: []cost.Item{
			{Name: "receiver", Unit: cost.ReceiverM2, Price: 10, LifeYears: 10},
			{Name: "mirror", Unit: cost.MirrorM2, Price: 4, LifeYears: 10},
		},
		HorizonYears: 10, DeliveredShare: 1,
	}
	handGas = cost.Gas{PricePerKWh: 0.09, Basis: cost.LowerHeatingValue, BoilerEfficiency: 0.9}

	wholeYear = Use{Name: "year", Months: [12]bool{true, true, true, true, true, true, true, true, true, true, true, true}}
)

func handOptions(t *testing.T, designs []result.Design, uses ...Use) Options {
	return Options{
		Table: result.Table{Designs: designs, Outlets: []float64{45}}, Uses: uses,
		Markets: []Market{{"hand", handPlan, handGas}}, BandDeg: 5, Currency: "EUR", Out: t.TempDir(),
	}
}

// mirror is a design on 1 m of receiver.
func mirror(length, tilt float64) result.Design {
	return result.Design{ReceiverWidth: 1, MirrorLength: length, MirrorTilt: tilt}
}

// flat is a site whose designs yield so much heat, kWh/m² a year, the same in
// every month.
func flat(id string, lat float64, heat ...float64) *result.Block {
	b := &result.Block{Site: result.Site{ID: id, Lat: lat}}
	for _, h := range heat {
		for range 12 {
			b.Heat = append(b.Heat, float32(h/12))
		}
	}
	return b
}

// decide is the choice of one site at the one outlet of o, for its first use.
func decide(t *testing.T, o Options, b *result.Block) *choice {
	t.Helper()
	picks, err := Picks(o, b)
	if err != nil {
		t.Fatal(err)
	}
	return picks[0].choice
}

// rowAt is the row of one site at the one outlet of o, for its first use.
func rowAt(t *testing.T, o Options, b *result.Block) row {
	t.Helper()
	k, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer k.Abort()
	list, err := picks(&k.o, k.markets, b)
	if err != nil {
		t.Fatal(err)
	}
	batch := k.Batch()
	f, err := batch.finding(b, &list[0])
	if err != nil {
		t.Fatal(err)
	}
	k.survey.Reasons = batch.reasons
	p := k.place(&b.Site, list[0].Book)
	return rowOf(k.survey, &k.survey.Layers[0], &p, &f)
}

// summarise ranks the blocks.
func summarise(t *testing.T, o Options, blocks ...*result.Block) Summary {
	t.Helper()
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
	s, err := k.Finish(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// add ranks one block.
func add(k *Ranker, b *result.Block) error {
	batch := k.Batch()
	if err := batch.Add(b); err != nil {
		return err
	}
	return k.Take(batch)
}
