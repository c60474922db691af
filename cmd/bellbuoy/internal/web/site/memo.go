package site

import (
	"context"
	"sync"
)

// Memo keeps what takes long to make for as long as the shop stands as it did.
type Memo[T any] struct {
	mu    sync.Mutex
	state string
	value T
}

// Of returns what fn makes for a state of the shop and whatever else it depends
// on; who asks meanwhile waits for the same.
func (m *Memo[T]) Of(ctx context.Context, s *Site, on string, fn func() (T, error)) (T, error) {
	return m.While(ctx, s, s.App.DB.ChangeMark, on, func(T) (T, error) { return fn() })
}

// While is the same for what depends on less than the whole shop: mark is another
// text whenever that may have changed. fn is given what it made before.
func (m *Memo[T]) While(ctx context.Context, s *Site, mark func(context.Context) (string, error), on string, fn func(before T) (T, error)) (T, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	state, err := mark(ctx)
	if err != nil {
		return m.value, err
	}
	if state += " " + s.Today().String() + " " + on; state == m.state {
		return m.value, nil
	}
	v, err := fn(m.value)
	if err == nil {
		m.state, m.value = state, v
	}
	return v, err
}
