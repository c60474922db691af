package notify_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
)

// policyLife is one customer's year under the policy, with what happened.
type policyLife struct {
	r       schedule.Recipient
	cfg     notify.PolicyConfig
	taken   map[string]civil.Day // subject and step
	rank    map[string]int       // how far each visit's reminding went
	lastOne civil.Day            // the last mail that counts for the gap
	keys    map[string]bool      // those the outbox has taken
	belief  map[string]string    // visit to the booked day that the customer was last told
}

var policyRank = map[schedule.Step]int{schedule.StepInvitation: 1, schedule.StepNudge: 2, schedule.StepLastCall: 3, schedule.StepOverdue: 4}

// TestPolicyKeepsItsPromises lives through a year with random visits, moves,
// bookings and opt-outs, and holds every mail against the promises.
func TestPolicyKeepsItsPromises(t *testing.T) {
	zone := fixture.Zone(t)
	rapid.Check(t, func(t *rapid.T) {
		life := &policyLife{cfg: notify.DefaultPolicy(zone), taken: map[string]civil.Day{}, rank: map[string]int{}, keys: map[string]bool{}, belief: map[string]string{}}
		life.cfg.HoldOutPercent = rapid.SampledFrom([]int{0, 50, 100}).Draw(t, "held back")
		life.cfg.Assignment = func(_ string, s returns.Season) float64 { return float64(s.Year%2) * 0.75 }
		start := fixture.Day("2026-03-01")
		for i := range rapid.IntRange(1, 3).Draw(t, "boats") {
			id := fmt.Sprintf("B%d", i)
			var visits []schedule.VisitView
			for j := range rapid.IntRange(0, 3).Draw(t, "visits") {
				visits = append(visits, policyVisit(t, fmt.Sprintf("%s.extra.%d", id, j), id, start))
			}
			life.r.Boats = append(life.r.Boats, fixture.Boat(id, "Boat "+id, visits...))
		}
		life.r.Customer = fixture.Customer()
		for day := start; day < start+365; day++ {
			life.tick(t, day, 0)
			life.checkBelief(t, day)
			for range rapid.SampledFrom([]int{1, 1, 3, 6}).Draw(t, "events") {
				life.happen(t, day)
				hour := rapid.IntRange(0, 23).Draw(t, "hour")
				life.tick(t, day, hour)
				life.tick(t, day, hour) // a double tick
			}
		}
	})
}

func policyVisit(t *rapid.T, id, boat string, start civil.Day) schedule.VisitView {
	v := fixture.LayUp(boat)
	v.Visit.ID, v.Visit.Kind = id, schedule.Extra
	v.Visit.Day = start + civil.Day(rapid.IntRange(-200, 360).Draw(t, "day"))
	v.Visit.Deadline = v.Visit.Day + civil.Day(rapid.IntRange(-30, 60).Draw(t, "slack"))
	v.Visit.Close = v.Visit.Deadline
	v.Visit.Week = 0
	v.Lines[0].Guarded = rapid.Bool().Draw(t, "guarded")
	if rapid.Bool().Draw(t, "pencilled") {
		v.Visit.Week = v.Visit.Day.Week()
	}
	return v
}

// happen moves, books or unbooks a visit, or stops the mails, now and then.
func (l *policyLife) happen(t *rapid.T, day civil.Day) {
	what := rapid.IntRange(0, 400).Draw(t, "event")
	switch what {
	case 0:
		l.r.NoReminders = true
	case 1:
		l.r.NoMail = true
	}
	if what > 80 || len(l.r.Boats[0].Visits) == 0 {
		return
	}
	v := &l.r.Boats[0].Visits[0].Visit
	switch {
	case what < 10:
		v.Week, v.Day = (day + 20).Week(), day+20
	case what < 55: // few days to choose from, so that they come up again
		on := fixture.Day("2026-03-10") + rapid.SampledFrom([]civil.Day{0, 1, 20, 21, 90, 200}).Draw(t, "slot")
		v.Booking = &schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Day: on, Minute: 540}
	default:
		v.Booking = nil
	}
}

// tick asks the policy and writes down what it says, as the outbox would.
func (l *policyLife) tick(t *rapid.T, day civil.Day, hour int) {
	now := day.At(hour, 30, l.cfg.Zone)
	l.draw(t, now)
	for _, n := range notify.Decide(l.r, l.cfg, now) {
		if l.keys[n.Key] {
			continue // the outbox takes each key once
		}
		l.keys[n.Key] = true
		l.check(t, &n, day)
		switch n.Step {
		case schedule.StepConfirmation:
			l.belief[n.Visits[0].Visit.Visit.ID] = n.Notified[0].Subject
		case schedule.StepCancellation:
			delete(l.belief, n.Visits[0].Visit.Visit.ID)
		}
		// The facts of a day come in any order.
		l.r.Notified = slices.Insert(l.r.Notified, rapid.IntRange(0, len(l.r.Notified)).Draw(t, "place"), n.Notified...)
		l.r.LastMail = day
	}
}

