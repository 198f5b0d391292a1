package rank

import (
	"encoding/gob"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"

	"stillrow/rank/survey"
	"stillrow/simulate/result"
)

// A Batch is what a run of sites comes to, before a Ranker takes it. Batches of one
// Ranker may be filled at the same time, each by one goroutine.
type Batch struct {
	k        *Ranker
	choice   choice
	bands    bands
	places   []survey.Place
	findings []survey.Finding // of each place one a layer
	reasons  []string         // that Finding.Without numbers
	outside  int              // sites out of the area
}

// Batch begins a batch.
func (k *Ranker) Batch() *Batch { return &Batch{k: k, bands: newBands(&k.o)} }

// Add ranks the next site, unless it lies out of the area. It does not keep the
// block. A block it refuses for what is in it leaves no trace.
func (p *Batch) Add(b *result.Block) error {
	k := p.k
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
		p.outside++
		return nil
	}
	prices, t := &k.markets[m], &k.o.Table
	caps := make([][12]float64, len(k.o.Uses))
	for u := range caps {
		caps[u] = k.o.Uses[u].caps(&b.Site, prices.market.Plan.DeliveredShare)
	}
	for i := range k.names {
		o, u := i/len(k.o.Uses), i%len(k.o.Uses)
		if u == 0 {
			if err := prices.price(&p.choice, b, t, o); err != nil {
				return fmt.Errorf("rank: site %s: %w", b.Site.ID, err)
			}
		}
		prices.choose(&p.choice, b, t, o, &caps[u])
		pick := prices.pick(&p.choice, b, t, m, book, o, u, &caps[u])
		pick.Spread = k.o.spread(b, &pick)
		f, err := p.finding(b, &pick)
		if err != nil {
			return fmt.Errorf("rank: site %s: %w", b.Site.ID, err)
		}
		p.findings = append(p.findings, f)
		p.bands.add(b.Site.Lat, o, u, &p.choice, prices)
	}
	p.places = append(p.places, place)
	return nil
}

// reason numbers a reason for there being no best design.
func (p *Batch) reason(text string) int32 {
	i := slices.Index(p.reasons, text)
	if i < 0 {
		i = len(p.reasons)
		p.reasons = append(p.reasons, text)
	}
	return int32(i)
}

// A savedBatch is a Batch as a file has it.
type savedBatch struct {
	Places   []survey.Place
	Findings []survey.Finding
	Reasons  []string
	Outside  int
	Bands    []savedBand // from south to north
}

type savedBand struct {
	Band    int
	Tallies []tally
}

// Save writes the batch for Load. What it writes is not meant to last: another
// version of the program may not read it.
func (p *Batch) Save(w io.Writer) error {
	s := savedBatch{Places: p.places, Findings: p.findings, Reasons: p.reasons, Outside: p.outside}
	for _, i := range slices.Sorted(maps.Keys(p.bands.tallies)) {
		s.Bands = append(s.Bands, savedBand{i, p.bands.tallies[i]})
	}
	return gob.NewEncoder(w).Encode(&s)
}

// Load reads a batch that a Ranker of the same options saved. That they are the
// same, and the bytes as they were written, is the caller's to make sure.
func (k *Ranker) Load(r io.Reader) (*Batch, error) {
	var s savedBatch
	if err := gob.NewDecoder(r).Decode(&s); err != nil {
		return nil, err
	}
	p := k.Batch()
	p.places, p.findings, p.reasons, p.outside = s.Places, s.Findings, s.Reasons, s.Outside
	for _, b := range s.Bands {
		p.bands.tallies[b.Band] = b.Tallies
	}
	ok := len(p.findings) == len(p.places)*len(k.names) && p.bands.fits(p.bands.tallies)
	for i := range p.findings {
		ok = ok && int(p.findings[i].Without) < len(p.reasons)
	}
	if !ok {
		return nil, errors.New("not of the same outlets, uses and designs")
	}
	return p, nil
}

// Take puts a batch after those taken before. Batches come in the order of their
// sites; how the sites are cut into batches makes no difference. The batch is not to
// be used any more.
func (k *Ranker) Take(p *Batch) error {
	n := len(k.names)
	numbers := make([]int32, len(p.reasons))
	for i, text := range p.reasons {
		numbers[i] = k.survey.Reason(k.text(text))
	}
	for i, place := range p.places {
		findings := p.findings[i*n : (i+1)*n]
		for f := range findings {
			if w := findings[f].Without; w >= 0 {
				findings[f].Without = numbers[w]
			}
		}
		place.Country, place.Book = k.text(place.Country), k.text(place.Book)
		if err := k.survey.Add(place, findings); err != nil {
			return fmt.Errorf("rank: %w", err)
		}
	}
	k.bands.put(p.bands.tallies)
	k.outside += p.outside
	return nil
}
