package inorder

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
)

// Every piece comes once and in order, and few are ahead of the one that is
// waited for.
func TestRun(t *testing.T) {
	for _, workers := range []int{1, 2, 5} {
		for _, n := range []int{0, 1, 3, 100} {
			next := 0
			var begun, taken atomic.Int64
			err := Run(t.Context(), workers, n, func(_ context.Context, i int) (int, error) {
				if ahead := begun.Add(1) - taken.Load(); ahead > int64(2*workers+2) {
					t.Errorf("%d workers: %d pieces wait", workers, ahead)
				}
				return i * i, nil
			}, func(i, v int) error {
				if i != next || v != i*i {
					t.Errorf("%d workers: piece %d is %d, want %d", workers, i, v, next)
				}
				next++
				taken.Add(1)
				return nil
			})
			if err != nil || next != n {
				t.Errorf("%d workers: %d of %d, %v", workers, next, n, err)
			}
		}
	}
}

// An error of either kind ends it, and so does the context.
func TestRunEnds(t *testing.T) {
	broken := errors.New("broken")
	nothing := func(int, int) error { return nil }
	err := Run(t.Context(), 3, 1000, func(_ context.Context, i int) (int, error) {
		if i == 7 {
			return 0, broken
		}
		return 0, nil
	}, nothing)
	if !errors.Is(err, broken) {
		t.Errorf("error %v of the work", err)
	}
	last := 0
	err = Run(t.Context(), 3, 1000, func(context.Context, int) (int, error) { return 0, nil }, func(i, _ int) error {
		if last = i; i == 7 {
			return broken
		}
		return nil
	})
	if !errors.Is(err, broken) || last != 7 {
		t.Errorf("error %v after piece %d", err, last)
	}
	ctx, cancel := context.WithCancel(t.Context())
	err = Run(ctx, 3, 1000, func(ctx context.Context, i int) (int, error) {
		if i == 7 {
			cancel()
		}
		return 0, ctx.Err()
	}, nothing)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v of the context", err)
	}
}
