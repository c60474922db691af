package site

import (
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"
)

const (
	// throttleSpan is how long a wrong password counts.
	throttleSpan = 15 * time.Minute
	// throttleStep is how long one more attempt takes beyond a limit.
	throttleStep = time.Minute
	// The wrong passwords that are borne in a span: for one name from one
	// network, for one name from everywhere, and from one network, behind which
	// a whole shop may sit.
	throttlePair, throttleName, throttleNetwork = 5, 50, 30
	// throttleMost bounds the keys that are remembered; beyond it the one that
	// rested longest is forgotten. throttleLongest bounds a name, in bytes.
	throttleMost, throttleLongest = 10000, 200
)

// throttle slows down guessing at passwords. An attempt counts from before its
// password is checked, so that those that wait for their check count too, until
// the check was not made or went well. It forgets when the program restarts,
// which costs a guesser more than it gives.
type throttle struct {
	mu    sync.Mutex
	tries map[throttleKey][]time.Time // oldest first
	// unlocked is when the store last said that a name is unlocked.
	unlocked map[string]time.Time
}

// throttleKey is what attempts are counted by: a name, a network, or both.
type throttleKey struct {
	name string
	from netip.Prefix
}

func (k throttleKey) limit() int {
	switch {
	case k.name == "":
		return throttleNetwork
	case !k.from.IsValid():
		return throttleName
	}
	return throttlePair
}

func newThrottle() *throttle {
	return &throttle{tries: make(map[throttleKey][]time.Time), unlocked: make(map[string]time.Time)}
}

// attempt is one that counts: the name and the network first.
type attempt struct {
	keys [3]throttleKey
	at   time.Time
}

func newAttempt(now time.Time, name string, from netip.Prefix) attempt {
	name = strings.ToLower(name)
	name = name[:min(len(name), throttleLongest)]
	return attempt{[3]throttleKey{{name, from}, {name: name}, {from: from}}, now}
}

// begin counts an attempt, or returns how long to wait for the next one.
// unlocked is when the name was last unlocked: what counted before is forgotten,
// also for the networks it came from.
func (t *throttle) begin(a attempt, unlocked time.Time) (wait time.Duration) {
	t.mu.Lock()
	defer t.mu.Unlock()
	name := a.keys[0].name
	if unlocked.After(t.unlocked[name]) {
		t.unlocked[name] = unlocked
		for k := range t.tries {
			if k.name == name {
				delete(t.tries, k)
				delete(t.tries, throttleKey{from: k.from})
			}
		}
	}
	for _, k := range a.keys {
		if all := t.recent(a.at, k); len(all) >= k.limit() {
			wait = max(wait, throttleStep-a.at.Sub(all[len(all)-1]))
		}
	}
	if wait > 0 {
		return wait
	}
	for _, k := range a.keys {
		if _, known := t.tries[k]; !known && len(t.tries) >= throttleMost {
			t.makeRoom()
		}
		t.tries[k] = append(t.tries[k], a.at)
	}
	return 0
}

// takeBack makes an attempt count no more.
func (t *throttle) takeBack(a attempt) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, k := range a.keys {
		if i := slices.Index(t.tries[k], a.at); i >= 0 {
			t.keep(k, slices.Delete(t.tries[k], i, i+1))
		}
	}
}

// succeeded also forgets what failed under that name in that network: its
// holder mistyped.
func (t *throttle) succeeded(a attempt) {
	t.takeBack(a)
	t.mu.Lock()
	defer t.mu.Unlock()
	delete(t.tries, a.keys[0])
}

// recent drops the attempts that are too old and returns the rest.
func (t *throttle) recent(now time.Time, k throttleKey) []time.Time {
	all := t.tries[k]
	for len(all) > 0 && now.Sub(all[0]) >= throttleSpan {
		all = all[1:]
	}
	t.keep(k, all)
	return all
}

func (t *throttle) keep(k throttleKey, all []time.Time) {
	if len(all) == 0 {
		delete(t.tries, k)
	} else {
		t.tries[k] = all
	}
}

// makeRoom forgets the key whose last attempt is the oldest.
func (t *throttle) makeRoom() {
	var oldest throttleKey
	var at time.Time
	for k, all := range t.tries {
		if last := all[len(all)-1]; at.IsZero() || last.Before(at) {
			oldest, at = k, last
		}
	}
	delete(t.tries, oldest)
}
