package notify_test

import (
	"testing"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
)

// The registration runs out on 31 December; renewing is sensible 60 days before,
// from 1 November. The owner hears of it once, on the first day on which an email
// may go out, and never after it ran out: then the desk's list has it. Another
// paper's job of the owner, a check he makes himself, is no reminder.
func TestRegistrationIsRenewedInTime(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	r := fixture.Recipient(fixture.Boat("B1", "Heron"))
	item := schedule.DueItem{BoatID: "B1", ComponentID: "B1-R", Rule: "registration", Service: "registration", Basis: schedule.BasisExpiry, ByCustomer: true,
		Due: fixture.Day("2026-12-31"), ByDate: fixture.Day("2026-12-31"), Open: fixture.Day("2026-11-01"), Close: fixture.Day("2026-12-31")}
	own := item
	own.Service, own.Rule = "extinguisher-check", "extinguisher-check"
	r.Boats[0].Loose = []schedule.Line{{Item: own, Title: "Fire extinguishers checked"}, {Item: item, Title: "Boat registration: renew it"}}
	decide := func(at string) []notify.Notice { return notify.Decide(r, cfg, fixture.At(t, at)) }
	for at, want := range map[string]int{"2026-10-30 10:00": 0, "2026-11-02 10:00": 1, "2027-01-04 10:00": 0} {
		ns := decide(at)
		if len(ns) != want {
			t.Errorf("%s: %s, want %d", at, noticeLines(ns), want)
		}
		if want == 1 && (ns[0].Step != schedule.StepRenewal || len(ns[0].Renewals) != 1 || ns[0].Subjects[0] != "B1.registration.2026-12-31") {
			t.Errorf("%s: %s about %v", at, ns[0].Step, ns[0].Subjects)
		}
	}
	r.Notified = append(r.Notified, decide("2026-11-02 10:00")[0].Notified...)
	for i := range r.Notified {
		r.Notified[i].On = fixture.Day("2026-11-02")
	}
	if ns := decide("2026-12-01 10:00"); len(ns) != 0 {
		t.Errorf("told twice: %s", noticeLines(ns))
	}
	r.NoReminders = true
	r.Notified = nil
	if ns := decide("2026-11-02 10:00"); len(ns) != 0 {
		t.Errorf("mailed against the owner's wish: %s", noticeLines(ns))
	}
}
