package notify_test

import (
	"testing"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
)

// TestASoldBoatIsNotSpokenOf: from the moment at which its owner says that a boat is
// sold, before the desk has looked, no email names it.
func TestASoldBoatIsNotSpokenOf(t *testing.T) {
	heron := fixture.Boat("B1", "Heron", fixture.LayUp("B1"))
	cfg, now := notify.DefaultPolicy(fixture.Zone(t)), fixture.At(t, "2026-10-07 10:00")
	alert := notify.FreezeAlert{Subject: "freeze.1", Freeze: schedule.Freeze{Night: fixture.Day("2026-10-10"), Tenths: -40},
		Boats: []notify.FreezeBoat{{Boat: heron.Boat, Visit: &heron.Visits[0].Visit}}}
	rules := notify.FreezeRules{From: 7 * 60, Until: 21 * 60, MostASeason: 3}
	done := []notify.DoneWork{{Title: "Winterization"}}
	for name, tell := range map[string]func(r schedule.Recipient) bool{
		"reminders": func(r schedule.Recipient) bool {
			r.Notified = []schedule.Notified{notifiedOf("first-reminder", "2026-08-25")}
			return len(notify.Decide(r, cfg, fixture.At(t, "2026-10-05 10:00"))) > 0
		},
		"a freeze": func(r schedule.Recipient) bool {
			_, ok := notify.FreezeNotice(r, alert, rules, cfg, now)
			return ok
		},
		"the welcome": func(r schedule.Recipient) bool {
			_, ok := notify.Welcome(r, "B1", cfg, now)
			return ok
		},
		"the summary": func(r schedule.Recipient) bool {
			_, ok := notify.Summary(r, "B1", fixture.Day("2026-10-06"), done, cfg, now)
			return ok
		},
		"the page's address": func(r schedule.Recipient) bool {
			n, ok := notify.Page(r, cfg, now)
			return ok && len(n.Boats) > 0
		},
		"the plan in a correction": func(r schedule.Recipient) bool {
			n, _ := notify.Correction(r, heron.Boat, notify.Told{Day: fixture.Day("2026-10-01"), Subject: "x", Boat: heron.Boat}, cfg, now)
			return len(n.Boats) > 0
		},
	} {
		r := fixture.Recipient(heron)
		if !tell(r) {
			t.Errorf("%s: nothing goes out before", name)
		}
		r.Answers = []schedule.Answer{{ID: 3, CustomerID: "C1", BoatID: "B1", Kind: schedule.AnswerSold, At: fixture.At(t, "2026-10-01 10:00")}}
		if tell(r) {
			t.Errorf("%s: speaks of a boat that is sold", name)
		}
	}
}
