package app_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
)

// newQueue is a shop with exactly so many letters that wait, each to an address
// of its own; domain gives the i-th one's.
func newQueue(t *testing.T, n int, domain func(i int) string) *post {
	t.Helper()
	p := newPost(t, "")
	p.now = p.now.Add(time.Minute)
	p.tick(serveRelay(t))   // what the shop has to say goes out
	p.way, p.lanes = nil, 1 // a script is in the order of one connection
	var all []outbox.NewMessage
	for i := range n {
		all = append(all, outbox.NewMessage{Message: schedule.Message{
			Key: fmt.Sprint("k", i), To: fmt.Sprintf("c%02d@%s", i, domain(i)), From: "service@lindrake.example", Step: schedule.StepSummary,
			Subjects: []string{fmt.Sprint("s", i)}, MessageID: fmt.Sprintf("k%d@lindrake.example", i), Raw: []byte("Subject: x\r\n\r\ny\r\n"),
			NotAfter: p.now.AddDate(0, 0, 30),
		}})
	}
	if k, err := outbox.Enqueue(t.Context(), p.Writer(), p.now, all); err != nil || k != n {
		t.Fatal(k, err)
	}
	return p
}

func oneDomain(int) string { return "mail.example" }

// counts are the letters of the queue by state.
func (p *post) counts() map[schedule.MessageState]int {
	p.t.Helper()
	by := map[schedule.MessageState]int{}
	for _, l := range p.letters(outbox.MessageQuery{Limit: 1000}) {
		if strings.HasPrefix(l.Key, "k") {
			by[l.State]++
		}
	}
	return by
}

func (p *post) wantCounts(what string, want map[schedule.MessageState]int) {
	p.t.Helper()
	got := p.counts()
	for s, n := range want {
		if got[s] != n {
			p.t.Errorf("%s: the letters are %v, want %v", what, got, want)
			return
		}
	}
}

// paused is why nothing goes out, "" if it does.
func (p *post) paused() string {
	p.t.Helper()
	st, err := outbox.Sending(p.t.Context(), p.DB)
	if err != nil {
		p.t.Fatal(err)
	}
	return st.PausedWhy
}

// suppressed counts the addresses of the queue to which nothing may be sent.
func (p *post) suppressed() (n int) {
	p.t.Helper()
	p.asked++
	for i := range 40 {
		l := schedule.Message{Key: fmt.Sprint("probe", i, " ", p.asked), To: fmt.Sprintf("c%02d@mail.example", i), MessageID: "x", Raw: []byte("x"), Step: schedule.StepSummary, State: schedule.MessageHeld, NotAfter: p.now}
		k, err := outbox.Enqueue(p.t.Context(), p.Writer(), p.now, []outbox.NewMessage{{Message: l}})
		if err != nil {
			p.t.Fatal(err)
		}
		n += 1 - k
	}
	return n
}

// TestARelayThatDropsAfterTheDotCostsThreeLetters: then the queue pauses, after
// a while one letter tries, and what the server answers to it decides.
func TestARelayThatDropsAfterTheDotCostsThreeLetters(t *testing.T) {
	p := newQueue(t, 20, oneDomain)
	r := serveRelay(t)
	r.does(nil, func(string) error { return errDrop })
	res, err := p.SendNow(t.Context(), func() time.Time { return p.now }, p.sender(r))
	if err != nil || res.Uncertain != 3 || res.Stopped == "" {
		t.Errorf("%+v, %v; want three uncertain and a reason", res, err)
	}
	p.wantCounts("at first", map[schedule.MessageState]int{schedule.MessageUncertain: 3, schedule.MessageQueued: 17})
	if p.paused() == "" {
		t.Error("the queue is not paused")
	}
	p.now = p.now.Add(10 * time.Minute)
	r.heard()
	p.tick(r)
	if asked, _ := r.heard(); len(asked) > 0 {
		t.Errorf("%d letters tried again at once", len(asked))
	}
	p.now = p.now.Add(time.Hour)
	p.tick(r)
	p.tick(r)
	p.wantCounts("one tried in vain", map[schedule.MessageState]int{schedule.MessageUncertain: 4, schedule.MessageQueued: 16})
	r.does(nil, nil)
	p.now = p.now.Add(time.Hour)
	p.tick(r)
	if why := p.paused(); why != "" {
		t.Errorf("the server took a letter, and the queue is paused: %s", why)
	}
	p.now = p.now.Add(time.Minute)
	p.tick(r)
	p.wantCounts("in the end", map[schedule.MessageState]int{schedule.MessageUncertain: 4, schedule.MessageSent: 16})
}

