package main

import (
	"fmt"
	"slices"
	"strings"

	"stillrow/cmd/stillrow/study"
	"stillrow/data"
	"stillrow/data/world"
	"stillrow/ingest/weather"
	"stillrow/rank"
	"stillrow/rank/risk"
	"stillrow/simulate"
	"stillrow/simulate/result"
)

// markets are a study as the countries of a run's sites price it: one study for
// every cost book in play. They differ in prices and what is said of them.
type markets struct {
	studies []*study.Study
	number  map[string]int    // of a site's study, by site_id; -1 where its country has no book
	country map[string]string // code of a site's country, by site_id; "" for none
	within  *region           // that rank keeps to
	world   *world.World      // nil where all sites are the demo's
}

// markets reads the study for sites. A study that names a cost book has that
// one for all of them; sites without a book have the first study, which is then
// that of the default book.
func (s studyFlag) markets(sites []result.Site) (*markets, error) {
	file, text, err := s.text()
	if err != nil {
		return nil, err
	}
	return marketsIn(file, text, sites)
}

// marketsIn is markets of a study that is read already.
func marketsIn(file string, text []byte, sites []result.Site) (*markets, error) {
	m := &markets{number: make(map[string]int), country: make(map[string]string)}
	books, err := m.locate(sites)
	if err != nil {
		return nil, err
	}
	byBook, err := study.LoadEach(file, text, data.FS, books)
	if err != nil {
		return nil, err
	}
	if byBook[books[0]].OwnBook {
		m.studies = []*study.Study{byBook[books[0]]}
		for id := range m.number {
			m.number[id] = 0
		}
		return m, nil
	}
	for _, name := range books {
		m.studies = append(m.studies, byBook[name])
	}
	return m, nil
}

// locate finds the country and the book of every site, and lists the books: the
// default one first where a site has no other, at least one.
func (m *markets) locate(sites []result.Site) ([]string, error) {
	shelf, err := study.Books(data.FS)
	if err != nil {
		return nil, err
	}
	var books []string
	without := len(sites) == 0
	of := make([]string, len(sites))
	for i := range sites {
		s := &sites[i]
		if strings.EqualFold(s.Country, demoBook) {
			of[i] = demoBook
		} else {
			if m.world == nil {
				if m.world, err = world.Load(data.FS); err != nil {
					return nil, err
				}
			}
			code, _ := m.world.Country(s.Lat, s.Lon)
			m.country[s.ID], of[i] = code, shelf.Of(code)
		}
		if of[i] == "" {
			without = true
		} else if !slices.Contains(books, of[i]) {
			books = append(books, of[i])
		}
	}
	if without {
		books = append([]string{study.DefaultBook}, books...)
	}
	for i, book := range of {
		m.number[sites[i].ID] = -1
		if book != "" {
			m.number[sites[i].ID] = slices.Index(books, book)
		}
	}
	return books, nil
}

// study gives what all sites have in common.
func (m *markets) study() *study.Study { return m.studies[0] }

// ranking gives the study as rank takes it, with every country's prices.
func (m *markets) ranking() rank.Options {
	o := m.study().Ranking()
	o.Markets = nil
	for _, s := range m.studies {
		o.Markets = append(o.Markets, s.Market())
	}
	o.MarketOf = func(s result.Site) int { return m.number[s.ID] }
	o.CountryOf = func(s result.Site) string {
		if code := m.country[s.ID]; code != "" {
			return code
		}
		return s.Country
	}
	if m.within != nil {
		o.Within = m.within.Area
	}
	return o
}

// sure makes the plan record how the designs that matter answer to changed
// inputs, and rank tell how sure their cost is. o is what rank gets; its table
// and its spread are put in.
func (m *markets) sure(o *rank.Options, plan *simulate.Plan, runnerUp bool) (*rank.Sure, error) {
	o.Table = plan.Table()
	var err error
	if plan.Pick, err = rank.Picker(*o, runnerUp); err != nil {
		return nil, err
	}
	o.Table = plan.Table() // which has sensitivities now
	return m.spread(o), nil
}

// spread makes rank tell how sure costs are, of the sensitivities that the
// blocks of o's table carry.
func (m *markets) spread(o *rank.Options) *rank.Sure {
	s := m.study()
	sure := rank.NewSure(*o, risk.New(s.Risk()), s.Spread.Money)
	o.Spread = sure.Spread
	return sure
}

// warnings are those of all books, each once with the books it is about.
func (m *markets) warnings() (list []string) {
	const book = "\x00" // stands for a book's name
	about := make(map[string][]string)
	var order []string
	for _, s := range m.studies {
		for _, w := range s.Warnings {
			w = strings.Replace(w, s.Book, book, 1)
			if about[w] == nil {
				order = append(order, w)
			}
			about[w] = append(about[w], s.Book)
		}
	}
	for _, w := range order {
		names := about[w]
		text := names[0]
		if more := len(names) - 1; more > 0 {
			text += fmt.Sprintf(" (and %d more)", more)
		}
		list = append(list, strings.Replace(w, book, text, 1))
	}
	return list
}

// records parts the settings into those that hold for all sites and those that
// a book has of its own, and counts the sites of each.
func (m *markets) records() (shared []study.Setting, books []bookRecord) {
	count := make(map[string]int)
	for _, s := range m.studies {
		for _, set := range s.Settings {
			count[settingKey(set)]++
		}
		books = append(books, bookRecord{Book: s.Book})
	}
	for i, s := range m.studies {
		for _, set := range s.Settings {
			switch {
			case count[settingKey(set)] < len(m.studies):
				books[i].Settings = append(books[i].Settings, set)
			case i == 0:
				shared = append(shared, set)
			}
		}
	}
	for _, n := range m.number {
		if n < 0 {
			books[0].StandsIn++
		} else {
			books[n].Sites++
		}
	}
	return shared, books
}

// settingKey tells settings of different key, value or source apart.
func settingKey(s study.Setting) string { return fmt.Sprintf("%q %v %q", s.Key, s.Value, s.Source) }

// resultSites gives the sites of a weather table as later stages take them.
func resultSites(sites []weather.Site) []result.Site {
	list := make([]result.Site, len(sites))
	for i, s := range sites {
		list[i] = result.Site(s)
	}
	return list
}
