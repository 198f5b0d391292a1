package main

import (
	"cmp"
	"math"

	"stillrow/cmd/stillrow/study"
	"stillrow/ingest/weather"
	"stillrow/rank"
	"stillrow/simulate"
	"stillrow/simulate/collector"
	"stillrow/simulate/result"
)

type siteCmd struct {
	placeFlags
	studyFlag
	designFlag
	outFlag
	AllDesigns bool `help:"With --json, every candidate, not the best alone."`
	sheetFlags
	jsonFlag
	workFlags
}

func (*siteCmd) Help() string {
	return `One place: for every use and outlet the best design, its heat month by month, what it costs against gas, how its films fare, with the cautions that apply and everything that was assumed.

Example: stillrow site --at 36.5,-42

With a page for whoever builds 40 m of row: stillrow site --at 36.5,-42 --use cooling --outlet 60 --row-m 40 --sheet site.html`
}

// A siteResult is one design at one outlet for one use.
type siteResult struct {
	Design    *collector.Design `json:"design"` // nil where no design has heat
	Outlet    float64           `json:"outlet_c"`
	Use       string            `json:"use"`
	Heat      float64           `json:"heat_kwh_m2"` // of the use's months
	Months    [12]float64       `json:"month_kwh_m2"`
	LCOH      *float64          `json:"lcoh_per_kwh"` // nil without heat
	GasHeat   float64           `json:"gas_heat_per_kwh"`
	GasRatio  *float64          `json:"gas_ratio"`
	Buildable bool              `json:"buildable"`
	Without   string            `json:"without_design,omitempty"` // why there is none
	UsedShare *float64          `json:"used_share"`               // of the heat of the use's months
	BreakEven *float64          `json:"breakeven_gas_price_per_kwh"`
	Saving    *float64          `json:"saving_per_m2_year"`
	Payback   *float64          `json:"payback_years"` // nil where the horizon ends before
	CO2       *float64          `json:"co2_avoided_kg_m2_year"`
	Split     []rank.Part       `json:"lcoh_split"` // by cost item
	RunnerUp  *runnerUp         `json:"runner_up"`  // of the best design
	rank.Spread
	Tornado  []tornadoBar `json:"tornado,omitempty"` // of the best design, the widest first
	Cautions []string     `json:"cautions"`

	outlet, use, design int // numbers; design -1 for none
	cautions            []caution
}

// A tornadoBar is the levelised cost with one input at its low and its high
// alone.
type tornadoBar struct {
	Input  string   `json:"input"`
	Low    float64  `json:"low"` // of the input
	High   float64  `json:"high"`
	AtLow  *float64 `json:"lcoh_at_low_per_kwh"` // nil without heat
	AtHigh *float64 `json:"lcoh_at_high_per_kwh"`

	Relative bool `json:"relative"` // low and high are changes
}

// A runnerUp is the next best heater.
type runnerUp struct {
	Design *collector.Design `json:"design"`
	LCOH   float64           `json:"lcoh_per_kwh"`
	Extra  float64           `json:"extra_percent"` // on the best one's LCOH
	Heat   float64           `json:"heat_kwh_m2"`

	design int
}

// A siteReport is everything about one place.
type siteReport struct {
	place   *place
	study   *study.Study
	country string
	book    string
	table   result.Table
	block   *result.Block
	picks   []rank.Pick
	results []siteResult
}

func (c *siteCmd) Run(e *env) error {
	if err := cmp.Or(c.workFlags.check(), c.sheetFlags.check()); err != nil {
		return err
	}
	if c.AllDesigns && !c.JSON {
		return usagef("--all-designs goes with --json")
	}
	p, err := c.find(e, c.Out, e.notes(c.Quiet))
	if err != nil {
		return err
	}
	m, err := studyFor(c.studyFlag, c.designFlag, p)
	if err != nil {
		return err
	}
	e.warn(m.warnings())
	plan, err := prepare(e.ctx, m.study(), &c.workFlags)
	if err != nil {
		return err
	}
	r, err := newSiteReport(plan, m, p)
	if err != nil {
		return err
	}
	if c.Hourly != "" {
		if err := c.hourly(e, plan, r); err != nil {
			return err
		}
	}
	if c.Sheet != "" {
		if err := c.writeSheet(e, plan, r, c.Workers, e.notes(c.Quiet)); err != nil {
			return err
		}
	}
	if !c.JSON {
		return r.writeText(e.stdout)
	}
	results := r.results
	if c.AllDesigns {
		if results, err = r.all(); err != nil {
			return err
		}
	}
	return writeJSON(e.stdout, struct {
		Site    siteJSON     `json:"site"`
		Results []siteResult `json:"results"`
	}{newSiteJSON(r), results})
}

