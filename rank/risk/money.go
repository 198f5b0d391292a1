package risk

import (
	"math"
	"strconv"
	"sync"
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

// settle works out a market at f; films is empty room for its films' items.
func (m *Market) settle(f *figures, films []wearing) state {
	n := float64(m.Horizon)
	s := state{horizon: n, rate: math.Log1p(f.discount), running: f.perKWh, films: films}
	s.end = math.Exp(-n * s.rate)
	annuity := geometric(n, s.rate) / (1 + f.discount)
	s.perKWh = f.delivered * geometric(n, s.rate-math.Log1p(-f.fade)) / (1 + f.discount)
	for i := range m.Items {
		it := &m.Items[i]
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
	return geometric(k, life*s.rate) - max(0, k*life-s.horizon)/life*s.end
}

// geometric is Σ_{j<k} e^(−j·rate).
func geometric(k, rate float64) float64 {
	if rate == 0 {
		return k
	}
	if k > 64 || math.Abs(rate) < 1e-3 {
		return math.Expm1(-k*rate) / math.Expm1(-rate)
	}
	// One exponential does where so little cancels.
	v := math.Exp(-rate)
	power, base := 1.0, v
	for n := uint(k); n > 0; n >>= 1 {
		if n&1 != 0 {
			power *= base
		}
		base *= base
	}
	return (1 - power) / (1 - v)
}

// pv is the present value of all costs of a design but running ones per kWh.
func (s *state) pv(d *Design) float64 {
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
	return pv
}

// levelise sets a present value of costs against a yearly heat at the receiver:
// +Inf for none.
func (s *state) levelise(pv, heat float64) float64 {
	if !(heat > 0) {
		return math.Inf(1)
	}
	return pv/(heat*s.perKWh) + s.running
}

// lcoh is the levelised cost of a yearly heat at the receiver.
func (s *state) lcoh(d *Design, heat float64) float64 { return s.levelise(s.pv(d), heat) }

// A Money is the draws of a market. It is never changed.
type Money struct {
	market Market
	likely state
	draws  []state
}

// bills remembers what designs cost: the uses of a site mostly share their best
// designs. It is safe for concurrent use.
type bills struct {
	mu   sync.Mutex
	last [64]bill
	next int
}

// A bill is what a design costs in a market, by draw.
type bill struct {
	money  *Money
	design Design
	pv     []float64
}

// pv gives the present value of a design's costs by draw, not to be changed.
func (l *bills) pv(m *Money, d *Design) []float64 {
	l.mu.Lock()
	for i := range l.last {
		if b := &l.last[i]; b.money == m && b.design == *d {
			defer l.mu.Unlock()
			return b.pv
		}
	}
	l.mu.Unlock()
	pv := make([]float64, len(m.draws))
	for i := range pv {
		pv[i] = m.draws[i].pv(d)
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.last[l.next] = bill{m, *d, pv}
	l.next = (l.next + 1) % len(l.last)
	return pv
}

// Likely is the levelised cost of a yearly heat at the receiver with every
// figure of the market at its likely value; +Inf without heat.
func (m *Money) Likely(d *Design, heat float64) float64 { return m.likely.lcoh(d, heat) }

// Money draws the figures of a market.
func (m *Model) Money(market Market) *Money {
	out := &Money{market: market, draws: make([]state, m.o.Draws)}
	likely := market.likely()
	out.likely = market.settle(&likely, nil)
	list := market.copies(&likely, m.o.Draws)
	draw := func(name string, known bool, inverse func() func(u float64) float64, put func(f *figures) *float64) {
		if known { // as it stands in likely
			return
		}
		at := inverse()
		for i, u := range m.draw("market", market.Name, name) {
			*put(&list[i]) = at(u)
		}
	}
	level := m.draw("market", market.Name, "price level")
	own, shared := math.Sqrt(1-market.Correlation), math.Sqrt(market.Correlation)
	for i, u := range level {
		level[i] = shared * quantile(u)
	}
	priced := func(name string, r Range, put func(f *figures) *float64) {
		if r.known() {
			return
		}
		at := r.inverse()
		for i, u := range m.draw("market", market.Name, name) {
			*put(&list[i]) = at(normal(own*quantile(u) + level[i]))
		}
	}
	for k, it := range market.Items {
		id := it.Name + "#" + strconv.Itoa(k)
		priced("price "+id, it.Price, func(f *figures) *float64 { return &f.price[k] })
		priced("running "+id, it.Running, func(f *figures) *float64 { return &f.running[k] })
		draw("labour "+id, it.LabourH.known(), it.LabourH.inverse, func(f *figures) *float64 { return &f.labourH[k] })
		draw("life "+id, it.Life.known(), it.Life.inverse, func(f *figures) *float64 { return &f.life[k] })
	}
	for _, one := range market.single() {
		draw(one.name, one.known(), one.inverse, one.put)
	}
	g := &market.Gas
	draw("gas price", g.Price.known() && g.Price.Spread == 0, g.Price.inverse, func(f *figures) *float64 { return &f.gas })
	draw("boiler efficiency", g.Efficiency.known(), g.Efficiency.inverse, func(f *figures) *float64 { return &f.efficiency })
	draw("boiler running", g.Running.known(), g.Running.inverse, func(f *figures) *float64 { return &f.boilerRunning })
	draw("carbon price", g.Carbon.known(), g.Carbon.inverse, func(f *figures) *float64 { return &f.carbonPrice })
	n := len(out.likely.films)
	films := make([]wearing, n*m.o.Draws)
	for i := range list {
		out.draws[i] = market.settle(&list[i], films[i*n:i*n:(i+1)*n])
	}
	return out
}

// copies gives n copies of the figures of a market, to be changed.
func (m *Market) copies(f *figures, n int) []figures {
	list := make([]figures, n)
	items := len(m.Items)
	room := make([]float64, 0, 4*items*n)
	copyOf := func(of []float64) []float64 {
		from := len(room)
		room = append(room, of...)
		return room[from:]
	}
	for i := range list {
		list[i] = *f
		list[i].price, list[i].labourH = copyOf(f.price), copyOf(f.labourH)
		list[i].life, list[i].running = copyOf(f.life), copyOf(f.running)
	}
	return list
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
