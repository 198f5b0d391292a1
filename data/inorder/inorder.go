// Package inorder does pieces of work at the same time and takes up what they
// come to in their order.
package inorder

import (
	"context"

	"golang.org/x/sync/errgroup"
)

// Run calls do for 0 to n-1 from as many goroutines as there are workers, and
// then for each of them in order, from one goroutine. Results that wait for an
// earlier one are bounded by twice the workers. The first error ends it, as does
// the end of ctx.
func Run[T any](ctx context.Context, workers, n int, do func(ctx context.Context, i int) (T, error), then func(i int, v T) error) error {
	type job struct {
		i    int
		done chan T
	}
	g, ctx := errgroup.WithContext(ctx)
	jobs := make(chan job)
	order := make(chan job, workers)
	g.Go(func() error {
		defer close(jobs)
		defer close(order)
		for i := range n {
			j := job{i, make(chan T, 1)}
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
	for range workers {
		g.Go(func() error {
			for j := range jobs {
				v, err := do(ctx, j.i)
				if err != nil {
					return err
				}
				j.done <- v
			}
			return nil
		})
	}
	g.Go(func() error {
		for j := range order {
			select {
			case v := <-j.done:
				if err := then(j.i, v); err != nil {
					return err
				}
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		return nil
	})
	return g.Wait()
}
