package rank

import (
	"context"
	"errors"
	"fmt"

	"stillrow/rank/survey"
)

// A Ranker ranks sites, batch by batch. Its files appear with Finish; Abort, which
// may always be deferred, throws away what Finish has not completed.
type Ranker struct {
	o       Options
	markets []prices
	bands   bands
	names   []string       // of the maps, by outlet·len(Uses)+use
	survey  *survey.Survey // its layers in the same order
	texts   map[string]string
	outside int // sites out of the area
}

// ErrOutside means that there is no place in the area where places must lie.
var ErrOutside = errors.New("no place in the area")

// New checks the options and makes the folder o.Out.
func New(o Options) (*Ranker, error) {
	k := &Ranker{o: o, texts: make(map[string]string)}
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
	return k, nil
}

// use and outlet are those of map i.
func (k *Ranker) use(i int) string     { return k.o.Uses[i%len(k.o.Uses)].Name }
func (k *Ranker) outlet(i int) float64 { return k.o.Table.Outlets[i/len(k.o.Uses)] }

// Finish writes the files and gives them their names. Nothing appears before
// all of them are complete, and nothing at all when ctx ends first.
func (k *Ranker) Finish(ctx context.Context) (Summary, error) {
	defer k.Abort()
	k.o.Spread = nil // it has served, and pictures want room
	if k.survey.Len() == 0 && k.outside > 0 {
		return Summary{}, fmt.Errorf("rank: %w: all %d lie out of it", ErrOutside, k.outside)
	}
	if err := k.survey.Finish(); err != nil {
		return Summary{}, fmt.Errorf("rank: %w", err)
	}
	north, south := k.survey.Hemispheres()
	for i := range k.survey.Layers {
		use := &k.o.Uses[i%len(k.o.Uses)]
		k.survey.Layers[i].When, k.survey.Layers[i].Months = use.when(north, south), use.northern()
	}
	bands := k.bands.list(&k.o)
	rules := k.bands.rules(&k.o, bands)
	s, err := k.summary(bands, rules)
	if err != nil {
		return Summary{}, fmt.Errorf("rank: %w", err)
	}
	files := k.files(ctx, &s, bands, rules)
	for _, f := range files {
		s.Files = append(s.Files, f.name)
	}
	if err := writeAll(ctx, k.o.Out, files, k.o.Workers, k.o.Writing); err != nil {
		return Summary{}, err
	}
	return s, nil
}

// Abort removes what Finish has not completed.
func (k *Ranker) Abort() { k.survey.Close() }
