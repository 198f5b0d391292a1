package rank

import (
	"slices"

	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

// A Summary is what a ranking comes to.
type Summary struct {
	Sites    int       `json:"sites"`
	Outside  int       `json:"sites_outside,omitempty"` // of the area, and in no file
	Designs  int       `json:"designs"`
	Currency string    `json:"currency"`
	Books    []BookSum `json:"books"`    // that priced the sites, in the order in which they turn up
	Results  []Outcome `json:"results"`  // by use, then outlet, in the order of the study
	Cautions []string  `json:"cautions"` // whole sentences
	Files    []string  `json:"files"`    // written, by name in the output folder
}

// An Outcome is the summary of one outlet temperature and use.
type Outcome struct {
	Use      string    `json:"use"`
	Outlet   float64   `json:"outlet_c"`
	Refused  string    `json:"not_buildable,omitempty"` // why the materials do not allow the outlet
	Sites    int       `json:"sites"`
	NoHeat   int       `json:"sites_without_heat"`
	OverCap  int       `json:"sites_over_cost_cap,omitempty"`
	BeatGas  int       `json:"sites_beating_gas"`
	Cheapest *Place    `json:"cheapest"` // nil where no site has heat
	Median   *float64  `json:"median_lcoh_per_kwh"`
	Bands    []Band    `json:"bands"`     // from south to north
	Tilt     *TiltRule `json:"tilt_rule"` // nil where no mirror is a choice
}

// A Place is where heat costs so much.
type Place struct {
	SiteID string  `json:"site_id"`
	Name   string  `json:"name"`
	Lat    float64 `json:"lat"`
	Lon    float64 `json:"lon"`
	LCOH   float64 `json:"lcoh_per_kwh"`
}

// A sum gathers an Outcome.
type sum struct {
	beatGas, overCap int
	cheapest         *Place
	lcoh             []float64
}

// sum gathers that of one layer.
func (k *Ranker) sum(layer int) (s sum, err error) {
	err = k.survey.Each(layer, func(i int, f *survey.Finding) error {
		if f.BeatsGas {
			s.beatGas++
		}
		if f.Design < 0 {
			if k.survey.Reasons[f.Without] == overCap {
				s.overCap++
			}
			return nil
		}
		s.lcoh = append(s.lcoh, f.LCOH)
		if s.cheapest == nil || f.LCOH < s.cheapest.LCOH {
			p := k.survey.Place(i)
			s.cheapest = &Place{p.ID, p.Name, p.Lat, p.Lon, f.LCOH}
		}
		return nil
	})
	return s, err
}

// books counts the sites of each book, in the order in which books turn up.
func (k *Ranker) books() (list []BookSum, err error) {
	err = k.survey.Each(0, func(n int, f *survey.Finding) error {
		book := k.survey.Place(n).Book
		i := slices.IndexFunc(list, func(s BookSum) bool { return s.Book == book })
		if i < 0 {
			i = len(list)
			list = append(list, BookSum{Book: book, GasHeat: f.GasHeat})
		}
		list[i].Sites++
		return nil
	})
	return list, err
}

func (s *sum) median() *float64 {
	n := len(s.lcoh)
	if n == 0 {
		return nil
	}
	slices.Sort(s.lcoh)
	m := (s.lcoh[(n-1)/2] + s.lcoh[n/2]) / 2
	return &m
}

func (k *Ranker) summary(bands []Band, rules []TiltRule) (Summary, error) {
	s := Summary{
		Sites: k.survey.Len(), Outside: k.outside, Designs: len(k.o.Table.Designs), Currency: k.o.Currency, Cautions: cautions(&k.o.Table),
	}
	var err error
	if s.Books, err = k.books(); err != nil {
		return s, err
	}
	uses, outlets := len(k.o.Uses), len(k.o.Table.Outlets)
	for n := range k.names {
		i := n%outlets*uses + n/outlets
		t, err := k.sum(i)
		if err != nil {
			return s, err
		}
		out := Outcome{
			Use: k.use(i), Outlet: k.outlet(i), Sites: s.Sites, NoHeat: s.Sites - len(t.lcoh) - t.overCap, OverCap: t.overCap, BeatGas: t.beatGas,
			Cheapest: t.cheapest, Median: t.median(), Refused: k.markets[0].refused[n%outlets],
		}
		// Bands come in the same order of outlets and uses, over and over.
		for b := i; b < len(bands); b += len(k.names) {
			out.Bands = append(out.Bands, bands[b])
		}
		if r := slices.IndexFunc(rules, func(r TiltRule) bool { return r.Outlet == out.Outlet && r.Use == out.Use }); r >= 0 {
			out.Tilt = &rules[r]
		}
		s.Results = append(s.Results, out)
	}
	return s, nil
}

// cautions are those that a ranking calls for, whatever the place.
func cautions(t *result.Table) (list []string) {
	if slices.ContainsFunc(t.Outlets, func(c float64) bool { return c >= 45 }) {
		list = append(list, "Water of 45 °C and more scalds: mix it down before any tap that people use.")
	}
	if slices.ContainsFunc(t.Outlets, func(c float64) bool { return c >= 25 && c <= 45 }) {
		list = append(list, "Water kept between 25 and 45 °C can breed legionella and other germs: follow the water-hygiene code of the place.")
	}
	return append(list, "Wind on the mirrors, glare, frost and films that run dry differ from place to place: look at each site by itself before building there. "+
		"Local codes and licensed practice come first.")
}
