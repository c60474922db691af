package app_test

import (
	"slices"
	"strings"
	"testing"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/store/outbox"
)

// notifiedSince are the steps of the letters to a customer since one.
func (p *post) notifiedSince(customer string, id int64) (steps []schedule.Step, last int64) {
	p.t.Helper()
	all, err := outbox.Messages(p.t.Context(), p.DB, outbox.MessageQuery{CustomerID: customer})
	if err != nil {
		p.t.Fatal(err)
	}
	for _, l := range slices.Backward(all) {
		if last = max(last, l.ID); l.ID > id {
			steps = append(steps, l.Step)
		}
	}
	return steps, max(last, id)
}

// firstVisit is an open visit of a customer whom mail reaches.
func (p *post) firstVisit() (schedule.Visit, schedule.Customer) {
	p.t.Helper()
	for _, l := range p.sent {
		owned, err := p.DB.BoatsOf(p.t.Context(), l.CustomerID)
		if err != nil {
			p.t.Fatal(err)
		}
		for _, b := range owned {
			plan, err := p.DB.Plan(p.t.Context(), b.ID)
			if err != nil {
				p.t.Fatal(err)
			}
			for _, v := range plan.Visits {
				if v.Kind == schedule.FitOut && v.Day > p.day()+20 {
					c, err := p.DB.Customer(p.t.Context(), l.CustomerID)
					if err != nil {
						p.t.Fatal(err)
					}
					return v, c
				}
			}
		}
	}
	p.t.Fatal("nobody has a fit-out to come")
	return schedule.Visit{}, schedule.Customer{}
}

func (p *post) day() civil.Day { return civil.FromTime(p.now.In(p.Config.Zone())) }

// TestEveryChangeOfABookedDayIsToldOnce books, moves, calls off and books a
// visit again, for the day that it had at first too. Each is told at once, and
// asking again tells nothing more.
func TestEveryChangeOfABookedDayIsToldOnce(t *testing.T) {
	p := newPost(t, "")
	v, c := p.firstVisit()
	first, second := v.Day-3, v.Day-2
	book := func(day civil.Day, minute int) func() error {
		return func() error {
			return p.Writer().Book(t.Context(), p.now, "test", schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: day, Minute: minute}, nil, nil)
		}
	}
	off := func() error { return p.Writer().Unbook(t.Context(), p.now, "test", v.ID, nil, nil) }
	_, last := p.notifiedSince(c.ID, 0)
	for _, s := range []struct {
		name string
		do   func() error
		want []schedule.Step
	}{
		{"booked", book(first, -1), []schedule.Step{schedule.StepConfirmation}},
		{"booked again for the same day", book(first, -1), nil},
		{"moved", book(second, -1), []schedule.Step{schedule.StepConfirmation}},
		{"moved to an hour of that day", book(second, 9*60), []schedule.Step{schedule.StepConfirmation}},
		{"called off", off, []schedule.Step{schedule.StepCancellation}},
		{"booked again for the first day", book(first, -1), []schedule.Step{schedule.StepConfirmation}},
		{"called off again", off, []schedule.Step{schedule.StepCancellation}},
		{"and booked once more", book(first, -1), []schedule.Step{schedule.StepConfirmation}},
	} {
		if err := s.do(); err != nil {
			t.Fatalf("%s: %v", s.name, err)
		}
		settle(t, p.App, p.day())
		for range 3 { // asked again, nothing more is told
			if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
				t.Fatal(err)
			}
		}
		var got []schedule.Step
		if got, last = p.notifiedSince(c.ID, last); !slices.Equal(got, s.want) {
			t.Errorf("%s: told %q, want %q", s.name, got, s.want)
		}
	}
	p.now = (first - 1).At(10, 0, p.Config.Zone())
	for range 2 {
		if _, err := p.Remind(t.Context(), p.now); err != nil {
			t.Fatal(err)
		}
	}
	got, _ := p.notifiedSince(c.ID, last)
	if n := len(slices.DeleteFunc(got, func(s schedule.Step) bool { return s != schedule.StepBooked })); n != 1 {
		t.Errorf("the day was recalled %d times", n)
	}
}

// twoOpen are an open visit each of two boats of a customer whom email reaches.
func (p *post) twoOpen() (customer string, open []schedule.Visit) {
	p.t.Helper()
	all, err := p.DB.Customers(p.t.Context(), "", 1000)
	if err != nil {
		p.t.Fatal(err)
	}
	for _, c := range all {
		owned, err := p.DB.BoatsOf(p.t.Context(), c.ID)
		if err != nil {
			p.t.Fatal(err)
		}
		if open = nil; c.ContactBy != "email" || c.Email == "" {
			continue
		}
		for _, b := range owned {
			plan, err := p.DB.Plan(p.t.Context(), b.ID)
			if err != nil {
				p.t.Fatal(err)
			}
			if k := slices.IndexFunc(plan.Visits, func(v schedule.Visit) bool { return !v.Booked() }); k >= 0 {
				open = append(open, plan.Visits[k])
			}
		}
		if len(open) >= 2 {
			return c.ID, open[:2]
		}
	}
	p.t.Fatal("nobody has two boats with open visits")
	return "", nil
}

