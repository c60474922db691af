package notify_test

import (
	"fmt"
	"strings"
	"testing"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
	"bellbuoy/schedule/returns"
)

// holdoutVisit is a fit-out pencilled for the week of 3 May 2027 and due by 15
// May: invitation from 22 March, nudge from 12 April, last call from 8 May.
func holdoutVisit() schedule.VisitView {
	v := fixture.LayUp("B1")
	v.Visit.ID, v.Visit.Kind, v.Visit.Season = "B1.fit-out.2027", schedule.FitOut, 2027
	v.Visit.Day, v.Visit.Week = fixture.Day("2027-05-05"), fixture.Day("2027-05-03").Week()
	v.Visit.Close, v.Visit.Deadline = fixture.Day("2027-05-15"), fixture.Day("2027-05-15")
	return v
}

// lot gives the customer of these cases a number.
func lot(x float64) func(string, returns.Season) float64 {
	return func(string, returns.Season) float64 { return x }
}

func TestDrawNudges(t *testing.T) {
	for _, c := range []struct {
		name, at string
		percent  int
		lot      float64
		with     func(*schedule.Recipient, *schedule.VisitView)
		want     string // "held", "sent" or nothing drawn
	}{
		{"under the share is held", "2027-04-12 10:00", 10, 0.0999, nil, "held"},
		{"at the share goes out", "2027-04-12 10:00", 10, 0.1, nil, "sent"},
		{"switched off draws nothing", "2027-04-12 10:00", 0, 0, nil, ""},
		{"before the nudge is due", "2027-04-11 10:00", 10, 0, nil, ""},
		{"outside the hours", "2027-04-12 17:00", 10, 0, nil, ""},
		{"a last call is never drawn", "2027-05-10 10:00", 100, 0, nil, ""},
		{"a lay-up has the freeze for a deadline", "2027-04-12 10:00", 100, 0, func(_ *schedule.Recipient, v *schedule.VisitView) { v.Visit.Kind = schedule.LayUp }, ""},
		{"work that law or safety asks for", "2027-04-12 10:00", 100, 0, func(_ *schedule.Recipient, v *schedule.VisitView) { v.Lines[2].Guarded = true }, ""},
		{"a check before the warranty ends", "2027-04-16 10:00", 100, 0, func(_ *schedule.Recipient, v *schedule.VisitView) {
			v.Lines[2].Item.Basis, v.Lines[2].Item.ByDate = schedule.BasisExpiry, fixture.Day("2027-05-15")
		}, ""},
		{"who was not invited is told", "2027-04-12 10:00", 100, 0, func(r *schedule.Recipient, _ *schedule.VisitView) { r.Notified, r.LastMail = nil, 0 }, ""},
		{"drawn already", "2027-04-12 10:00", 100, 0, func(r *schedule.Recipient, _ *schedule.VisitView) {
			r.Holdouts = []schedule.Holdout{{CustomerID: "C1", VisitID: "B1.fit-out.2027"}}
		}, ""},
		{"who wants no reminders", "2027-04-12 10:00", 100, 0, func(r *schedule.Recipient, _ *schedule.VisitView) { r.NoReminders = true }, ""},
		{"whom mail does not reach", "2027-04-12 10:00", 100, 0, func(r *schedule.Recipient, _ *schedule.VisitView) { r.Suppressed = "550" }, ""},
		{"who has answered", "2027-04-12 10:00", 100, 0, func(r *schedule.Recipient, _ *schedule.VisitView) {
			r.Answers = []schedule.Answer{{CustomerID: "C1", BoatID: "B1", VisitID: "B1.fit-out.2027", Kind: schedule.AnswerDecline}}
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := holdoutVisit()
			r := fixture.Recipient(fixture.Boat("B1", "Heron", v))
			h := notifiedOf(schedule.StepInvitation, "2027-03-22")
			h.Subject = v.Visit.ID
			r.Notified, r.LastMail = []schedule.Notified{h}, h.On
			if c.with != nil {
				c.with(&r, &r.Boats[0].Visits[0])
			}
			cfg := notify.DefaultPolicy(fixture.Zone(t))
			cfg.HoldOutPercent, cfg.Assignment = c.percent, lot(c.lot)
			var got []string
			for _, w := range notify.AssignHoldouts(r, cfg, fixture.At(t, c.at)) {
				if w.CustomerID != "C1" || w.VisitID != v.Visit.ID || w.On != fixture.Day(c.at[:10]) || w.Percent != c.percent {
					t.Errorf("drew %+v", w)
				}
				got = append(got, map[bool]string{true: "held", false: "sent"}[w.Held])
			}
			if strings.Join(got, " ") != c.want {
				t.Errorf("drew %q, want %q", got, c.want)
			}
		})
	}
}

// TestHeldNudge: who is held out hears the invitation and the last call and
// nothing between, however often the policy is asked; who is not hears all.
func TestHeldNudge(t *testing.T) {
	for _, c := range []struct {
		name string
		lot  float64
		want string
	}{
		{"held", 0, "first-reminder final-reminder"},
		{"not held", 0.9, "first-reminder second-reminder final-reminder"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := fixture.Recipient(fixture.Boat("B1", "Heron", holdoutVisit()))
			cfg := notify.DefaultPolicy(fixture.Zone(t))
			cfg.HoldOutPercent, cfg.Assignment = 50, lot(c.lot)
			var got []string
			for _, day := range notify.Rehearse([]schedule.Recipient{r}, cfg, fixture.At(t, "2027-03-15 08:00"), 60) {
				for _, n := range day.Notices {
					got = append(got, fmt.Sprint(n.Step))
				}
			}
			if strings.Join(got, " ") != c.want {
				t.Errorf("heard %q, want %q", got, c.want)
			}
			if r.Holdouts != nil {
				t.Error("the rehearsal drew lots that stay")
			}
		})
	}
}
