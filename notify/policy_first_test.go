package notify_test

import (
	"strings"
	"testing"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
)

// TestFirstIsFirst: a second reminder is one only after a first that surely
// arrived; else the step goes out on its day in the words of a first.
func TestFirstIsFirst(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	sure, doubted := notifiedOf(schedule.StepInvitation, "2026-08-25"), notifiedOf(schedule.StepInvitation, "2026-08-25")
	doubted.InDoubt = true
	for _, c := range []struct {
		name     string
		notified []schedule.Notified
		first    bool
	}{
		{"told nothing", nil, true},
		{"told once", []schedule.Notified{sure}, false},
		{"told by an email that came back", []schedule.Notified{doubted}, true},
	} {
		r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
		r.Notified = c.notified
		ns := notify.Decide(r, cfg, fixture.At(t, "2026-09-15 10:00"))
		if len(ns) != 1 || ns[0].Step != schedule.StepNudge || ns[0].Visits[0].First != c.first {
			t.Errorf("%s: %s, want the second reminder, first %v", c.name, noticeLines(ns), c.first)
		}
	}
}

// TestOneMailForACustomerAndDay: boats booked for one day are confirmed, reminded
// of and called off in one email, those of another day in another.
func TestOneMailForACustomerAndDay(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	var r schedule.Recipient
	decide := func(at string) []string {
		ns := notify.Decide(r, cfg, fixture.At(t, at))
		var got []string
		for _, n := range ns {
			r.Notified = append(r.Notified, n.Notified...)
			var boats []string
			for _, v := range n.Visits {
				boats = append(boats, v.Boat.ID)
			}
			got = append(got, string(n.Step)+" "+strings.Join(boats, ","))
		}
		return got
	}
	want := func(got []string, want string) {
		t.Helper()
		if strings.Join(got, "; ") != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
	for id, day := range map[string]string{"B1": "2026-10-06", "B2": "2026-10-06", "B3": "2026-10-06", "B4": "2026-10-08"} {
		v := fixture.LayUp(id)
		v.Visit.Booking = &schedule.Booking{VisitID: v.Visit.ID, BoatID: id, Kind: schedule.LayUp, Day: fixture.Day(day), Minute: -1}
		r.Boats = append(r.Boats, fixture.Boat(id, id, v))
	}
	r.Customer = fixture.Customer()
	want(decide("2026-09-16 22:15"), "confirmation B1,B2,B3; confirmation B4")
	want(decide("2026-09-16 23:15"), "")
	want(decide("2026-10-02 10:00"), "booked B1,B2,B3")
	for i := range r.Boats {
		r.Boats[i].Visits[0].Visit.Booking = nil
	}
	want(decide("2026-10-02 11:00"), "cancellation B1,B2,B3; cancellation B4")
}

// TestOnWhoseWish: what became of a booked day is told in the words of whoever
// wished it.
func TestOnWhoseWish(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	reply := func(kind schedule.AnswerKind, booked string) []schedule.Answer {
		return []schedule.Answer{{ID: 3, CustomerID: "C1", BoatID: "B1", VisitID: "B1.lay-up.2026", Kind: kind, Booked: booked}}
	}
	for _, c := range []struct {
		name    string
		booking *schedule.Booking
		replies []schedule.Answer
		want    notify.Change
	}{
		{"the customer took another day", &schedule.Booking{Day: fixture.Day("2026-10-08"), Minute: -1}, reply(schedule.AnswerTake, "2026-10-08"), notify.ByCustomer},
		{"the desk then set its hour", &schedule.Booking{Day: fixture.Day("2026-10-08"), Minute: 540}, reply(schedule.AnswerTake, "2026-10-08"), notify.ByCustomer},
		{"the hour of the day is set", &schedule.Booking{Day: fixture.Day("2026-10-06"), Minute: 540}, nil, notify.HourSet},
		{"we had to", &schedule.Booking{Day: fixture.Day("2026-10-08"), Minute: -1, Reason: "The lift is down."}, reply(schedule.AnswerTake, "2026-10-06"), notify.ByShop},
		{"the desk moved it after the customer took a day", &schedule.Booking{Day: fixture.Day("2026-10-09"), Minute: -1}, reply(schedule.AnswerTake, "2026-10-08"), notify.Agreed},
		{"the customer canceled", nil, reply(schedule.AnswerCancel, ""), notify.ByCustomer},
		{"the customer wants it later", nil, reply(schedule.AnswerLater, ""), notify.ByCustomer},
		{"the customer does not want it", nil, reply(schedule.AnswerDecline, ""), notify.Declined},
		{"the desk canceled", nil, nil, notify.Agreed},
	} {
		v := fixture.LayUp("B1")
		v.Visit.Booking = c.booking
		r := fixture.Recipient(fixture.Boat("B1", "Heron", v))
		r.Answers = c.replies
		told := notifiedOf(schedule.StepConfirmation, "2026-09-16")
		told.Subject = "B1.lay-up.2026@" + fixture.Day("2026-10-06").String() + "#1"
		r.Notified = []schedule.Notified{told}
		ns := notify.Decide(r, cfg, fixture.At(t, "2026-09-30 22:15"))
		if len(ns) != 1 || ns[0].Visits[0].Change != c.want {
			t.Errorf("%s: %s, want the change %q", c.name, noticeLines(ns), c.want)
		}
	}
}

// TestSummaryDoesNotAnnounceWhatHappened: of a visit that was, only what is left
// of it is told, and not as a visit to come.
func TestSummaryDoesNotAnnounceWhatHappened(t *testing.T) {
	was := fixture.LayUp("B1")
	was.Visit.Booking = &schedule.Booking{VisitID: was.Visit.ID, BoatID: "B1", Kind: schedule.LayUp, Day: fixture.Day("2026-10-06"), Minute: -1}
	was.Lines = was.Lines[2:] // the others are recorded
	next := fixture.LayUp("B1")
	next.Visit.ID, next.Visit.Kind, next.Visit.Week, next.Visit.Day = "B1.fit-out.2027", schedule.FitOut, fixture.Day("2027-05-03").Week(), fixture.Day("2027-05-05")
	done := []notify.DoneWork{{Title: "Winterization"}}
	n, ok := notify.Summary(fixture.Recipient(fixture.Boat("B1", "Heron", was, next)), "B1", fixture.Day("2026-10-06"), done,
		notify.DefaultPolicy(fixture.Zone(t)), fixture.At(t, "2026-10-08 16:00"))
	if !ok || len(n.Boats[0].Visits) != 1 || n.Boats[0].Visits[0].Visit.ID != "B1.fit-out.2027" || strings.Join(n.Left, "; ") != "CO alarm tested" {
		t.Errorf("next %+v, left %q", n.Boats, n.Left)
	}
}

// TestNobodyIsAskedInForWinterWork: the boat is in our storage already.
func TestNobodyIsAskedInForWinterWork(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
	v := &r.Boats[0].Visits[0].Visit
	v.Kind, v.ID = schedule.Winter, "B1.winter.2026"
	if ns := notify.Decide(r, cfg, fixture.At(t, "2026-09-15 10:00")); len(ns) != 0 {
		t.Errorf("%s", noticeLines(ns))
	}
	if calls := notify.CallList(r, cfg, fixture.At(t, "2026-10-20 10:00")); len(calls) != 0 {
		t.Errorf("%+v", calls)
	}
}
