package feeds

import (
	"context"
	"sync"
	"time"

	"bellbuoy/notify/link"
)

// Recent is a source whose states are believed for a moment, so that many
// requests for one feed do not each go to the shop's file: a withdrawn address
// opens that much longer, and a change is seen that much later, by clients that
// look every few hours.
type Recent struct {
	Source
	fresh time.Duration
	now   func() time.Time

	mu   sync.Mutex
	seen map[feedName]recentState
}

type feedName struct {
	scope   link.Scope
	subject string
}

type recentState struct {
	State
	at time.Time
}

// NewRecent believes source for fresh. A second is the least that
// Last-Modified can tell apart, and enough.
func NewRecent(source Source, fresh time.Duration, now func() time.Time) *Recent {
	return &Recent{Source: source, fresh: fresh, now: now, seen: make(map[feedName]recentState)}
}

// State asks the source unless it said so a moment ago. Faults are not
// remembered.
func (s *Recent) State(ctx context.Context, scope link.Scope, subject string) (State, error) {
	name, at := feedName{scope, subject}, s.now()
	s.mu.Lock()
	known, ok := s.seen[name]
	s.mu.Unlock()
	if age := at.Sub(known.at); ok && age >= 0 && age < s.fresh {
		return known.State, nil
	}
	state, err := s.Source.State(ctx, scope, subject)
	if err != nil {
		return state, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.seen) >= cacheTags {
		clear(s.seen)
	}
	s.seen[name] = recentState{state, at}
	return state, nil
}
