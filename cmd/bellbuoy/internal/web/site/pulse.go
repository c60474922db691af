package site

import (
	"sync"
	"time"
)

// mostSilent is how long the daemon may go without a turn that went well before its
// health is bad: twenty turns.
const mostSilent = 10 * time.Minute

// Pulse is how the daemon's turns go. It is safe for use by several goroutines.
type Pulse struct {
	// Wall is the machine's clock, whatever day the shop plays.
	Wall func() time.Time

	mu    sync.Mutex
	begun time.Time
	good  time.Time
}

// Begin says when the daemon began.
func (p *Pulse) Begin(at time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.begun = at
}

// Turn says that a turn ended well.
func (p *Pulse) Turn(at time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.good = at
}

// Good is when the last turn ended well, the zero time if none did.
func (p *Pulse) Good() time.Time {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.good
}

// Well reports whether turns end well; a daemon that has just begun is well too, and
// so is one that nobody told to begin.
func (p *Pulse) Well(now time.Time) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.begun.IsZero() || now.Sub(p.begun) < mostSilent || now.Sub(p.good) < mostSilent
}
