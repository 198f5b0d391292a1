package risk

import (
	"math"
	"strconv"
)

// Units are the kinds of thing an Item may be counted by, and Films the films
// whose wear may shorten its life; the caller numbers them.
const (
	Units = 5
	Films = 3
)

// An Item is one thing to buy, and to buy again when its life is over.
type Item struct {
	Name    string
	Unit    int   // 0 to Units−1
	Film    int   // 0 to Films−1, −1 for an item that no film's wear shortens
	Price   Range // per unit
	LabourH Range // hours of work per unit, at every purchase
	Life    Range // years
	Running Range // per unit and year
}

// A Market is the money of the places that one cost book prices.
type Market struct {
	Name        string // one draw for all markets of a name
	Items       []Item
	Horizon     int     // years
	Discount    Range   // real, per year
	Fade        Range   // share of the heat lost per year
	Labour      Range   // per hour
	Delivered   Range   // share of the receiver's heat that reaches the user
	PerKWh      Range   // running costs per kWh delivered
	Correlation float64 // 0 to 1, between what items cost: they share polymers, freight and exchange
	Gas         Gas
}

// Gas is heat from a boiler.
type Gas struct {
	Price      Price   // per kWh
	PerLower   float64 // what brings the price to the lower heating value
	Efficiency Range   // on the lower heating value
	Running    Range   // per kWh of heat
	Carbon     Range   // per kg of CO2
	CO2        float64 // kg per kWh of gas, lower heating value
}

// A Design is what one m² of receiver takes, and how its films wear.
type Design struct {
	Per    [Units]float64 // units per m² of receiver
	Strain [Films]float64 // what a film gets in a year over what its rated life stands for; up to 1 leaves the life
}

// minLife keeps a worn film from being bought without end, years.
const minLife = 0.01

// figures are one value of every figure of a market.
type figures struct {
	price, labourH, life, running               []float64 // by item
	discount, fade, labour, delivered, perKWh   float64
	gas, efficiency, boilerRunning, carbonPrice float64
}

// A state is what a market comes to at one value of every figure.
type state struct {
	units   [Units]float64 // present value of the items whose life no film shortens, and of running costs, per unit
	films   []wearing
	horizon float64
	rate    float64 // ln(1 + discount)
	end     float64 // present value of 1 at the horizon
	perKWh  float64 // present value of a yearly kWh at the receiver, kWh delivered
	running float64 // per kWh delivered
	gas     float64 // cost of heat from gas
}

// A wearing is an item that a film's wear shortens.
type wearing struct {
	unit, film         int
	price, life, rated float64 // a purchase; years; present value of a purchase of 1 over the horizon at that life
}

// settle works out a market at f.
func (m *Market) settle(f *figures) state {
	n := float64(m.Horizon)
	s := state{horizon: n, rate: math.Log1p(f.discount), running: f.perKWh}
	s.end = math.Exp(-n * s.rate)
	annuity, heat, year := 0.0, 0.0, 1.0
	for t := 1; t <= m.Horizon; t++ {
		v := math.Exp(-float64(t) * s.rate)
		annuity += v
		heat += year * v
		year *= 1 - f.fade
	}
	s.perKWh = f.delivered * heat
	for i, it := range m.Items {
		price := f.price[i] + f.labourH[i]*f.labour
		s.units[it.Unit] += f.running[i] * annuity
		if it.Film >= 0 {
			s.films = append(s.films, wearing{it.Unit, it.Film, price, f.life[i], s.purchases(f.life[i])})
			continue
		}
		s.units[it.Unit] += price * s.purchases(f.life[i])
	}
	s.gas = (f.gas*m.Gas.PerLower+f.carbonPrice*m.Gas.CO2)/f.efficiency + f.boilerRunning
	return s
}

// purchases is the present value of buying a thing worth 1 at year 0 and at
// every multiple of its life before the horizon N, less the straight-line credit
// for what the last of the k purchases has left there:
//
//	(1 − v^(k·life))/(1 − v^life) − (k·life − N)/life · v^N
//
// It is continuous in life.
func (s *state) purchases(life float64) float64 {
	life = max(life, minLife)
	k := math.Ceil(s.horizon / life * (1 - 1e-9)) // three times 1.1 years is 3.3, not a little more
	sum := k
	if s.rate > 0 {
		sum = math.Expm1(-k*life*s.rate) / math.Expm1(-life*s.rate)
	}
	return sum - max(0, k*life-s.horizon)/life*s.end
}

