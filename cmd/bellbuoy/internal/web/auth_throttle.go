package web

import (
	"strings"
	"sync"
	"time"
)

const (
	// throttleSpan is how long a failed attempt counts.
	throttleSpan = 15 * time.Minute
	// The failed attempts that are borne in a span: of one name, and from one
	// address, behind which a whole shop may sit.
	throttleName, throttleHost = 5, 30
	// throttleMost bounds what is remembered; beyond it the oldest is forgotten.
	throttleMost = 10000
)

// throttle slows down guessing. It forgets when the program restarts, which
// costs a guesser more than it gives.
type throttle struct {
	mu    sync.Mutex
	tries map[string][]time.Time // by "name:" and "host:", oldest first
}

func newThrottle() *throttle { return &throttle{tries: make(map[string][]time.Time)} }

func throttleKeys(name, host string) (byName, byHost string) {
	return "name:" + strings.ToLower(name), "host:" + host
}

// allows reports whether another attempt may be made now.
func (t *throttle) allows(now time.Time, name, host string) bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	n, h := throttleKeys(name, host)
	return t.count(now, n) < throttleName && t.count(now, h) < throttleHost
}

// failed remembers a failed attempt.
func (t *throttle) failed(now time.Time, name, host string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.tries) >= throttleMost {
		t.sweep(now)
	}
	n, h := throttleKeys(name, host)
	for _, k := range []string{n, h} {
		t.tries[k] = append(t.tries[k], now)
	}
}

// succeeded forgets what failed under a name.
func (t *throttle) succeeded(name string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	n, _ := throttleKeys(name, "")
	delete(t.tries, n)
}

// count drops attempts that are too old and counts the rest.
func (t *throttle) count(now time.Time, key string) int {
	all := t.tries[key]
	for len(all) > 0 && now.Sub(all[0]) >= throttleSpan {
		all = all[1:]
	}
	if len(all) == 0 {
		delete(t.tries, key)
	} else {
		t.tries[key] = all
	}
	return len(all)
}

// sweep makes room: what is too old goes, and if that is not enough, all of it.
func (t *throttle) sweep(now time.Time) {
	for k := range t.tries {
		t.count(now, k)
	}
	if len(t.tries) >= throttleMost {
		clear(t.tries)
	}
}
