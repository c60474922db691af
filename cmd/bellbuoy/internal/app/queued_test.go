package app_test

import (
	"slices"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/measure"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// queuedReminder is a letter that waits and tells of exactly one visit, with
// that visit.
func (p *post) queuedReminder() (schedule.Message, schedule.Visit) {
	p.t.Helper()
	all := visits(p.t, p.App)
	for _, l := range p.sent {
		v, ok := all[l.Subjects[0]]
		if ok && len(l.Subjects) == 1 && l.State == schedule.MessageQueued && v.Day > p.day() {
			return l, v
		}
	}
	p.t.Fatal("no reminder waits")
	return schedule.Message{}, schedule.Visit{}
}

// TestAQueuedReminderIsLookedAtAgain changes what a letter tells of while it
// waits. It does not go out, it was not heard, and in the same tick the policy
// says what is to be told instead.
func TestAQueuedReminderIsLookedAtAgain(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, c := range []struct {
		name    string
		change  func(p *post, l *schedule.Message, v *schedule.Visit) error
		instead schedule.Step // what the customer is told in the same tick, "" for nothing
	}{
		{"booked", func(p *post, _ *schedule.Message, v *schedule.Visit) error {
			return p.Writer().Book(p.t.Context(), p.now, "test", schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: v.Day, Minute: 9 * 60}, nil, nil)
		}, schedule.StepConfirmation},
		{"done", func(p *post, _ *schedule.Message, v *schedule.Visit) error {
			var more []schedule.Record
			plan, err := p.DB.Plan(p.t.Context(), v.BoatID)
			for _, it := range plan.Items {
				if it.VisitID == v.ID {
					more = append(more, schedule.Record{BoatID: v.BoatID, ComponentID: it.ComponentID, Day: p.day(), Service: it.Service, By: schedule.ByShop, Amount: measure.Cents(100)})
				}
			}
			for _, r := range more {
				if _, e := p.Writer().AddRecord(p.t.Context(), p.now, "test", r); e != nil {
					err = e
				}
			}
			return err
		}, ""},
		{"declined", func(p *post, l *schedule.Message, v *schedule.Visit) error {
			_, err := p.Writer().SaveAnswer(p.t.Context(), p.now, "test", store.NewAnswer{Answer: schedule.Answer{
				CustomerID: l.CustomerID, BoatID: v.BoatID, VisitID: v.ID, Kind: schedule.AnswerDecline}})
			return err
		}, ""},
		{"moved", func(p *post, l *schedule.Message, v *schedule.Visit) error {
			return p.Writer().Pin(p.t.Context(), p.now, "test", v.ID, v.Week-1)
		}, "any"},
		{"the address was put right", func(p *post, l *schedule.Message, v *schedule.Visit) error {
			who, err := p.DB.Customer(p.t.Context(), l.CustomerID)
			if err != nil {
				return err
			}
			who.Email = "put.right@mail.example"
			return storetest.SaveCustomer(p.t.Context(), p.Writer(), p.now, "test", who)
		}, "any"},
		{"the customer reads French", func(p *post, l *schedule.Message, v *schedule.Visit) error {
			who, err := p.DB.Customer(p.t.Context(), l.CustomerID)
			if err != nil {
				return err
			}
			who.Language = "fr"
			return storetest.SaveCustomer(p.t.Context(), p.Writer(), p.now, "test", who)
		}, "any"},
		{"the customer wants to be called", func(p *post, l *schedule.Message, v *schedule.Visit) error {
			who, err := p.DB.Customer(p.t.Context(), l.CustomerID)
			if err != nil {
				return err
			}
			who.ContactBy = "phone"
			return storetest.SaveCustomer(p.t.Context(), p.Writer(), p.now, "test", who)
		}, ""},
		{"the boat is another's", func(p *post, l *schedule.Message, v *schedule.Visit) error {
			return storetest.SetOwner(p.t.Context(), p.Writer(), p.now, "test", v.BoatID, "", p.day())
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := newPost(t, "")
			l, v := p.queuedReminder()
			r := serveRelay(t)
			if err := c.change(p, &l, &v); err != nil {
				t.Fatal(err)
			}
			p.tick(r)
			got, err := outbox.Message(t.Context(), p.DB, l.ID)
			if err != nil || got.State != "withdrawn" || got.Answer == "" {
				t.Errorf("the letter is %s (%s), %v; want it withdrawn with a reason", got.State, got.Answer, err)
			}
			said, _ := p.notifiedSince(l.CustomerID, p.sent[0].ID)
			switch {
			case c.instead == "" && len(said) > 0, c.instead != "" && len(said) != 1:
				t.Errorf("the customer is told %q instead, want %q", said, c.instead)
			case c.instead != "" && c.instead != "any" && said[0] != c.instead:
				t.Errorf("the customer is told %q instead, want %q", said, c.instead)
			}
			heard, err := outbox.Notified(t.Context(), p.DB, []string{l.CustomerID})
			if err != nil {
				t.Fatal(err)
			}
			still := slices.ContainsFunc(heard[l.CustomerID], func(h schedule.Notified) bool { return h.Subject == v.ID })
			if still != (c.instead == "any") {
				t.Errorf("heard: %+v", heard[l.CustomerID])
			}
			for _, other := range p.letters(outbox.MessageQuery{}) {
				if other.ID != l.ID && other.State != schedule.MessageSent {
					t.Errorf("the letter to %s, which is true, is %s: %s", other.CustomerID, other.State, other.Answer)
				}
			}
			if bad, err := p.DB.Check(t.Context()); err != nil || len(bad) > 0 {
				t.Errorf("%v, %v", bad, err)
			}
		})
	}
}

