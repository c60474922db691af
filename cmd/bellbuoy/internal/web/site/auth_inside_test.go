package site

import (
	"net/netip"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
)

// Who asks for a name that does not exist must wait as long as who asks for one
// that does, and never gets in.
func TestNoHashCostsWhatAHashCosts(t *testing.T) {
	want := PasswordCost()
	p := newPasswords(want)
	got, salt, key, err := argon2id.DecodeHash(p.dummy)
	if err != nil {
		t.Fatal(err)
	}
	if *got != *want || len(salt) != int(want.SaltLength) || len(key) != int(want.KeyLength) {
		t.Errorf("a guess at nobody costs %+v, at somebody %+v", *got, *want)
	}
	if ok, err := p.matches(t.Context(), "nobody has this password", ""); ok || err != nil {
		t.Errorf("let in: %v, %v", ok, err)
	}
}

// However many names from however many networks are tried, the throttle holds a
// bounded number of them, and forgets the oldest.
func TestThrottleIsBounded(t *testing.T) {
	th := newThrottle()
	now := time.Date(2026, time.November, 25, 10, 0, 0, 0, time.UTC)
	from := func(i int) netip.Prefix { return network(netip.AddrFrom4([4]byte{10, byte(i >> 8), byte(i), 1})) }
	for i := range throttleMost/2 + 200 { // two keys each
		now = now.Add(time.Millisecond)
		if wait := th.begin(newAttempt(now, strconv.Itoa(i)+strings.Repeat("x", 300), from(i)), time.Time{}); wait > 0 {
			t.Fatalf("attempt %d has to wait %s", i, wait)
		}
	}
	for range throttlePair {
		th.begin(newAttempt(now, "Odile", from(1)), time.Time{})
	}
	if n := len(th.tries); n > throttleMost {
		t.Errorf("%d keys are remembered", n)
	}
	for k := range th.tries {
		if len(k.name) > throttleLongest {
			t.Fatalf("a name of %d bytes is remembered", len(k.name))
		}
	}
	if wait := th.begin(newAttempt(now, "Odile", from(1)), time.Time{}); wait != throttleStep {
		t.Errorf("the newest are forgotten: wait %s", wait)
	}
}

// Beyond a limit one attempt a minute is let through, and what was not wrong is
// taken back.
func TestThrottleBeyondALimit(t *testing.T) {
	th := newThrottle()
	now := time.Date(2026, time.November, 25, 10, 0, 0, 0, time.UTC)
	from := network(netip.MustParseAddr("2001:db8::1"))
	begin := func() (attempt, time.Duration) {
		a := newAttempt(now, "Odile", from)
		return a, th.begin(a, time.Time{})
	}
	for range throttlePair {
		a, wait := begin()
		if wait > 0 {
			t.Fatal("refused within the limit")
		}
		th.takeBack(a)
		begin()
	}
	for range 3 {
		if _, wait := begin(); wait != throttleStep {
			t.Errorf("wait %s, want %s", wait, throttleStep)
		}
		now = now.Add(59 * time.Second)
		if _, wait := begin(); wait != time.Second {
			t.Errorf("wait %s, want a second", wait)
		}
		now = now.Add(time.Second)
		if _, wait := begin(); wait != 0 {
			t.Errorf("a minute later: wait %s", wait)
		}
	}
	now = now.Add(throttleSpan)
	begin()
	if n := len(th.tries[throttleKey{"odile", from}]); n != 1 {
		t.Errorf("%d attempts count after the span, want the new one", n)
	}
}