// draw draws lots as the app does before it asks the policy.
func (l *policyLife) draw(t *rapid.T, now time.Time) {
	for _, w := range notify.AssignHoldouts(l.r, l.cfg, now) {
		for _, b := range l.r.Boats {
			for _, v := range b.Visits {
				if v.Visit.ID == w.VisitID && v.Lines[0].Guarded {
					t.Fatalf("%s: lots were drawn for %s, which is about safety", w.On, w.VisitID)
				}
			}
		}
		if slices.ContainsFunc(l.r.Holdouts, func(x schedule.Holdout) bool { return x.VisitID == w.VisitID }) {
			t.Fatalf("%s: lots were drawn twice for %s", w.On, w.VisitID)
		}
		l.r.Holdouts = append(l.r.Holdouts, w)
	}
}

// heldBack reports whether the nudge of a visit was held back.
func (l *policyLife) heldBack(visit string) bool {
	return slices.ContainsFunc(l.r.Holdouts, func(w schedule.Holdout) bool { return w.VisitID == visit && w.Held })
}

// checkBelief asks, after the day's first tick, whether the customer knows what
// is booked, however often it changed the day before.
func (l *policyLife) checkBelief(t *rapid.T, day civil.Day) {
	if l.r.NoMail {
		return
	}
	for i := range l.r.Boats {
		for j := range l.r.Boats[i].Visits {
			v := &l.r.Boats[i].Visits[j].Visit
			told := l.belief[v.ID]
			switch {
			case v.Booking != nil && v.Booking.Day > day && !strings.HasPrefix(told, v.ID+"@"+v.Booking.Day.String()):
				t.Fatalf("%s: %s is booked for %s, the customer was told %q", day, v.ID, v.Booking.Day, told)
			case v.Booking == nil && told != "" && told > v.ID+"@"+(day+1).String():
				t.Fatalf("%s: %s is not booked, the customer was told %q", day, v.ID, told)
			}
		}
	}
}

func (l *policyLife) check(t *rapid.T, n *notify.Notice, day civil.Day) {
	appointment := n.Step == schedule.StepConfirmation || n.Step == schedule.StepCancellation || n.Step == schedule.StepBooked
	switch {
	case l.r.NoMail:
		t.Fatalf("%s: mail after \"no mail\": %s", day, n.Key)
	case l.r.NoReminders && !appointment:
		t.Fatalf("%s: reminder after stop: %s", day, n.Key)
	case n.NotAfter.Before(n.At):
		t.Fatalf("%s: stale when it is decided: %s", day, n.Key)
	case len(n.Notified) == 0 || n.Key == "":
		t.Fatalf("%s: a mail that leaves no trace", day)
	}
	for _, h := range n.Notified {
		k := h.Subject + "=" + string(h.Step)
		if on, ok := l.taken[k]; ok {
			t.Fatalf("%s: %s was taken before, on %s", day, k, on)
		}
		l.taken[k] = day
		if h.Step == schedule.StepNudge && l.heldBack(h.Subject) {
			t.Fatalf("%s: a nudge that was held back went out: %s", day, k)
		}
		if rank := policyRank[h.Step]; rank > 0 {
			if rank <= l.rank[h.Subject] {
				t.Fatalf("%s: %s goes back a step", day, k)
			}
			l.rank[h.Subject] = rank
		}
	}
	if appointment {
		if n.Step == schedule.StepBooked {
			l.lastOne = day
		}
		return
	}
	gap := civil.Day(l.cfg.GapDays)
	for _, v := range n.Visits {
		if v.Step != "" && v.Visit.Visit.Booked() {
			t.Fatalf("%s: a reminder for a booked visit: %s", day, n.Key)
		}
	}
	if l.lastOne != 0 && day-l.lastOne < gap {
		t.Fatalf("%s: only %d days after the last mail: %s", day, day-l.lastOne, n.Key)
	}
	l.lastOne = day
}

// FuzzAppointments reads facts with any subject: what is not a booked day is
// passed over, and what is comes back the same in the next telling.
func FuzzAppointments(f *testing.F) {
	for _, s := range []string{"B1.lay-up.2026@2026-10-06T09:00#1", "B1.lay-up.2026@2026-10-06#7", "@#", "B1.lay-up.2026@2026-10-06T9#1", "B1.lay-up.2026@2026-02-30#1", "x#1@y", ""} {
		f.Add(s)
	}
	zone := fixture.Zone(f)
	f.Fuzz(func(t *testing.T, subject string) {
		r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
		r.NoReminders = true
		r.Notified = []schedule.Notified{{Subject: subject, Step: schedule.StepConfirmation, On: fixture.Day("2026-08-01")}}
		for _, n := range notify.Decide(r, notify.DefaultPolicy(zone), fixture.At(t, "2026-08-02 10:00")) {
			called, _, _ := strings.Cut(n.Notified[0].Subject, "#")
			told, _, _ := strings.Cut(subject, "#")
			if n.Step != schedule.StepCancellation || !strings.HasPrefix(told, "B1.lay-up.2026@") || len(called) > len(told) {
				t.Fatalf("%q leads to %s %q", subject, n.Step, n.Notified[0].Subject)
			}
		}
	})
}