// TestUncertainInARowCountsAcrossDrains: a shop that sends a letter a minute.
func TestUncertainInARowCountsAcrossDrains(t *testing.T) {
	p := newQueue(t, 20, oneDomain)
	r := serveRelay(t)
	r.does(nil, func(string) error { return errDrop })
	for range 6 {
		if _, err := p.sender(r).Drain(t.Context(), func() time.Time { return p.now }, 1); err != nil {
			t.Fatal(err)
		}
		p.now = p.now.Add(time.Minute)
	}
	p.wantCounts("after six minutes", map[schedule.MessageState]int{schedule.MessageUncertain: 3, schedule.MessageQueued: 17})
}

// TestARelayThatKnowsNobodySuppressesNobody: five in a row, in one drain or in
// several, or half of ten. The desk says what it was.
func TestARelayThatKnowsNobodySuppressesNobody(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	noUser := saying(550, [3]int{5, 1, 1}, "no such user")
	everybody := func(string) error { return noUser }
	everySecond := func(to string) error {
		if to[2]%2 == 1 {
			return noUser
		}
		return nil
	}
	for _, c := range []struct {
		name  string
		rcpt  func(string) error
		step  int // letters a drain
		bad   int // refused by then
		taken int
	}{
		{"everybody, in one drain", everybody, 100, 5, 0},
		{"everybody, one a minute", everybody, 1, 5, 0},
		{"every second", everySecond, 100, 5, 5},
	} {
		for _, dead := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, dead %t", c.name, dead), func(t *testing.T) {
				p := newQueue(t, 20, oneDomain)
				r := serveRelay(t)
				r.does(c.rcpt, nil)
				for range 6 {
					if _, err := p.sender(r).Drain(t.Context(), func() time.Time { return p.now }, c.step); err != nil {
						t.Fatal(err)
					}
					p.now = p.now.Add(time.Minute)
				}
				p.wantCounts("paused", map[schedule.MessageState]int{schedule.MessageRefused: c.bad, schedule.MessageSent: c.taken, schedule.MessageQueued: 20 - c.bad - c.taken})
				if n := p.suppressed(); n != 0 || p.paused() == "" {
					t.Fatalf("%d addresses are suppressed, paused for %q", n, p.paused())
				}
				doubted, err := outbox.Doubted(t.Context(), p.DB)
				if err != nil || len(doubted) != c.bad {
					t.Errorf("%d letters for the desk to judge, %v", len(doubted), err)
				}
				if err := outbox.Release(t.Context(), p.Writer(), p.now, "desk"); !errors.Is(err, store.ErrRefused) {
					t.Errorf("let go on without a word: %v", err)
				}
				if err := outbox.JudgeDoubted(t.Context(), p.Writer(), p.now, "desk", dead); err != nil {
					t.Fatal(err)
				}
				r.does(nil, nil)
				p.tick(r)
				if dead {
					p.wantCounts("dead", map[schedule.MessageState]int{schedule.MessageRefused: c.bad, schedule.MessageSent: 20 - c.bad})
					if n := p.suppressed(); n != c.bad {
						t.Errorf("%d addresses are suppressed, want %d", n, c.bad)
					}
				} else {
					p.wantCounts("the server's fault", map[schedule.MessageState]int{schedule.MessageSent: 20})
				}
			})
		}
	}
}