func newSiteReport(plan *simulate.Plan, m *markets, p *place) (*siteReport, error) {
	r := &siteReport{place: p, study: m.study(), table: plan.Table()}
	o := m.ranking()
	sure, err := m.sure(&o, plan, true)
	if err != nil {
		return nil, err
	}
	if r.block, err = plan.Site(p.site, p.year); err != nil {
		return nil, err
	}
	if r.picks, err = rank.Picks(o, r.block); err != nil {
		return nil, err
	}
	r.country, r.book = o.CountryOf(r.block.Site), r.picks[0].Book
	for i := range r.picks {
		k := &r.picks[i]
		res, err := r.result(k, k.Best)
		if err != nil {
			return nil, err
		}
		if d := k.Second; d >= 0 {
			res.RunnerUp = &runnerUp{&r.study.Designs[d], k.LCOH[d], 100 * (k.LCOH[d]/k.LCOH[k.Best] - 1), k.Heat[d], d}
		}
		res.Spread = k.Spread
		for _, bar := range sure.Tornado(r.block, k) {
			res.Tornado = append(res.Tornado, tornadoBar{
				Input: bar.Input, Low: bar.Low, High: bar.High,
				AtLow: finite(bar.AtLow), AtHigh: finite(bar.AtHigh), Relative: bar.Relative,
			})
		}
		r.results = append(r.results, res)
	}
	return r, nil
}

// finite gives a cost, nil where there is no heat to bear it.
func finite(cost float64) *float64 {
	if math.IsInf(cost, 0) || math.IsNaN(cost) {
		return nil
	}
	return &cost
}

// all lists every candidate of every pick.
func (r *siteReport) all() ([]siteResult, error) {
	var list []siteResult
	for i := range r.picks {
		for d := range r.table.Designs {
			res, err := r.result(&r.picks[i], d)
			if err != nil {
				return nil, err
			}
			list = append(list, res)
		}
	}
	return list, nil
}

// result sets out design d of a pick, -1 for none.
func (r *siteReport) result(k *rank.Pick, d int) (siteResult, error) {
	gas := r.study.Gas.HeatCost()
	res := siteResult{
		Outlet: r.table.Outlets[k.Outlet], Use: r.study.Uses[k.Use].Name, GasHeat: gas, Buildable: k.Refused == "",
		Split: []rank.Part{}, outlet: k.Outlet, use: k.Use, design: d,
	}
	if d < 0 {
		res.Without = k.Reason
	} else {
		design := r.study.Designs[d]
		res.Design = &design
		res.Heat = k.Heat[d]
		for m, q := range r.block.Months(&r.table, k.Outlet, d) {
			res.Months[m] = float64(q)
		}
		if lcoh := k.LCOH[d]; !math.IsInf(lcoh, 1) {
			m, err := k.Money(d)
			if err != nil {
				return res, err
			}
			res.LCOH, res.GasRatio, res.UsedShare = &lcoh, &m.Ratio, &m.UsedShare
			res.BreakEven, res.Saving, res.Payback, res.CO2, res.Split = &m.BreakEven, &m.Saving, m.Payback, &m.CO2, m.Split
		}
	}
	res.cautions = r.cautions(k, d)
	for _, c := range res.cautions {
		res.Cautions = append(res.Cautions, c.text)
	}
	return res, nil
}

// A siteJSON is the site as JSON gives it.
type siteJSON struct {
	ID         string      `json:"site_id"`
	Name       string      `json:"name"`
	Lat        float64     `json:"lat"`
	Lon        float64     `json:"lon"`
	Elevation  float64     `json:"elevation_m"`
	UTCOffset  float64     `json:"utc_offset_h"`
	Country    string      `json:"country"`
	CostBook   string      `json:"book"`
	Source     string      `json:"source"`
	Kind       string      `json:"kind"`
	Flags      []string    `json:"flags"`
	SplitModel string      `json:"split_model"`
	Year       [12]int     `json:"year"`
	ClockMin   [12]int     `json:"clock_min"`
	HDD        [12]float64 `json:"hdd"`
	CDD        [12]float64 `json:"cdd"`
	GHI        float64     `json:"ghi_kwh_m2"`
	DNI        float64     `json:"dni_kwh_m2"`
	DHI        float64     `json:"dhi_kwh_m2"`
}

func newSiteJSON(r *siteReport) siteJSON {
	p := r.place
	s := p.site
	j := siteJSON{
		ID: s.ID, Name: s.Name, Lat: s.Lat, Lon: s.Lon, Elevation: s.Elevation, UTCOffset: s.UTCOffset,
		Country: r.country, CostBook: r.book, Source: s.Source, Kind: s.Kind, Flags: s.Flags, SplitModel: s.SplitModel,
		Year: s.Year, ClockMin: s.ClockMin, HDD: s.HDD, CDD: s.CDD,
		GHI: yearly(p.year.GHI), DNI: yearly(p.year.DNI), DHI: yearly(p.year.DHI),
	}
	if j.Flags == nil {
		j.Flags = []string{}
	}
	return j
}

// yearly sums a column of W/m² to kWh/m².
func yearly(v []float32) (sum float64) {
	for _, x := range v[:weather.Hours] {
		sum += float64(x) / 1000
	}
	return sum
}
