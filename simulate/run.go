package simulate

import (
	"context"
	"fmt"

	"stillrow/data/inorder"
	"stillrow/ingest/weather"
	"stillrow/simulate/result"
)

// mostSites is how many sites in a row a worker takes at a time: a row group of
// the weather table, whose pages and dictionaries it then reads alone.
const mostSites = 32

// Run simulates every site of a weather table and hands the blocks to sink in
// the table's order, from one goroutine, which then tells progress, unless nil.
// The first error stops it. Blocks that wait for an earlier site are bounded by
// the number of workers.
func (p *Plan) Run(ctx context.Context, t *weather.Table, sink func(*result.Block) error, progress func(done, total int)) error {
	n := len(t.Sites)
	size := max(1, min(mostSites, n/(8*p.Workers))) // fewer where there are few, lest workers wait for the last one
	return inorder.Run(ctx, p.Workers, (n+size-1)/size, func(ctx context.Context, k int) (blocks []*result.Block, err error) {
		err = p.Sites(ctx, t, k*size, min((k+1)*size, n), func(b *result.Block) error {
			blocks = append(blocks, b)
			return nil
		})
		return blocks, err
	}, func(k int, blocks []*result.Block) error {
		for i, b := range blocks {
			if err := sink(b); err != nil {
				return err
			}
			if progress != nil {
				progress(k*size+i+1, n)
			}
		}
		return nil
	})
}

// Sites simulates the sites of a weather table from first to before end, one
// after the other. It may be called from several goroutines at a time.
func (p *Plan) Sites(ctx context.Context, t *weather.Table, first, end int, sink func(*result.Block) error) error {
	var y weather.Year
	for i := first; i < end; i++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		b, err := p.tableSite(t, i, &y)
		if err != nil {
			return err
		}
		if err := sink(b); err != nil {
			return err
		}
	}
	return nil
}

// tableSite reads one site of a table into y and simulates it.
func (p *Plan) tableSite(t *weather.Table, i int, y *weather.Year) (*result.Block, error) {
	if err := t.ReadYear(i, y); err != nil {
		return nil, err
	}
	b, err := p.Site(t.Sites[i], y)
	if err != nil {
		return nil, fmt.Errorf("site %s: %w", t.Sites[i].ID, err)
	}
	return b, nil
}
