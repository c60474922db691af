package web_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/store/accounts"
	"bellbuoy/store/storetest"
)

// guess tries to sign in over a connection from an address, with what a proxy
// says of whom it speaks for.
func (s *testShop) guess(from, name, pass string, forwarded ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, "/sign-in", strings.NewReader(url.Values{"name": {name}, "password": {pass}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	for _, f := range forwarded {
		r.Header.Add("X-Forwarded-For", f)
	}
	r.RemoteAddr = from
	w := httptest.NewRecorder()
	s.site.ServeHTTP(w, r)
	return w
}

// TestAParallelCrowdGuessesFiveTimes sends 400 guesses at once: what waits for
// its check counts already, and the owner signs in from elsewhere at the same
// time.
func TestAParallelCrowdGuessesFiveTimes(t *testing.T) {
	s := newTestShop(t)
	s.openSite(site.PasswordCost()) // guesses must have to wait
	s.hire("Odile", "owner")
	var wg sync.WaitGroup
	codes := make(chan int, 400)
	for i := range 400 {
		wg.Go(func() {
			w := s.guess(fmt.Sprintf("198.51.100.%d:4000", i%250), "odile", fmt.Sprintf("guess number %d", i))
			if w.Code == http.StatusTooManyRequests && w.Header().Get("Retry-After") != "60" {
				t.Errorf("refused with Retry-After %q", w.Header().Get("Retry-After"))
			}
			codes <- w.Code
		})
	}
	wg.Go(func() {
		if w := s.guess("203.0.113.9:4000", "Odile", password); w.Code != http.StatusSeeOther {
			t.Errorf("the owner, from elsewhere, was answered %d", w.Code)
		}
	})
	wg.Wait()
	close(codes)
	got := map[int]int{}
	for c := range codes {
		got[c]++
	}
	if got[http.StatusUnauthorized] != 5 || got[http.StatusTooManyRequests] != 395 {
		t.Errorf("answers %v; want 5 checked and the rest refused", got)
	}
}

// TestACrowdOfNamesIsTurnedAway: no limit of a name or a network holds back one
// guess each; the queue does, and says when to come back.
func TestACrowdOfNamesIsTurnedAway(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	s := newTestShop(t)
	s.openSite(site.PasswordCost()) // guesses must have to wait
	var wg sync.WaitGroup
	codes := make(chan int, 400)
	for i := range 400 {
		wg.Go(func() {
			w := s.guess(fmt.Sprintf("10.%d.%d.1:4000", i/200, i%200), fmt.Sprintf("name %d", i), "guess")
			if w.Code == http.StatusServiceUnavailable && (w.Header().Get("Retry-After") == "" || !strings.Contains(w.Body.String(), "Try again")) {
				t.Errorf("turned away with Retry-After %q: %s", w.Header().Get("Retry-After"), w.Body)
			}
			codes <- w.Code
		})
	}
	wg.Wait()
	close(codes)
	got := map[int]int{}
	for c := range codes {
		got[c]++
	}
	if got[http.StatusServiceUnavailable] == 0 || got[http.StatusUnauthorized]+got[http.StatusServiceUnavailable] != 400 {
		t.Errorf("answers %v; want some checked, the others turned away", got)
	}
}

// TestGuessesElsewhereKeepNobodyOut: who knows a name cannot lock its holder
// out, and a name that is guessed at from everywhere has one attempt a minute.
func TestGuessesElsewhereKeepNobodyOut(t *testing.T) {
	s := newTestShop(t)
	s.hire("Odile", "owner")
	for network := range 10 {
		for range 5 {
			s.guess(fmt.Sprintf("10.0.%d.7:4000", network), "Odile", "wrong")
		}
		if network == 0 {
			if w := s.guess("10.0.0.8:4000", "Odile", password); w.Code != http.StatusTooManyRequests {
				t.Errorf("the guesser's neighbor was answered %d", w.Code)
			}
			if w := s.guess("203.0.113.9:4000", "Odile", password); w.Code != http.StatusSeeOther {
				t.Errorf("after five guesses elsewhere the owner was answered %d", w.Code)
			}
		}
	}
	if w := s.guess("203.0.113.9:4000", "Odile", password); w.Code != http.StatusTooManyRequests {
		t.Errorf("after 50 guesses everywhere the name was answered %d", w.Code)
	}
	s.now = s.now.Add(time.Minute)
	if w := s.guess("203.0.113.9:4000", "Odile", password); w.Code != http.StatusSeeOther {
		t.Errorf("a minute later the owner was answered %d", w.Code)
	}
}

// TestStaffUnlock: the daemon counts, another process forgives.
func TestStaffUnlock(t *testing.T) {
	s := newTestShop(t)
	s.hire("Odile", "owner")
	for range 5 {
		s.guess("198.51.100.1:4000", "Odile", "wrong")
	}
	if w := s.guess("198.51.100.1:4000", "Odile", password); w.Code != http.StatusTooManyRequests || !strings.Contains(w.Body.String(), "bellbuoy staff unlock") {
		t.Fatalf("answered %d: %s", w.Code, w.Body)
	}
	if err := accounts.Unlock(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", "odile"); err != nil {
		t.Fatal(err)
	}
	if w := s.guess("198.51.100.1:4000", "Odile", password); w.Code != http.StatusSeeOther {
		t.Errorf("unlocked, and answered %d", w.Code)
	}
}

// TestWhereAGuessComesFrom sends five guesses from one place and a sixth from
// another: it is refused where both are one network.
func TestWhereAGuessComesFrom(t *testing.T) {
	settings := shopSettings + "[serve]\nproxies = [\"10.88.0.0/16\", \"::1\"]\n"
	for _, c := range []struct {
		name        string
		first, last []string // the connection's address, and what the proxies say
		one         bool
	}{
		{"one address", []string{"198.51.100.1:1"}, []string{"198.51.100.1:2"}, true},
		{"neighbors", []string{"198.51.100.1:1"}, []string{"198.51.100.200:1"}, true},
		{"another network", []string{"198.51.100.1:1"}, []string{"198.51.101.1:1"}, false},
		{"IPv4 written as IPv6", []string{"[::ffff:198.51.100.1]:1"}, []string{"198.51.100.1:1"}, true},
		{"one IPv6 network", []string{"[2001:db8:1:2::1]:1"}, []string{"[2001:db8:1:2:ffff::9]:1"}, true},
		{"another IPv6 network", []string{"[2001:db8:1:2::1]:1"}, []string{"[2001:db8:1:3::1]:1"}, false},
		{"two visitors of a proxy", []string{"10.88.0.1:1", "198.51.100.1"}, []string{"10.88.0.1:1", "198.51.101.1"}, false},
		{"one visitor of a proxy", []string{"10.88.0.1:1", "198.51.100.1"}, []string{"10.88.0.1:1", "198.51.100.1"}, true},
		{"a proxy whose address is written as IPv6", []string{"[::ffff:10.88.0.1]:1", "198.51.100.1"}, []string{"[::ffff:10.88.0.1]:1", "198.51.101.1"}, false},
		{"a visitor who makes up others", []string{"10.88.0.1:1", "203.0.113.1, 198.51.100.1"}, []string{"10.88.0.1:1", "203.0.114.1, 198.51.100.1"}, true},
		{"a visitor who makes up others in a line of their own", []string{"10.88.0.1:1", "203.0.113.1", "198.51.100.1"}, []string{"10.88.0.1:1", "203.0.114.1", "198.51.100.1"}, true},
		{"two proxies", []string{"[::1]:1", "198.51.100.1, 10.88.0.1"}, []string{"[::1]:1", "198.51.101.1, 10.88.0.1"}, false},
		{"no proxy of ours", []string{"10.89.0.1:1", "198.51.100.1"}, []string{"10.89.0.1:1", "198.51.101.1"}, true},
		{"no longer a proxy: the setting names others", []string{"127.0.0.1:1", "198.51.100.1"}, []string{"127.0.0.1:1", "198.51.101.1"}, true},
		{"a proxy that says nothing of use", []string{"10.88.0.1:1", "unknown"}, []string{"10.88.0.1:1", "_hidden"}, true},
		{"a proxy that adds the port", []string{"10.88.0.1:1", "198.51.100.1:99"}, []string{"10.88.0.1:1", "[2001:db8::1]:99"}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := emptyTestShop(t, settings)
			for range 5 {
				if w := s.guess(c.first[0], "Odile", "wrong", c.first[1:]...); w.Code != http.StatusUnauthorized {
					t.Fatalf("answered %d", w.Code)
				}
			}
			want := map[bool]int{true: http.StatusTooManyRequests, false: http.StatusUnauthorized}[c.one]
			if w := s.guess(c.last[0], "Odile", "wrong", c.last[1:]...); w.Code != want {
				t.Errorf("answered %d, want %d", w.Code, want)
			}
		})
	}
}