// TestAReplyIsAnsweredAtOnce: what a customer does on their page is no change
// that takes back the answer to it.
func TestAReplyIsAnsweredAtOnce(t *testing.T) {
	p := newPost(t, "")
	r := serveRelay(t)
	p.tick(r)
	l, v := p.queuedReminder()
	_, last := p.notifiedSince(l.CustomerID, 0)
	a := schedule.Answer{CustomerID: l.CustomerID, BoatID: v.BoatID, VisitID: v.ID, Kind: schedule.AnswerTake}
	days, err := p.Openings(t.Context(), []*schedule.Visit{&v}, p.day())
	if err != nil || len(days) == 0 {
		t.Fatal(days, err)
	}
	if _, err := p.Take(t.Context(), p.now, a, []*schedule.Visit{&v}, days[0].Day, -1, nil); err != nil {
		t.Fatal(err)
	}
	p.tick(r)
	a.Kind = schedule.AnswerCancel
	if _, err := p.Reply(t.Context(), p.now, store.NewAnswer{Answer: a}); err != nil {
		t.Fatal(err)
	}
	p.tick(r)
	a.Kind = schedule.AnswerDecline
	if _, err := p.Reply(t.Context(), p.now, store.NewAnswer{Answer: a}); err != nil {
		t.Fatal(err)
	}
	p.tick(r)
	if said, _ := p.notifiedSince(l.CustomerID, last); !slices.Equal(said, []schedule.Step{schedule.StepConfirmation, schedule.StepCancellation}) {
		t.Errorf("told %q", said)
	}
	for _, l := range p.letters(outbox.MessageQuery{}) {
		if l.State != schedule.MessageSent {
			t.Errorf("%s of %s is %s: %s", l.Step, l.CustomerID, l.State, l.Answer)
		}
	}
}

// TestNothingChangesAfterTheFirstAttempt: a letter that was begun goes out with
// its bytes, whatever has become of the visit.
func TestNothingChangesAfterTheFirstAttempt(t *testing.T) {
	p := newPost(t, "")
	l, v := p.queuedReminder()
	r := serveRelay(t)
	r.does(func(string) error { return saying(450, [3]int{4, 2, 0}, "later") }, nil)
	p.tick(r)
	if err := p.Writer().Book(t.Context(), p.now, "test", schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: v.Day, Minute: -1}, nil, nil); err != nil {
		t.Fatal(err)
	}
	r.does(nil, nil)
	before, err := outbox.Message(t.Context(), p.DB, l.ID)
	if err != nil {
		t.Fatal(err)
	}
	p.now = before.NextAt
	p.tick(r)
	after, err := outbox.Message(t.Context(), p.DB, l.ID)
	if err != nil || after.State != schedule.MessageSent || string(after.Raw) != string(l.Raw) && string(after.Raw) != string(before.Raw) {
		t.Errorf("the letter is %s, %v", after.State, err)
	}
}

// TestBookingOneBoatIsNoSilence: in the hour in which one boat is booked, its
// owner is not told that nothing was heard about the other.
func TestBookingOneBoatIsNoSilence(t *testing.T) {
	p := newPost(t, "")
	l, v := p.queuedReminder()
	for _, other := range visits(t, p.App) { // one that calls for a reminder today
		r, err := p.DB.OwnerOf(t.Context(), other.BoatID)
		if err == nil && r.ID != l.CustomerID && other.Kind == schedule.FitOut && other.Week == v.Week {
			if err := storetest.SetOwner(t.Context(), p.Writer(), p.now, "test", other.BoatID, l.CustomerID, p.day()); err != nil {
				t.Fatal(err)
			}
			break
		}
	}
	p.now = p.now.AddDate(0, 0, 14) // the gap after the first is over
	settle(t, p.App, p.day())
	_, last := p.notifiedSince(l.CustomerID, 0)
	if err := p.Writer().Book(t.Context(), p.now, "test", schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: p.day() + 20, Minute: -1}, nil, nil); err != nil {
		t.Fatal(err)
	}
	settle(t, p.App, p.day())
	for _, ask := range []func() error{
		func() error { _, err := p.Tell(t.Context(), p.now, v.BoatID); return err },
		func() error { _, err := p.Remind(t.Context(), p.now); return err },
	} {
		if err := ask(); err != nil {
			t.Fatal(err)
		}
		if said, _ := p.notifiedSince(l.CustomerID, last); !slices.Equal(said, []schedule.Step{schedule.StepConfirmation}) {
			t.Errorf("the customer is told %q, want the confirmation and no more", said)
		}
	}
	p.now = p.now.AddDate(0, 0, 1)
	if _, err := p.Remind(t.Context(), p.now); err != nil {
		t.Fatal(err)
	}
	if said, _ := p.notifiedSince(l.CustomerID, last); len(said) != 2 {
		t.Errorf("by the next day the customer is told %q, want a reminder of the other boat too", said)
	}
}
