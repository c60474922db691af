package lease

import (
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var begin = time.Date(2026, 11, 30, 8, 0, 0, 0, time.UTC)

func second(s float64) time.Time { return begin.Add(time.Duration(s * float64(time.Second))) }

// TestAnotherIsAliveOnlyIfItRenews: the lease that a process left before it was started
// again is another's by name, and is no reason to refuse anything.
func TestAnotherIsAliveOnlyIfItRenews(t *testing.T) {
	c := Claim{Me: "A2"}
	for i, s := range []struct {
		do        func()
		elsewhere bool
	}{
		{func() { c.Saw(Seen{"a1", "A1"}, second(0)) }, false},  // left by itself
		{func() { c.Saw(Seen{"a1", "A1"}, second(10)) }, false}, // nobody renews it
		{func() { c.Saw(Seen{"b1", "B"}, second(20)) }, true},   // the heir was first
		{func() { c.Saw(Seen{"b1", "B"}, second(30)) }, true},
		{func() { c.Saw(Seen{}, second(40)) }, false}, // somebody removed it
		{func() { c.Wrote("a2", second(40), second(40)) }, false},
		{func() { c.Saw(Seen{"b2", "B"}, second(60)) }, true}, // lost
		{func() { c.Wrote("a3", second(95), second(95)) }, false},
		{func() { c.Saw(Seen{"a4", "A2"}, second(105)) }, false}, // a write of its own whose answer was lost
	} {
		if s.do(); c.Elsewhere() != s.elsewhere {
			t.Errorf("step %d: elsewhere %v", i, c.Elsewhere())
		}
	}
}

// TestWhoMaySend walks through the cases by hand. Each step is a second, what
// happened, and whether this process may send at that second and wants to write.
func TestWhoMaySend(t *testing.T) {
	mine, other := Seen{"a1", "A"}, Seen{"b1", "B"}
	type step struct {
		at    float64
		do    func(*Claim, time.Time)
		write bool
		send  bool
	}
	saw := func(s Seen) func(*Claim, time.Time) { return func(c *Claim, at time.Time) { c.Saw(s, at) } }
	wrote := func(tag string) func(*Claim, time.Time) { return func(c *Claim, at time.Time) { c.Wrote(tag, at, at) } }
	nothing := func(*Claim, time.Time) {}
	for name, steps := range map[string][]step{
		"who has not looked does nothing": {{0, nothing, false, false}},
		"the first of all waits too": {
			{0, saw(Seen{}), true, false}, {0, wrote("a1"), true, false}, {40, wrote("a2"), true, false},
			{44.9, nothing, true, false}, {45, nothing, true, true},
		},
		"a lease of 20 seconds is too old to send by": {
			{0, saw(Seen{}), true, false}, {0, wrote("a1"), true, false}, {50, wrote("a2"), true, true},
			{69.9, nothing, true, true}, {70, nothing, true, false}, {71, wrote("a3"), true, true},
		},
		"another's is left alone while it is renewed": {
			{0, saw(other), false, false}, {29, saw(Seen{"b2", "B"}), false, false}, {58, saw(Seen{"b3", "B"}), false, false},
			{87.9, saw(Seen{"b3", "B"}), false, false},
		},
		"the heir takes what lay for 30 seconds and waits 45": {
			{0, saw(other), false, false}, {29.9, saw(other), false, false}, {30, saw(other), true, false},
			{30, wrote("a1"), true, false}, {60, wrote("a2"), true, false}, {74.9, nothing, true, false}, {75, nothing, true, true},
		},
		"who lost it sends no more, and waits again when it has it back": {
			{0, saw(Seen{}), true, false}, {0, wrote("a1"), true, false}, {46, wrote("a2"), true, true},
			{47, saw(other), false, false}, {77, saw(other), true, false}, {77, wrote("a3"), true, false},
			{115, wrote("a4"), true, false}, {122, nothing, true, true},
		},
		"a write whose answer was lost is its own": {
			{0, saw(Seen{}), true, false}, {0, wrote("a1"), true, false}, {46, wrote("a2"), true, true},
			{56, saw(Seen{"a3", "A"}), true, true}, {66, nothing, true, false}, {66, wrote("a4"), true, true},
		},
		"a first write whose answer was lost gives no leave": {
			{0, saw(mine), true, false}, {0, wrote("a2"), true, false}, {40, wrote("a3"), true, false}, {45, nothing, true, true},
		},
		"an object that somebody removed is taken as if it had been another's": {
			{0, saw(Seen{}), true, false}, {0, wrote("a1"), true, false}, {46, wrote("a2"), true, true},
			{50, saw(Seen{}), true, false}, {50, wrote("a3"), true, false}, {90, wrote("a4"), true, false}, {95, nothing, true, true},
		},
	} {
		t.Run(name, func(t *testing.T) {
			c := Claim{Me: "A"}
			for i, s := range steps {
				s.do(&c, second(s.at))
				if _, write := c.Over(second(s.at)); write != s.write || c.MaySend(second(s.at)) != s.send {
					t.Errorf("step %d, second %g: writes %v, sends %v; want %v, %v", i, s.at, write, c.MaySend(second(s.at)), s.write, s.send)
				}
			}
		})
	}
}

// TestAClockThatStoodStill: the monotonic clock of a machine that slept shows less
// than the one on the wall; the lease is as old as that one says, and a wall clock
// that was set back does not make it younger.
func TestAClockThatStoodStill(t *testing.T) {
	now := time.Now() // with both readings
	if got := age(now, now.Add(-3*time.Second)); got != 3*time.Second {
		t.Errorf("age %v", got)
	}
	for slept, want := range map[time.Duration]time.Duration{time.Minute: time.Minute, -time.Minute: -time.Minute} {
		if got := age(now.Round(0).Add(slept), now); got != want {
			t.Errorf("age %v after %v by the wall alone", got, slept)
		}
	}
}

// machine is one process of the simulation. Its clock has an offset of its own; what it
// asks takes time, may be lost on the way there or back, and it may be stopped at any
// point and go on later without noticing.
type machine struct {
	*sea
	claim  Claim
	offset time.Duration
	dead   bool
	until  float64 // the true second at which what it waits for is there
	then   func()  // how it goes on; nil to take its next turn
	next   float64 // its next turn
	last   float64 // its last final dot
}

func (m *machine) clock(s float64) time.Time { return second(s).Add(m.offset) }

// sea is what can go wrong, and the object, which is written under conditions.
type sea struct {
	t       *rapid.T
	delay   *rapid.Generator[float64]
	stopped *rapid.Generator[float64]
	lost    *rapid.Generator[string]
	object  Seen
	count   int
}

func (o *sea) write(over, who string) (tag string, ok bool) {
	if o.object.Tag == over {
		o.count++
		o.object, ok = Seen{fmt.Sprint("tag", o.count), who}, true
	}
	return o.object.Tag, ok
}

// idle waits for the next turn; one that was missed comes at once.
func (m *machine) idle() { m.until, m.then = max(m.next, m.until), nil }

// turn is [Keeper.Turn] cut into its steps: look or write, wait, take note.
func (m *machine) turn(now float64) {
	m.next = now + RenewEvery.Seconds()
	if m.claim.Held() {
		m.write(now)
	} else {
		m.look(now, true)
	}
}

func (m *machine) look(now float64, thenWrite bool) {
	seen := m.object
	if m.lost.Draw(m.t, "read lost") != "" {
		m.idle()
		return
	}
	m.until = now + m.delay.Draw(m.t, "read") + m.stopped.Draw(m.t, "stopped")
	m.then = func() {
		m.claim.Saw(seen, m.clock(m.until))
		if thenWrite || m.claim.Held() {
			m.write(m.until)
		} else {
			m.idle()
		}
	}
}

func (m *machine) write(now float64) {
	begun := m.clock(now)
	over, want := m.claim.Over(begun)
	if !want {
		m.idle()
		return
	}
	m.until = now + m.stopped.Draw(m.t, "stopped before") + m.delay.Draw(m.t, "way there")
	way := m.lost.Draw(m.t, "write lost")
	if way == "there" {
		m.then = m.idle
		return
	}
	m.then = func() {
		tag, ok := m.sea.write(over, m.claim.Me)
		m.until += m.delay.Draw(m.t, "way back") + m.stopped.Draw(m.t, "stopped after")
		m.then = func() {
			switch {
			case way == "back":
				m.idle()
			case ok:
				m.claim.Wrote(tag, begun, m.clock(m.until))
				m.idle()
			default:
				m.look(m.until, false)
			}
		}
	}
}

// goOn does what is due by a second.
func (m *machine) goOn(now float64) {
	for !m.dead && m.until <= now {
		if then := m.then; then == nil {
			m.turn(m.until)
		} else {
			m.then = nil
			then()
		}
	}
}

// TestTwoNeverSend runs machines against one storage, with answers that are late or
// lost and machines that stop anywhere and wake up. Between the last dot of one and the
// first of another lie at least 55 seconds, whoever does what when; and once all but
// one have stopped for good that one sends soon.
func TestTwoNeverSend(t *testing.T) {
	sends, changes := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		o := &sea{t: t, delay: rapid.SampledFrom([]float64{0.1, 0.1, 0.1, 1, 5}), lost: rapid.SampledFrom([]string{"", "", "", "", "", "there", "back"}),
			stopped: rapid.SampledFrom([]float64{0, 0, 0, 0, 0, 0, 0, 15, 31, 80, 200})} // seconds
		machines := make([]*machine, rapid.IntRange(2, 3).Draw(t, "machines"))
		for i := range machines {
			machines[i] = &machine{sea: o, claim: Claim{Me: fmt.Sprint("M", i)}, last: -1e9,
				offset: time.Duration(rapid.IntRange(-3600, 3600).Draw(t, "offset")) * time.Second}
		}
		var lastBy *machine
		const troubled, end = 900, 1250 // 200 seconds stopped, 30 + 45 of waiting, some turns
		for now := 0.0; now < end; now += 0.5 {
			if now == troubled {
				keep := rapid.IntRange(0, len(machines)-1).Draw(t, "survivor")
				for i, m := range machines {
					m.dead = i != keep
				}
				o.delay, o.stopped, o.lost = rapid.Just(0.1), rapid.Just(0.0), rapid.Just("")
			}
			for _, m := range machines {
				m.goOn(now)
				if m.dead || !m.claim.MaySend(m.clock(now)) {
					continue
				}
				sends++
				if lastBy != nil && lastBy != m {
					changes++
					if gap := now - lastBy.last; gap < (Lasts+Wait-Fresh).Seconds()-0.5 {
						t.Fatalf("at %g %s sends, %g seconds after %s", now, m.claim.Me, gap, lastBy.claim.Me)
					}
				}
				m.last, lastBy = now, m
			}
		}
		for _, m := range machines {
			if !m.dead && m.last < end-1 {
				t.Fatalf("%s is alone and does not send; last %g", m.claim.Me, m.last)
			}
		}
	})
	if sends < 1000 || changes < 10 {
		t.Errorf("only %d sends and %d changes of who sends: the simulation shows nothing", sends, changes)
	}
}