// TestBoatsBookedOneAfterTheOtherShareAConfirmation: as long as the first email has
// not gone out, what is booked for the day after it goes with it.
func TestBoatsBookedOneAfterTheOtherShareAConfirmation(t *testing.T) {
	p := newPost(t, "")
	customer, open := p.twoOpen()
	_, last := p.notifiedSince(customer, 0)
	day := p.day() + 20
	for _, v := range open {
		b := schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: day, Minute: -1}
		if err := p.Writer().Book(t.Context(), p.now, "test", b, nil, nil); err != nil {
			t.Fatal(err)
		}
		settle(t, p.App, p.day())
		if _, err := p.Tell(t.Context(), p.now, v.BoatID); err != nil {
			t.Fatal(err)
		}
	}
	waiting, err := outbox.Messages(t.Context(), p.DB, outbox.MessageQuery{CustomerID: customer, State: schedule.MessageQueued})
	if err != nil {
		t.Fatal(err)
	}
	waiting = slices.DeleteFunc(waiting, func(l schedule.Message) bool { return l.ID <= last || l.Step != schedule.StepConfirmation })
	if len(waiting) != 1 || len(waiting[0].Subjects) != 2 {
		t.Errorf("%d confirmations wait: %+v", len(waiting), waiting)
	}
}

// TestASummaryFollowsAVisit records work and waits: the customer hears once
// what was done, when nothing more has been written down for two days.
func TestASummaryFollowsAVisit(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for name, c := range map[string]struct {
		more string
		want int
	}{
		"wanted":     {"[reminders]\nafter_visit = true\n", 1},
		"not wanted": {"", 0},
	} {
		t.Run(name, func(t *testing.T) {
			p := newPost(t, c.more)
			v, who := p.firstVisit()
			work := func(service string) {
				t.Helper()
				rec := schedule.Record{BoatID: v.BoatID, Day: p.day(), Service: service, By: schedule.ByShop, Note: "the shop's own words", Amount: measure.Cents(100)}
				if _, err := p.Writer().AddRecord(t.Context(), p.now, "test", rec); err != nil {
					t.Fatal(err)
				}
			}
			_, last := p.notifiedSince(who.ID, 0)
			told := 0
			for day := range 14 {
				switch day {
				case 1:
					work("fit-out")
				case 2:
					work("hull-check")
				}
				settle(t, p.App, p.day())
				if _, err := p.Remind(t.Context(), p.now); err != nil {
					t.Fatal(err)
				}
				var steps []schedule.Step
				steps, last = p.notifiedSince(who.ID, last)
				if slices.Contains(steps, schedule.StepSummary) {
					told++
					checkSummary(t, p, last, day)
				}
				p.now = p.now.AddDate(0, 0, 1)
			}
			if told != c.want {
				t.Errorf("told %d times, want %d", told, c.want)
			}
		})
	}
}

func checkSummary(t *testing.T, p *post, id int64, day int) {
	t.Helper()
	l, err := outbox.Message(t.Context(), p.DB, id)
	if err != nil {
		t.Fatal(err)
	}
	text := string(l.Raw)
	if day < 4 || !strings.Contains(text, "Hull") || strings.Contains(text, "own words") {
		t.Errorf("on day %d:\n%s", day, text)
	}
	if !strings.Contains(l.Subject, "what we did") {
		t.Errorf("its subject is %q", l.Subject)
	}
}

// TestARestoredShopHoldsItsMail: after a restore nothing goes out, whatever is
// due, until a person has looked.
func TestARestoredShopHoldsItsMail(t *testing.T) {
	p := newPost(t, "")
	if err := outbox.AfterRestore(t.Context(), p.Writer(), p.now, "test"); err != nil {
		t.Fatal(err)
	}
	if _, err := outbox.NewQueue(p.Writer()).Claim(t.Context(), p.now, 0); err == nil {
		t.Error("a letter is given out")
	}
	counts, err := outbox.MessageCounts(t.Context(), p.DB)
	if err != nil || counts[schedule.MessageUncertain] != len(p.sent) {
		t.Errorf("%v, %v", counts, err)
	}
	if got := p.called(p.sent[0].CustomerID); got == notify.CallBounced {
		t.Errorf("the customer is rung for %q", got)
	}
}
