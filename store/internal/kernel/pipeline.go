package kernel

import "context"

// batchSize is how many boats' facts, or rows, lie in one batch: enough that handing
// over costs nothing, few enough that a batch stays in the processor's cache.
const batchSize = 32

// Pipeline carries what is read from the goroutine that reads it to the one that uses
// it, so that the two overlap. Two batches go round; while one is filled the
// other is used, and memory stays flat.
type Pipeline[T any] struct {
	full, free chan []T
	now        []T // the batch being filled
	n          int // of it, how many are taken
}

// Pipe runs produce in a goroutine of its own and fn, in order, in the
// caller's. It returns when both have ended: with fn's error, else with
// produce's.
func Pipe[T any](ctx context.Context, produce func(context.Context, *Pipeline[T]) error, fn func(*T) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	b := &Pipeline[T]{full: make(chan []T, 2), free: make(chan []T, 2)}
	for range cap(b.free) {
		b.free <- make([]T, batchSize)
	}
	done := make(chan error, 1)
	go func() {
		defer close(b.full)
		done <- produce(ctx, b)
	}()
	err := b.use(fn)
	stop()
	for range b.full {
		// The producer may be at its last batch.
	}
	if made := <-done; err == nil {
		err = made
	}
	return err
}

// use calls fn with everything that comes along.
func (b *Pipeline[T]) use(fn func(*T) error) error {
	for batch := range b.full {
		for i := range batch {
			if err := fn(&batch[i]); err != nil {
				return err
			}
		}
		b.free <- batch[:cap(batch)]
	}
	return nil
}

// Slot returns the place for the next one, which still holds an earlier one for its
// memory. The slot before it is then complete.
func (b *Pipeline[T]) Slot(ctx context.Context) (*T, error) {
	if b.n == len(b.now) {
		if err := b.Flush(ctx); err != nil {
			return nil, err
		}
		select {
		case b.now = <-b.free:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	b.n++
	return &b.now[b.n-1], nil
}

// Flush sends on what is complete.
func (b *Pipeline[T]) Flush(ctx context.Context) error {
	if b.n == 0 {
		return nil
	}
	select {
	case b.full <- b.now[:b.n]:
	case <-ctx.Done():
		return ctx.Err()
	}
	b.now, b.n = nil, 0
	return nil
}
