package kernel

import (
	"fmt"
	"testing"
)

// Banks of a fleet are as banks by themselves, to the bit, whatever their sizes,
// and nothing beside the lanes is touched.
func TestFleetIsItsBanks(t *testing.T) {
	sizes := []int{1, 0, 5, 16, 17, 30, 48, 64, 3, 130, 7}
	for _, l := range []level{plain, avx2, avx512} {
		for _, drained := range []bool{false, true} {
			for banks := 0; banks <= len(sizes); banks++ {
				t.Run(fmt.Sprintf("%s/drained=%t/%d", l, drained, banks), func(t *testing.T) {
					use(t, l)
					fleetIsItsBanks(t, newProblem(130, 90, drained, 17), sizes[:banks])
				})
			}
		}
	}
}

func fleetIsItsBanks(t *testing.T, p *problem, sizes []int) {
	var alone []*Bank
	var regimes []*Regime
	const cool = 2 // outlets: the water does not come back to warmer ones every day
	for i, n := range sizes {
		regimes = append(regimes, &p.regimes[i%cool])
		alone = append(alone, NewBank(n))
		alone[i].Start(regimes[i])
	}
	f := NewFleet(sizes, regimes)
	temp, heat, light := fenced(f.t, 12345), fenced(f.heat, 12345), fenced(make([]float32, f.Lanes()), 12345)
	f.t, f.heat = temp.slice(), heat.slice()
	for i, b := range f.Banks {
		from := f.From(i)
		b.T, b.Heat = f.t[from:][:len(b.T)], f.heat[from:][:len(b.Heat)]
	}
	s, lines, together := make([]float32, p.field.Lanes), make([]*Line, len(sizes)), 0
	for h := range p.hours {
		p.field.Light(s, 0, &p.hours[h])
		for i, b := range alone {
			copy(light.slice()[f.From(i):], s[:len(b.T)])
			lines[i] = &p.lines[i%cool][h]
			b.Advance(s[:len(b.T)], regimes[i], &p.hours[h], lines[i])
		}
		if f.in() {
			together++
		}
		f.Advance(light.slice(), &p.hours[h], lines)
	}
	if together < 300 {
		t.Fatalf("all banks had their water in for %d hours: too few to show anything", together)
	}
	most := float32(0)
	for i, b := range alone {
		if err := b.differs(f.Banks[i]); err != nil {
			t.Errorf("bank %d of %d lanes: %v", i, len(b.T), err)
		}
		for _, q := range b.Heat {
			most = max(most, q)
		}
	}
	if len(sizes) > 0 && most == 0 {
		t.Error("no heat at all shows nothing")
	}
	for name, f := range map[string]*fence[float32]{"T": temp, "Heat": heat, "s": light} {
		f.check(t, name)
	}
}

// Outlets at their inlets and above them go apart.
func TestFleetOfUnlike(t *testing.T) {
	p := newProblem(20, 60, false, 19)
	p.regimes[1].In = p.regimes[1].Out
	fleetIsItsBanks(t, p, []int{20, 20, 20})
}
