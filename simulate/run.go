package simulate

import (
	"context"
	"fmt"

	"golang.org/x/sync/errgroup"

	"stillrow/ingest/weather"
	"stillrow/simulate/result"
)

// mostSites is how many sites in a row a worker takes at a time: a row group of
// the weather table, whose pages and dictionaries it then reads alone.
const mostSites = 32

// A batch is a run of sites for one worker.
type batch struct {
	first, end int
	done       chan *result.Block // room for all of them
}

// Run simulates every site of a weather table and hands the blocks to sink in
// the table's order, from one goroutine, which then tells progress, unless nil.
// The first error stops it. Blocks that wait for an earlier site are bounded by
// the number of workers.
func (p *Plan) Run(ctx context.Context, t *weather.Table, sink func(*result.Block) error, progress func(done, total int)) error {
	g, ctx := errgroup.WithContext(ctx)
	jobs := make(chan batch)
	order := make(chan batch, p.Workers)
	g.Go(func() error {
		defer close(jobs)
		defer close(order)
		n := batchSites(len(t.Sites), p.Workers)
		for first := 0; first < len(t.Sites); first += n {
			j := batch{first: first, end: min(first+n, len(t.Sites))}
			j.done = make(chan *result.Block, j.end-first)
			for _, c := range []chan batch{order, jobs} {
				select {
				case c <- j:
				case <-ctx.Done():
					return ctx.Err()
				}
			}
		}
		return nil
	})
	for range p.Workers {
		g.Go(func() error {
			for j := range jobs {
				for i := j.first; i < j.end; i++ {
					if err := ctx.Err(); err != nil {
						return err
					}
					b, err := p.tableSite(t, i)
					if err != nil {
						return err
					}
					j.done <- b
				}
			}
			return nil
		})
	}
	g.Go(func() error {
		for j := range order {
			for i := j.first; i < j.end; i++ {
				select {
				case b := <-j.done:
					if err := sink(b); err != nil {
						return err
					}
					if progress != nil {
						progress(i+1, len(t.Sites))
					}
				case <-ctx.Done():
					return ctx.Err()
				}
			}
		}
		return nil
	})
	return g.Wait()
}

// batchSites gives the sites of a batch: fewer where there are few, lest workers
// wait for the last one.
func batchSites(sites, workers int) int {
	return max(1, min(mostSites, sites/(8*workers)))
}

// tableSite reads one site of a table and simulates it.
func (p *Plan) tableSite(t *weather.Table, i int) (*result.Block, error) {
	rec, err := t.Record(i)
	if err != nil {
		return nil, err
	}
	defer rec.Release()
	y, err := weather.YearOf(rec)
	if err != nil {
		return nil, fmt.Errorf("site %s: %w", t.Sites[i].ID, err)
	}
	b, err := p.Site(t.Sites[i], y)
	if err != nil {
		return nil, fmt.Errorf("site %s: %w", t.Sites[i].ID, err)
	}
	return b, nil
}
