package notify_test

import (
	"testing"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
)

// TestPassedOnTellsOfWhatWasBooked: one mail about the days from the change of
// owner on that are still to come, and none where there is nothing to tell.
func TestPassedOnTellsOfWhatWasBooked(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	booked := fixture.LayUp("B1")
	booked.Visit.Booking = &schedule.Booking{VisitID: booked.Visit.ID, BoatID: "B1", Kind: schedule.LayUp, Day: fixture.Day("2026-10-06"), Minute: 540}
	two := fixture.LayUp("B1")
	two.Visit.ID, two.Visit.Kind, two.Title = "B1.extra.1", schedule.Extra, "Service visit"
	two.Visit.Booking = &schedule.Booking{VisitID: two.Visit.ID, BoatID: "B1", Kind: schedule.Extra, Day: fixture.Day("2026-11-10"), Minute: -1}
	open := fixture.LayUp("B1")
	for _, c := range []struct {
		name   string
		visits []schedule.VisitView
		change func(*schedule.Recipient)
		from   string
		tells  int
	}{
		{"booked", []schedule.VisitView{booked}, nil, "2026-10-01", 1},
		{"two days, one mail", []schedule.VisitView{booked, two}, nil, "2026-10-01", 2},
		{"only from the day on", []schedule.VisitView{booked, two}, nil, "2026-10-07", 1},
		{"nothing booked", []schedule.VisitView{open}, nil, "2026-10-01", 0},
		{"wants no reminders, but this is none", []schedule.VisitView{booked}, func(r *schedule.Recipient) { r.NoReminders = true }, "2026-10-01", 1},
		{"wants no email", []schedule.VisitView{booked}, func(r *schedule.Recipient) { r.NoMail = true }, "2026-10-01", 0},
		{"no address", []schedule.VisitView{booked}, func(r *schedule.Recipient) { r.Customer.Email = "" }, "2026-10-01", 0},
	} {
		r := fixture.Recipient(fixture.Boat("B1", "Heron", c.visits...))
		if c.change != nil {
			c.change(&r)
		}
		n, ok := notify.PassedOn(r, "B1", fixture.Day(c.from), cfg, fixture.At(t, "2026-10-02 10:00"))
		if ok != (c.tells > 0) || len(n.Visits) != c.tells || ok && (n.Step != schedule.StepPassedOn || !n.AtOnce) {
			t.Errorf("%s: %d visits (%v), want %d", c.name, len(n.Visits), ok, c.tells)
		}
	}
}

// TestWelcomeConfirmsWhatIsBooked: whoever takes over a booked day is told of it
// in the welcome, and not in a second mail.
func TestWelcomeConfirmsWhatIsBooked(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	now := fixture.At(t, "2026-09-16 22:15")
	booked := fixture.LayUp("B1")
	booked.Visit.Booking = &schedule.Booking{VisitID: booked.Visit.ID, BoatID: "B1", Kind: schedule.LayUp, Day: fixture.Day("2026-10-06"), Minute: 540}
	r := fixture.Recipient(fixture.Boat("B1", "Heron", booked))
	n, ok := notify.Welcome(r, "B1", cfg, now)
	if !ok || n.Step != schedule.StepWelcome {
		t.Fatalf("welcome %v, step %q", ok, n.Step)
	}
	r.Notified = append(r.Notified, n.Notified...)
	if again := notify.Decide(r, cfg, now); len(again) != 0 {
		t.Errorf("a second mail: %s about %q", again[0].Step, again[0].Subjects)
	}
	// A day that moves later is news.
	booked.Visit.Booking.Day += 2
	if moved := notify.Decide(r, cfg, now); len(moved) != 1 || moved[0].Step != schedule.StepConfirmation || moved[0].Visits[0].Was.Day != fixture.Day("2026-10-06") {
		t.Errorf("after a move %+v", moved)
	}
}