// TestManyLanesSuppressNobodyEither: what was under way is in doubt too.
func TestManyLanesSuppressNobodyEither(t *testing.T) {
	p := newQueue(t, 40, oneDomain)
	p.lanes = 16
	r := serveRelay(t)
	r.does(func(string) error { return saying(550, [3]int{5, 1, 1}, "no such user") }, nil)
	for range 3 {
		if _, err := p.sender(r).Drain(t.Context(), func() time.Time { return p.now }, 1000); err != nil {
			t.Fatal(err)
		}
	}
	refused := p.counts()[schedule.MessageRefused]
	doubted, err := outbox.Doubted(t.Context(), p.DB)
	if n := p.suppressed(); n != 0 || err != nil || len(doubted) != refused || refused > 5+16 {
		t.Errorf("%d refused, %d in doubt, %d suppressed, %v", refused, len(doubted), n, err)
	}
}

// TestAFewDeadAddressesAreSuppressed at the end of the drain.
func TestAFewDeadAddressesAreSuppressed(t *testing.T) {
	p := newQueue(t, 20, oneDomain)
	r := serveRelay(t)
	r.does(func(to string) error {
		if strings.HasPrefix(to, "c0") && to[2]%3 == 1 {
			return saying(550, [3]int{5, 1, 1}, "no such user")
		}
		return nil
	}, nil)
	p.tick(r)
	if n := p.suppressed(); n != 3 || p.paused() != "" {
		t.Errorf("%d suppressed, paused for %q; want three and none", n, p.paused())
	}
}

// TestOneMailboxsPolicyIsItsOwnAffair: its letter fails and the queue goes on.
// Two domains, or three mailboxes of one, mean us, and their letters wait.
func TestOneMailboxsPolicyIsItsOwnAffair(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	policy := saying(550, [3]int{5, 7, 1}, "not from you")
	domains := func(i int) string { return fmt.Sprintf("host%d.example", i/4) }
	for _, c := range []struct {
		name   string
		refuse []string
		paused bool
	}{
		{"one mailbox", []string{"c01"}, false},
		{"two of one domain", []string{"c01", "c02"}, false},
		{"two domains", []string{"c01", "c05"}, true},
		{"three of one domain, and it takes none", []string{"c04", "c05", "c06"}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newQueue(t, 12, domains)
			r := serveRelay(t)
			r.does(func(to string) error {
				for _, x := range c.refuse {
					if strings.HasPrefix(to, x) {
						return policy
					}
				}
				return nil
			}, nil)
			p.tick(r)
			if (p.paused() != "") != c.paused {
				t.Errorf("paused for %q", p.paused())
			}
			if n := p.counts()[schedule.MessageRefused]; n != len(c.refuse) && !c.paused || n != 0 && c.paused {
				t.Errorf("%d letters are refused", n)
			}
			if !c.paused {
				p.wantCounts("the others", map[schedule.MessageState]int{schedule.MessageSent: 12 - len(c.refuse)})
				return
			}
			r.does(nil, nil)
			if err := outbox.Release(t.Context(), p.Writer(), p.now, "desk"); err != nil {
				t.Fatal(err)
			}
			p.now = p.now.Add(time.Hour)
			p.tick(r)
			p.wantCounts("after the release", map[schedule.MessageState]int{schedule.MessageSent: 12})
		})
	}
}

