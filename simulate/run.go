package simulate

import (
	"context"
	"fmt"

	"golang.org/x/sync/errgroup"

	"stillrow/ingest/weather"
	"stillrow/simulate/result"
)

// Run simulates every site of a weather table and hands the blocks to sink in
// the table's order, from one goroutine, which then tells progress, unless nil.
// The first error stops it.
func (p *Plan) Run(ctx context.Context, t *weather.Table, sink func(*result.Block) error, progress func(done, total int)) error {
	type job struct {
		site int
		done chan *result.Block
	}
	g, ctx := errgroup.WithContext(ctx)
	jobs := make(chan job)
	order := make(chan job, p.Workers) // bounds the blocks that wait for an earlier site
	g.Go(func() error {
		defer close(jobs)
		defer close(order)
		for i := range t.Sites {
			j := job{i, make(chan *result.Block, 1)}
			for _, c := range []chan job{order, jobs} {
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
				b, err := p.tableSite(t, j.site)
				if err != nil {
					return err
				}
				j.done <- b
			}
			return nil
		})
	}
	g.Go(func() error {
		for j := range order {
			select {
			case b := <-j.done:
				if err := sink(b); err != nil {
					return err
				}
				if progress != nil {
					progress(j.site+1, len(t.Sites))
				}
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	return g.Wait()
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