// lcoh is the levelised cost of a yearly heat at the receiver, +Inf for none.
func (s *state) lcoh(d *Design, heat float64) float64 {
	if !(heat > 0) {
		return math.Inf(1)
	}
	pv := 0.0
	for u, v := range s.units {
		pv += v * d.Per[u]
	}
	for i := range s.films {
		f := &s.films[i]
		factor := f.rated
		if strain := d.Strain[f.film]; strain > 1 {
			factor = s.purchases(f.life / strain)
		}
		pv += f.price * factor * d.Per[f.unit]
	}
	return pv/(heat*s.perKWh) + s.running
}

// A Money is the draws of a market. It is never changed.
type Money struct {
	market Market
	likely state
	draws  []state
}

// Likely is the levelised cost of a yearly heat at the receiver with every
// figure of the market at its likely value; +Inf without heat.
func (m *Money) Likely(d *Design, heat float64) float64 { return m.likely.lcoh(d, heat) }

// Money draws the figures of a market.
func (m *Model) Money(market Market) *Money {
	n := len(market.Items)
	out := &Money{market: market, draws: make([]state, m.o.Draws)}
	likely := market.likely()
	out.likely = market.settle(&likely)
	list := make([]figures, m.o.Draws)
	for i := range list {
		list[i].price, list[i].labourH = make([]float64, n), make([]float64, n)
		list[i].life, list[i].running = make([]float64, n), make([]float64, n)
	}
	draw := func(name string, at func(u float64) float64, put func(f *figures) *float64) {
		for i, u := range m.draw("market", market.Name, name) {
			*put(&list[i]) = at(u)
		}
	}
	level := m.draw("market", market.Name, "price level")
	own, shared := math.Sqrt(1-market.Correlation), math.Sqrt(market.Correlation)
	priced := func(name string, r Range, put func(f *figures) *float64) {
		at := r.inverse()
		for i, u := range m.draw("market", market.Name, name) {
			*put(&list[i]) = at(normal(own*quantile(u) + shared*quantile(level[i])))
		}
	}
	for k, it := range market.Items {
		id := it.Name + "#" + strconv.Itoa(k)
		priced("price "+id, it.Price, func(f *figures) *float64 { return &f.price[k] })
		priced("running "+id, it.Running, func(f *figures) *float64 { return &f.running[k] })
		draw("labour "+id, it.LabourH.inverse(), func(f *figures) *float64 { return &f.labourH[k] })
		draw("life "+id, it.Life.inverse(), func(f *figures) *float64 { return &f.life[k] })
	}
	for _, one := range market.single() {
		draw(one.name, one.inverse(), one.put)
	}
	g := &market.Gas
	draw("gas price", g.Price.inverse(), func(f *figures) *float64 { return &f.gas })
	draw("boiler efficiency", g.Efficiency.inverse(), func(f *figures) *float64 { return &f.efficiency })
	draw("boiler running", g.Running.inverse(), func(f *figures) *float64 { return &f.boilerRunning })
	draw("carbon price", g.Carbon.inverse(), func(f *figures) *float64 { return &f.carbonPrice })
	for i := range list {
		out.draws[i] = market.settle(&list[i])
	}
	return out
}

// A single is a figure of a market as a whole that moves the levelised cost.
type single struct {
	name string
	Range
	put func(*figures) *float64
}

func (m *Market) single() []single {
	return []single{
		{"discount rate", m.Discount, func(f *figures) *float64 { return &f.discount }},
		{"fade", m.Fade, func(f *figures) *float64 { return &f.fade }},
		{"labour per hour", m.Labour, func(f *figures) *float64 { return &f.labour }},
		{"delivered share", m.Delivered, func(f *figures) *float64 { return &f.delivered }},
		{"running cost per kWh", m.PerKWh, func(f *figures) *float64 { return &f.perKWh }},
	}
}

// likely is every figure at its likely value.
func (m *Market) likely() figures {
	g := &m.Gas
	f := figures{gas: g.Price.Likely, efficiency: g.Efficiency.Likely, boilerRunning: g.Running.Likely, carbonPrice: g.Carbon.Likely}
	for _, one := range m.single() {
		*one.put(&f) = one.Likely
	}
	for _, it := range m.Items {
		f.price, f.labourH = append(f.price, it.Price.Likely), append(f.labourH, it.LabourH.Likely)
		f.life, f.running = append(f.life, it.Life.Likely), append(f.running, it.Running.Likely)
	}
	return f
}
