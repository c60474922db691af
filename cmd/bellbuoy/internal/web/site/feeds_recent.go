package site

import (
	"context"
	"sync"
	"time"

	"bellbuoy/notify/link"
)

// RecentStates is a source whose states are believed for a moment, so that many
// requests for one feed do not each go to the shop's file: a withdrawn address
// opens that much longer, and a change is seen that much later, by clients that
// look every few hours.
type RecentStates struct {
	FeedSource
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
	FeedState
	at time.Time
}

// NewRecentStates believes source for fresh. A second is the least that
// Last-Modified can tell apart, and enough.
func NewRecentStates(source FeedSource, fresh time.Duration, now func() time.Time) *RecentStates {
	return &RecentStates{FeedSource: source, fresh: fresh, now: now, seen: make(map[feedName]recentState)}
}

// FeedState asks the source unless it said so a moment ago. Faults are not
// remembered.
func (s *RecentStates) FeedState(ctx context.Context, scope link.Scope, subject string) (FeedState, error) {
	name, at := feedName{scope, subject}, s.now()
	s.mu.Lock()
	known, ok := s.seen[name]
	s.mu.Unlock()
	if age := at.Sub(known.at); ok && age >= 0 && age < s.fresh {
		return known.FeedState, nil
	}
	state, err := s.FeedSource.FeedState(ctx, scope, subject)
	if err != nil {
		return state, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.seen) >= feedCacheTags {
		clear(s.seen)
	}
	s.seen[name] = recentState{state, at}
	return state, nil
}