// TestAClockThatWasAheadStopsNothing: what was written while the clock was
// wrong must not keep mail from going out until that day.
func TestAClockThatWasAheadStopsNothing(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	p := newPost(t, "")
	real := p.now
	r := serveRelay(t)
	p.now = real.AddDate(1, 0, 0)
	r.does(func(to string) error {
		if strings.HasSuffix(to, "example.org") {
			return saying(450, [3]int{4, 2, 0}, "later")
		}
		return nil
	}, nil)
	p.tick(r) // a year ahead: the plan, the letters and what was heard are of that year
	if _, err := outbox.NewQueue(p.Writer()).Claim(t.Context(), p.now, 20*time.Minute); err != nil && !errors.Is(err, store.ErrNone) {
		t.Fatal(err)
	}
	p.now = real.Add(24 * time.Hour)
	r.does(nil, nil)
	for range 3 {
		p.tick(r)
		p.now = p.now.Add(time.Hour)
	}
	for _, l := range p.letters(outbox.MessageQuery{Limit: 1000}) {
		if l.State == schedule.MessageQueued || l.State == schedule.MessageDeferred || l.State == schedule.MessageLeased {
			t.Errorf("%s to %s waits until %s, as %s", l.Step, l.To, l.NextAt, l.State)
		}
	}
	// A reminder that falls due goes out, although the newest mail is of next year.
	n := 0
	for range 40 {
		p.now = p.now.Add(24 * time.Hour)
		settle(t, p.App, p.day())
		k, err := p.Remind(t.Context(), p.now)
		if err != nil {
			t.Fatal(err)
		}
		n += k
	}
	if n == 0 {
		t.Error("nobody is reminded of anything")
	}
}

// TestWhatComesBackFromEverybodySuppressesNobody: a relay that takes everything
// and sends it back as dead has the brake of one that refuses at once.
func TestWhatComesBackFromEverybodySuppressesNobody(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	fourOfFive := func(i int) bool { return i%5 != 0 }
	for _, c := range []struct {
		name    string
		returns func(i int) bool
		doubted int
	}{
		{"five in a row", func(i int) bool { return i >= 3 && i < 8 }, 5},
		{"four in a row", func(i int) bool { return i >= 3 && i < 7 }, 0},
		{"half of all", fourOfFive, 32},
	} {
		for _, dead := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s, dead %t", c.name, dead), func(t *testing.T) {
				p := newQueue(t, 40, oneDomain)
				p.now = p.now.AddDate(0, 0, 2) // what the shop said before is long ago
				r := serveRelay(t)
				p.tick(r)
				p.wantCounts("sent", map[schedule.MessageState]int{schedule.MessageSent: 40})
				back := 0
				for i := range 40 {
					if c.returns(i) {
						p.returned(i)
						back++
					}
				}
				doubted, err := outbox.Doubted(t.Context(), p.DB)
				if err != nil || len(doubted) != c.doubted {
					t.Fatalf("%d letters for the desk to judge, %v; want %d", len(doubted), err, c.doubted)
				}
				if c.doubted == 0 {
					if n := p.suppressed(); n != back || p.paused() != "" {
						t.Errorf("%d addresses are suppressed, want %d; paused for %q", n, back, p.paused())
					}
					return
				}
				if n := p.suppressed(); n != 0 || p.paused() == "" {
					t.Fatalf("%d addresses are suppressed, paused for %q", n, p.paused())
				}
				if !strings.Contains(doubted[0].Answer, "no such user") {
					t.Errorf("the desk reads %q", doubted[0].Answer)
				}
				if err := outbox.JudgeDoubted(t.Context(), p.Writer(), p.now, "desk", dead); err != nil {
					t.Fatal(err)
				}
				want := 0
				if dead {
					want = c.doubted
				}
				if n := p.suppressed(); n != want {
					t.Errorf("%d addresses are suppressed, want %d", n, want)
				}
				if p.tick(r); !dead {
					p.wantCounts("sent again", map[schedule.MessageState]int{schedule.MessageSent: 40})
				}
				if in := p.returned(10); !in.Suppressed || p.paused() != "" {
					t.Errorf("one more, later: %+v, paused for %q", in, p.paused())
				}
			})
		}
	}
}

// returned hands in a bounce of the i-th letter of the queue.
func (p *post) returned(i int) app.Incoming {
	p.t.Helper()
	l := schedule.Message{To: fmt.Sprintf("c%02d@mail.example", i), MessageID: fmt.Sprintf("k%d@lindrake.example", i)}
	return p.take(quoting(returnedTo("service@lindrake.example", l.To, "550 5.1.1 no such user"), &l))
}
