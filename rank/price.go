package rank

import (
	"fmt"
	"math"
	"slices"

	"stillrow/rank/cost"
	"stillrow/simulate/result"
)

// A prices table holds what every site of a market shares: the cost of each
// design, with the lives its films are rated for.
type prices struct {
	designs []result.Design
	market  *Market
	lives   Lives
	by      By
	costCap float64
	refused []string    // by outlet: why it cannot be built, empty where it can
	items   [][]float64 // present value of each item of the plan, by design
	pvCost  []float64   // their sum, by design
	first   []float64   // what is bought at the start, by design
	wearing []wearing
	perKWh  float64 // present value of a yearly kWh/m² at the receiver, kWh
	yearly  float64 // mean over the horizon's years of the same, kWh delivered
	gasHeat float64
	crf     float64
}

// A wearing is the items whose life the doses of one film may shorten, rated
// for the same life. Their purchases cost in proportion to the present value of
// buying a thing worth 1.
type wearing struct {
	film      cost.Film
	one       cost.Plan   // that buys a thing worth 1 per m² of receiver
	rated     float64     // its present value at the rated life
	items     []int       // of the plan
	purchases [][]float64 // price of each at a purchase, by design and place in items
	sum       []float64   // of them, by design
}

// anyDesign is one on which a thing per m² of receiver can be priced.
var anyDesign = result.Design{ReceiverWidth: 1}

func newPrices(o *Options, m *Market) (prices, error) {
	p := prices{
		designs: o.Table.Designs, market: m, gasHeat: m.Gas.HeatCost(), lives: o.Lives, by: o.By, costCap: o.CostCap,
		perKWh: m.Plan.PVHeat(1), crf: cost.CRF(m.Plan.HorizonYears, m.Plan.DiscountRate),
		yearly: m.Plan.DeliveredShare * cost.PVFactor(m.Plan.HorizonYears, 0, m.Plan.Fade) / float64(m.Plan.HorizonYears),
	}
	for _, out := range o.Table.Outlets {
		p.refused = append(p.refused, o.Materials.refuse(out))
	}
	for i := range p.designs {
		var list []float64
		pv := 0.0
		for k := range m.Plan.Items {
			of, err := p.item(k, i)
			if err != nil {
				return p, fmt.Errorf("design %d: %w", i, err)
			}
			list, pv = append(list, of), pv+of
		}
		if !(pv > 0) {
			return p, fmt.Errorf("design %d costs %g per m²: no cost.item counts for it, so its heat would be free", i, pv)
		}
		p.items, p.pvCost = append(p.items, list), append(p.pvCost, pv)
		first, err := m.firstCost(p.designs[i])
		if err != nil {
			return p, err
		}
		p.first = append(p.first, first)
	}
	return p, p.wear()
}

// firstCost is that of everything a design needs at the start.
func (m *Market) firstCost(d result.Design) (float64, error) {
	once := m.Plan
	once.Items = slices.Clone(m.Plan.Items)
	for i := range once.Items {
		once.Items[i].LifeYears, once.Items[i].RunningPerYear = float64(once.HorizonYears), 0
	}
	return once.PVCost(d)
}

// item is the present value of item k of the plan for design d.
func (p *prices) item(k, d int) (float64, error) {
	plan := p.market.Plan
	items := plan.Items
	plan.Items = items[k : k+1]
	pv, err := plan.PVCost(p.designs[d])
	if err != nil {
		_, err = p.market.Plan.PVCost(p.designs[d]) // which names the item by its place
	}
	return pv, err
}

// wear lists the items that films may wear out.
func (p *prices) wear() error {
	plan := &p.market.Plan
	for k, it := range plan.Items {
		if _, ok := p.lives[it.Film]; !ok || it.Film == "" {
			continue
		}
		w, err := p.wearingOf(&it)
		if err != nil {
			return err
		}
		w.items = append(w.items, k)
		running := *plan
		it.Price, it.LabourH = 0, 0
		running.Items = []cost.Item{it}
		for d := range p.designs {
			pv, err := running.PVCost(p.designs[d])
			if err != nil {
				return err
			}
			price := (p.items[d][k] - pv) / w.rated
			w.purchases[d] = append(w.purchases[d], price)
			w.sum[d] += price
		}
	}
	return nil
}

// wearingOf finds or adds the wearing an item belongs to.
func (p *prices) wearingOf(it *cost.Item) (*wearing, error) {
	for i := range p.wearing {
		if w := &p.wearing[i]; w.film == it.Film && w.one.Items[0].LifeYears == it.LifeYears {
			return w, nil
		}
	}
	w := wearing{film: it.Film, one: p.market.Plan, purchases: make([][]float64, len(p.designs)), sum: make([]float64, len(p.designs))}
	w.one.Items = []cost.Item{{Unit: cost.ReceiverM2, Price: 1, LifeYears: it.LifeYears, Film: it.Film}}
	var err error
	w.rated, err = w.one.PVCost(anyDesign)
	p.wearing = append(p.wearing, w)
	return &p.wearing[len(p.wearing)-1], err
}

// A worn film is remembered, since light often strains it alike at every outlet.
type worn struct {
	prices        *prices
	strain, extra float64
}

// strain is that of a film of design d at an outlet, 0 where nothing wears.
func (p *prices) strain(w *wearing, b *result.Block, t *result.Table, outlet, d int) float64 {
	if b.Stress == nil || w.sum[d] == 0 {
		return 0
	}
	return p.lives.strain(b, t, outlet, d, w.film)
}

// extra is what the shortened life of the items costs at a strain, per unit of
// what a purchase costs, beside the rated life.
func (w *wearing) extra(strain float64) (float64, error) {
	if !(strain > 1) {
		return 0, nil
	}
	worn := w.one.Worn(map[cost.Film]float64{w.film: strain})
	pv, err := worn.PVCost(anyDesign)
	return pv - w.rated, err
}

// price fills the present values of cost in c for outlet o of block b: the
// doses its films get there shorten their lives.
func (p *prices) price(c *choice, b *result.Block, t *result.Table, o int) error {
	c.pvCost = append(c.pvCost[:0], p.pvCost...)
	for i := range p.wearing {
		if len(c.worn) == i {
			c.worn = append(c.worn, make([]worn, len(p.designs)))
		}
		w, last := &p.wearing[i], c.worn[i]
		for d := range p.designs {
			strain := p.strain(w, b, t, o, d)
			if now := (worn{p, strain, 0}); last[d].prices != p || last[d].strain != strain {
				var err error
				if now.extra, err = w.extra(strain); err != nil {
					return err
				}
				last[d] = now
			}
			c.pvCost[d] += last[d].extra * w.sum[d]
		}
	}
	return nil
}

// mirror is the area of mirror per m² of receiver.
func (p *prices) mirror(d int) float64 {
	return p.designs[d].MirrorLength / p.designs[d].ReceiverWidth
}

// saving is what a yearly heat at a levelised cost saves against gas in a
// year, levelised over the horizon, per m² of receiver.
func (p *prices) saving(lcoh, heat float64) float64 {
	return (p.gasHeat - lcoh) * heat * p.perKWh * p.crf
}

// lcoh is the levelised cost, +Inf without heat.
func (p *prices) lcoh(pvCost, heat float64) float64 {
	if !(heat > 0) {
		return math.Inf(1)
	}
	return p.market.Plan.LCOH(pvCost, heat*p.perKWh)
}
