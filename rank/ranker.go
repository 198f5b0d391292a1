package rank

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

// A Ranker ranks sites one after the other. Its files appear with Finish;
// Abort, which may always be deferred, throws away what Finish has not
// completed.
type Ranker struct {
	o        Options
	markets  []prices
	books    []BookSum
	choice   choice
	bands    bands
	sums     []sum // by outlet·len(Uses)+use
	names    []string
	survey   *survey.Survey // its layers in the same order
	findings []survey.Finding
	texts    map[string]string
	outside  int // sites out of the area
}

// ErrOutside means that there is no place in the area where places must lie.
var ErrOutside = errors.New("no place in the area")

// New checks the options and makes the folder o.Out.
func New(o Options) (*Ranker, error) {
	k := &Ranker{o: o, sums: make([]sum, len(o.Table.Outlets)*len(o.Uses)), texts: make(map[string]string)}
	var err error
	if k.markets, err = pricesOf(&o); err != nil {
		return nil, err
	}
	k.bands = newBands(&o)
	if k.names, err = mapNames(o.Table.Outlets, o.Uses); err != nil {
		return nil, err
	}
	var layers []survey.Layer
	for i := range k.names {
		layers = append(layers, survey.Layer{Use: valid(k.use(i)), Outlet: k.outlet(i)})
	}
	if k.survey, err = survey.New(o.Out, layers, o.Table.Designs, o.Currency); err != nil {
		return nil, err
	}
	k.survey.Within = o.Within
	k.findings = make([]survey.Finding, len(layers))
	return k, nil
}

// use and outlet are those of map i.
func (k *Ranker) use(i int) string     { return k.o.Uses[i%len(k.o.Uses)].Name }
func (k *Ranker) outlet(i int) float64 { return k.o.Table.Outlets[i/len(k.o.Uses)] }

// Add ranks the next site of the heat table, unless it lies out of the area. It
// does not keep the block. A block it refuses for what is in it leaves no trace.
func (k *Ranker) Add(b *result.Block) error {
	if err := k.o.check(b); err != nil {
		return err
	}
	m, book, err := k.o.market(&b.Site)
	if err != nil {
		return fmt.Errorf("rank: %w", err)
	}
	place := k.place(&b.Site, book)
	if err := place.Check(); err != nil {
		return fmt.Errorf("rank: %w", err)
	}
	if k.o.Within != nil && !k.o.Within.Overlaps(place.Lat, place.Lon, place.CellDeg, place.CellLonDeg) {
		k.outside++
		return nil
	}
	p, t := &k.markets[m], &k.o.Table
	caps := make([][12]float64, len(k.o.Uses))
	for u := range caps {
		caps[u] = k.o.Uses[u].caps(&b.Site, p.market.Plan.DeliveredShare)
	}
	for i := range k.names {
		o, u := i/len(k.o.Uses), i%len(k.o.Uses)
		if u == 0 {
			if err := p.price(&k.choice, b, t, o); err != nil {
				return fmt.Errorf("rank: site %s: %w", b.Site.ID, err)
			}
		}
		p.choose(&k.choice, b, t, o, &caps[u])
		pick := p.pick(&k.choice, b, t, m, book, o, u, &caps[u])
		pick.Spread = k.o.spread(b, &pick)
		if k.findings[i], err = k.finding(b, &pick); err != nil {
			return fmt.Errorf("rank: site %s: %w", b.Site.ID, err)
		}
		k.bands.add(b.Site.Lat, o, u, &k.choice, p)
		k.sums[i].add(&place, &k.findings[i], pick.Reason)
	}
	if err := k.survey.Add(place, k.findings); err != nil {
		return fmt.Errorf("rank: %w", err)
	}
	k.countBook(book, p.gasHeat)
	return nil
}

// countBook counts a site of a book, in the order in which books turn up.
func (k *Ranker) countBook(book string, gasHeat float64) {
	i := slices.IndexFunc(k.books, func(s BookSum) bool { return s.Book == book })
	if i < 0 {
		i = len(k.books)
		k.books = append(k.books, BookSum{Book: book, GasHeat: gasHeat})
	}
	k.books[i].Sites++
}

// Finish writes the files and gives them their names. Nothing appears before
// all of them are complete, and nothing at all when ctx ends first.
func (k *Ranker) Finish(ctx context.Context) (Summary, error) {
	defer k.Abort()
	if k.survey.Len() == 0 && k.outside > 0 {
		return Summary{}, fmt.Errorf("rank: %w: all %d lie out of it", ErrOutside, k.outside)
	}
	if err := k.survey.Finish(); err != nil {
		return Summary{}, fmt.Errorf("rank: %w", err)
	}
	bands := k.bands.list(&k.o)
	rules := k.bands.rules(&k.o, bands)
	s := k.summary(bands, rules)
	files := k.files(ctx, &s, bands, rules)
	for _, f := range files {
		s.Files = append(s.Files, f.name)
	}
	if err := writeAll(ctx, k.o.Out, files, k.o.Writing); err != nil {
		return Summary{}, err
	}
	return s, nil
}

// Abort removes what Finish has not completed.
func (k *Ranker) Abort() { k.survey.Close() }
