package notify_test

import (
	"testing"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
)

// TestALapsedBoatIsRemindedOnceAYear: its winterization, meant for Wednesday
// 7 October 2026 and due by Saturday 10 October, has a first reminder from 42 days
// before, 26 August, until the third working day before the deadline, 7 October; and
// nothing follows it.
func TestALapsedBoatIsRemindedOnceAYear(t *testing.T) {
	told := func(subject string, step schedule.Step, on string) schedule.Notified {
		return schedule.Notified{CustomerID: "C1", Subject: subject, Step: step, On: fixture.Day(on)}
	}
	const first = "first-reminder: B1.lay-up.2026=first-reminder until 2026-10-07 23:59"
	for _, c := range []struct {
		name, at string
		told     []schedule.Notified
		want     string
	}{
		{"too early", "2026-08-25 10:00", nil, ""},
		{"42 days before", "2026-08-26 10:00", nil, first},
		{"no second reminder", "2026-09-21 10:00", []schedule.Notified{told("B1.lay-up.2026", schedule.StepInvitation, "2026-08-26")}, ""},
		{"no final one", "2026-10-05 10:00", []schedule.Notified{told("B1.lay-up.2026", schedule.StepInvitation, "2026-08-26")}, ""},
		{"a late one is a first one", "2026-10-05 10:00", nil, first},
		{"no overdue notice", "2026-10-20 10:00", nil, ""},
		{"reminded of the commissioning this year", "2026-08-26 10:00", []schedule.Notified{told("B1.fit-out.2026", schedule.StepInvitation, "2026-04-01")}, ""},
		{"reminded 365 days ago", "2026-08-26 10:00", []schedule.Notified{told("B1.lay-up.2025", schedule.StepInvitation, "2025-08-26")}, first},
		{"reminded 364 days ago", "2026-08-26 10:00", []schedule.Notified{told("B1.lay-up.2025", schedule.StepInvitation, "2025-08-27")}, ""},
		{"reminded of another boat", "2026-08-26 10:00", []schedule.Notified{told("B2.lay-up.2026", schedule.StepInvitation, "2026-08-10")}, first},
		{"reminded in vain for two seasons", "2026-08-26 10:00", []schedule.Notified{
			told("B1.lay-up.2024", schedule.StepInvitation, "2024-08-26"), told("B1.lay-up.2025", schedule.StepInvitation, "2025-08-26"),
		}, first},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, cfg := lapsed(), notify.DefaultPolicy(fixture.Zone(t))
			r.Notified = c.told
			if got := noticeLines(notify.Decide(r, cfg, fixture.At(t, c.at))); got != c.want {
				t.Errorf("at %s: %q, want %q", c.at, got, c.want)
			}
		})
	}
}

// TestALapsedBoatIsNotCalledByItself: whom email reaches is left to the list of
// lapsed boats; whom it does not is called when the first reminder is due.
func TestALapsedBoatIsNotCalledByItself(t *testing.T) {
	reminded := []schedule.Notified{{CustomerID: "C1", Subject: "B1.lay-up.2026", Step: schedule.StepInvitation, On: fixture.Day("2026-08-26")}}
	for _, c := range []struct {
		name, at string
		with     func(*schedule.Recipient)
		want     notify.CallReason
	}{
		{"no reply to the reminder", "2026-10-20 10:00", func(r *schedule.Recipient) { r.Notified = reminded }, ""},
		{"wants to be called", "2026-08-26 10:00", func(r *schedule.Recipient) { r.Customer.ContactBy = "phone" }, notify.CallByWish},
		{"wants to be called, too early", "2026-08-25 10:00", func(r *schedule.Recipient) { r.Customer.ContactBy = "phone" }, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, cfg := lapsed(), notify.DefaultPolicy(fixture.Zone(t))
			c.with(&r)
			var got notify.CallReason
			for _, call := range notify.CallList(r, cfg, fixture.At(t, c.at)) {
				got = call.Reason
			}
			if got != c.want {
				t.Errorf("at %s: called because %q, want %q", c.at, got, c.want)
			}
		})
	}
}

// lapsed is a customer whose boat has lapsed: its visits have no week.
func lapsed() schedule.Recipient {
	v := fixture.LayUp("B1")
	v.Visit.Lapsed, v.Visit.Week = true, 0
	return fixture.Recipient(fixture.Boat("B1", "Heron", v))
}
