package notify_test

import (
	"testing"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// The freeze comes in the night to Saturday, October 10, 2026.
func alert() notify.FreezeAlert {
	return notify.FreezeAlert{Subject: "freeze.1", Freeze: schedule.Freeze{Night: civil.Of(2026, 10, 10), Tenths: -40},
		Boats: []notify.FreezeBoat{{Boat: schedule.Boat{ID: "B1", Name: "Perch Pressure"}}}}
}

var freezeRules = notify.FreezeRules{From: 7 * 60, Until: 21 * 60, MostASeason: 3}

func TestHowAnOwnerHearsOfAFreeze(t *testing.T) {
	heard := func(subject, on string) schedule.Notified {
		d, err := civil.Parse(on)
		if err != nil {
			t.Fatal(err)
		}
		return schedule.Notified{Subject: subject, Step: schedule.StepFreeze, On: d}
	}
	for name, c := range map[string]struct {
		change func(*schedule.Recipient)
		want   notify.FreezeWay
	}{
		"by email":                  {func(*schedule.Recipient) {}, notify.FreezeByMail},
		"reminded yesterday":        {func(r *schedule.Recipient) { r.LastMail = civil.Of(2026, 10, 6) }, notify.FreezeByMail},
		"no address":                {func(r *schedule.Recipient) { r.Customer.Email = "" }, notify.FreezeByCall},
		"an address that cannot be": {func(r *schedule.Recipient) { r.Customer.Email = "x" }, notify.FreezeByCall},
		"a dead address":            {func(r *schedule.Recipient) { r.Suppressed = "gone" }, notify.FreezeByCall},
		"wants to be called":        {func(r *schedule.Recipient) { r.Customer.ContactBy = "phone" }, notify.FreezeByCall},
		"wants nothing":             {func(r *schedule.Recipient) { r.Customer.ContactBy = "none" }, notify.FreezeByCall},
		"no email at all":           {func(r *schedule.Recipient) { r.NoMail = true }, notify.FreezeByCall},
		"no reminders":              {func(r *schedule.Recipient) { r.NoReminders = true }, notify.FreezeByCall},
		"heard of this one":         {func(r *schedule.Recipient) { r.Notified = append(r.Notified, heard("freeze.1", "2026-10-06")) }, notify.FreezeNotified},
		"heard of this one, no email now": {func(r *schedule.Recipient) {
			r.NoMail, r.Notified = true, append(r.Notified, heard("freeze.1", "2026-10-06"))
		}, notify.FreezeNotified},
		"heard of two": {func(r *schedule.Recipient) {
			r.Notified = append(r.Notified, heard("freeze.7", "2026-09-20"), heard("freeze.8", "2026-09-28"))
		}, notify.FreezeByMail},
		"heard of three": {func(r *schedule.Recipient) {
			r.Notified = append(r.Notified, heard("freeze.7", "2026-09-20"), heard("freeze.8", "2026-09-28"), heard("freeze.9", "2026-10-02"))
		}, notify.FreezeEnough},
		"heard of three last season": {func(r *schedule.Recipient) {
			r.Notified = append(r.Notified, heard("freeze.7", "2025-10-20"), heard("freeze.8", "2025-11-20"), heard("freeze.9", "2026-03-02"))
		}, notify.FreezeByMail},
	} {
		r := schedule.Recipient{Customer: schedule.Customer{ID: "C1", Name: "Ana", Email: "ana@example.com", ContactBy: "email"}}
		c.change(&r)
		a := alert()
		got := notify.TellOfFreeze(&r, &a, freezeRules)
		if got.Way != c.want || (got.Why != "") != (c.want == notify.FreezeByCall) {
			t.Errorf("%s: %+v, want %s", name, got, c.want)
		}
		now := time.Date(2026, 10, 7, 12, 0, 0, 0, time.UTC)
		if _, ok := notify.FreezeNotice(r, a, freezeRules, notify.DefaultPolicy(time.UTC), now); ok != (c.want == notify.FreezeByMail) {
			t.Errorf("%s: an email goes out: %v", name, ok)
		}
	}
}

func TestAFreezeEmailLeavesOnAnyDayInItsHours(t *testing.T) {
	r := schedule.Recipient{Customer: schedule.Customer{ID: "C1", Email: "ana@example.com"}}
	for at, want := range map[time.Time]bool{
		time.Date(2026, 10, 7, 6, 59, 0, 0, time.UTC):  false,
		time.Date(2026, 10, 7, 7, 0, 0, 0, time.UTC):   true,
		time.Date(2026, 10, 4, 20, 59, 0, 0, time.UTC): true, // a Sunday
		time.Date(2026, 10, 7, 21, 0, 0, 0, time.UTC):  false,
		time.Date(2026, 10, 9, 20, 0, 0, 0, time.UTC):  true, // the last evening
		time.Date(2026, 10, 10, 8, 0, 0, 0, time.UTC):  false,
		time.Date(2026, 10, 10, 0, 0, 0, 0, time.UTC):  false,
	} {
		n, ok := notify.FreezeNotice(r, alert(), freezeRules, notify.DefaultPolicy(time.UTC), at)
		if ok != want {
			t.Errorf("at %s: %v, want %v", at, ok, want)
		}
		if ok && (n.Key != "C1|freeze.1|freeze" || !n.AtOnce || n.Step != schedule.StepFreeze || !n.NotAfter.Equal(time.Date(2026, 10, 9, 23, 59, 59, 0, time.UTC)) || len(n.Notified) != 1) {
			t.Errorf("%+v", n)
		}
	}
}
