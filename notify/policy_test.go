package notify_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// notifiedOf is a fact about Heron's lay-up.
func notifiedOf(s schedule.Step, on string) schedule.Notified {
	return schedule.Notified{CustomerID: "C1", Subject: "B1.lay-up.2026", Step: s, On: fixture.Day(on), Week: fixture.Day("2026-10-05").Week()}
}

// inDoubt makes a fact one of an email that may not have arrived.
func inDoubt(h schedule.Notified) schedule.Notified {
	h.InDoubt = true
	return h
}

// lines writes notices as "step: subject=step,... until day".
func noticeLines(ns []notify.Notice) string {
	var all []string
	for _, n := range ns {
		var heard []string
		for _, h := range n.Notified {
			heard = append(heard, h.Subject+"="+string(h.Step))
		}
		all = append(all, fmt.Sprintf("%s: %s until %s", n.Step, strings.Join(heard, " "), n.NotAfter.Format("2006-01-02 15:04")))
	}
	return strings.Join(all, "; ")
}

// The lay-up of these cases is pencilled for the week of Monday 5 October 2026
// and due by Saturday 10 October: invitation from 24 August, nudge from
// 14 September, last call from 3 October, overdue from 20 October.
func TestDecideSteps(t *testing.T) {
	booked := func(day string, minute int) func(*schedule.Recipient) {
		return func(r *schedule.Recipient) {
			r.Boats[0].Visits[0].Visit.Booking = &schedule.Booking{VisitID: "B1.lay-up.2026", BoatID: "B1", Day: fixture.Day(day), Minute: minute}
		}
	}
	heard := func(hs ...schedule.Notified) func(*schedule.Recipient) {
		return func(r *schedule.Recipient) {
			r.Notified = append(r.Notified, hs...)
			for _, h := range hs {
				r.LastMail = max(r.LastMail, h.On)
			}
		}
	}
	confirmed := func(subject, on string) schedule.Notified { // "2026-10-06T09:00#1": the booked day, and which telling it was
		return schedule.Notified{CustomerID: "C1", Subject: "B1.lay-up.2026@" + subject, Step: schedule.StepConfirmation, On: fixture.Day(on)}
	}
	called := func(subject, on string) schedule.Notified {
		h := confirmed(subject, on)
		h.Step = schedule.StepCancellation
		return h
	}
	cases := []struct {
		name string
		at   string
		with []func(*schedule.Recipient)
		want string
	}{
		{"the day before the invitation", "2026-08-23 10:00", nil, ""},
		{"the invitation's day is a Monday", "2026-08-24 10:00", nil, "first-reminder: B1.lay-up.2026=first-reminder until 2026-09-13 23:59"},
		{"too early in the morning", "2026-08-24 08:59", nil, ""},
		{"too late in the day", "2026-08-24 17:00", nil, ""},
		{"Saturday morning", "2026-08-29 11:59", nil, "first-reminder: B1.lay-up.2026=first-reminder until 2026-09-13 23:59"},
		{"Saturday afternoon", "2026-08-29 12:00", nil, ""},
		{"Sunday", "2026-08-30 10:00", nil, ""},
		{"the invitation is out", "2026-09-01 10:00", []func(*schedule.Recipient){heard(notifiedOf("first-reminder", "2026-08-24"))}, ""},
		{"nudge after the invitation", "2026-09-14 10:00", []func(*schedule.Recipient){heard(notifiedOf("first-reminder", "2026-08-24"))}, "second-reminder: B1.lay-up.2026=second-reminder until 2026-10-02 23:59"},
		{"an invitation never sent is not caught up", "2026-09-14 10:00", nil, "second-reminder: B1.lay-up.2026=second-reminder until 2026-10-02 23:59"},
		{"a nudge waits for the gap", "2026-09-14 10:00", []func(*schedule.Recipient){heard(notifiedOf("first-reminder", "2026-09-08"))}, ""},
		{"and comes when it is over", "2026-09-15 10:00", []func(*schedule.Recipient){heard(notifiedOf("first-reminder", "2026-09-08"))}, "second-reminder: B1.lay-up.2026=second-reminder until 2026-10-02 23:59"},
		{"a final reminder waits seven days too", "2026-10-05 10:00", []func(*schedule.Recipient){heard(notifiedOf("second-reminder", "2026-10-02"))}, ""},
		{"and comes when they are over", "2026-10-06 10:00", []func(*schedule.Recipient){heard(notifiedOf("second-reminder", "2026-09-29"))}, "final-reminder: B1.lay-up.2026=final-reminder until 2026-10-07 23:59"},
		{"not with less than three working days to book in", "2026-10-08 10:00", []func(*schedule.Recipient){heard(notifiedOf("second-reminder", "2026-09-15"))}, ""},
		{"after the deadline nothing is called", "2026-10-12 10:00", []func(*schedule.Recipient){heard(notifiedOf("second-reminder", "2026-09-15"))}, ""},
		{"who was told nothing hears of it at once", "2026-10-12 10:00", nil, "overdue-notice: B1.lay-up.2026=overdue-notice until 2027-02-17 23:59"},
		{"whoever was told is called and not mailed", "2026-10-20 10:00", []func(*schedule.Recipient){heard(notifiedOf("final-reminder", "2026-10-05"))}, ""},
		{"overdue for one who may know nothing", "2026-10-20 10:00", []func(*schedule.Recipient){heard(inDoubt(notifiedOf("final-reminder", "2026-10-05")))}, "overdue-notice: B1.lay-up.2026=overdue-notice until 2027-02-17 23:59"},
		{"overdue is said once", "2026-11-20 10:00", []func(*schedule.Recipient){heard(notifiedOf("overdue-notice", "2026-10-20"))}, ""},
		{"old news is no news", "2027-03-01 10:00", nil, ""},
		{"a later step was taken by hand", "2026-08-25 10:00", []func(*schedule.Recipient){heard(notifiedOf("second-reminder", "2026-08-01"))}, ""},
		{"the boat is gone", "2026-08-25 10:00", []func(*schedule.Recipient){func(r *schedule.Recipient) { r.Boats[0].Boat.Gone = fixture.Day("2026-08-25") }}, ""},

		{"a booking is confirmed at night", "2026-09-16 23:30", []func(*schedule.Recipient){booked("2026-10-06", 540)}, "confirmation: B1.lay-up.2026@2026-10-06T09:00#1=confirmation until 2026-10-06 09:00"},
		{"even the day after another mail", "2026-09-16 10:00", []func(*schedule.Recipient){booked("2026-10-06", -1), heard(notifiedOf("second-reminder", "2026-09-15"))}, "confirmation: B1.lay-up.2026@2026-10-06#1=confirmation until 2026-10-06 23:59"},
		{"once", "2026-09-17 10:00", []func(*schedule.Recipient){booked("2026-10-06", 540), heard(confirmed("2026-10-06T09:00#1", "2026-09-16"))}, ""},
		{"not for the past", "2026-10-06 09:00", []func(*schedule.Recipient){booked("2026-10-06", 540)}, ""},
		{"a booked day is recalled two working days before", "2026-10-02 10:00", []func(*schedule.Recipient){booked("2026-10-06", 540), heard(confirmed("2026-10-06T09:00#1", "2026-09-16"))}, "booked: B1.lay-up.2026@2026-10-06T09:00#1=booked until 2026-10-06 09:00"},
		{"not three", "2026-10-01 10:00", []func(*schedule.Recipient){booked("2026-10-06", 540), heard(confirmed("2026-10-06T09:00#1", "2026-09-16"))}, ""},
		{"not after a confirmation so late", "2026-10-05 10:00", []func(*schedule.Recipient){booked("2026-10-06", 540), heard(confirmed("2026-10-06T09:00#1", "2026-10-02"))}, ""},
		{"a moved booking is confirmed anew", "2026-09-20 10:00", []func(*schedule.Recipient){booked("2026-10-08", 540), heard(confirmed("2026-10-06T09:00#1", "2026-09-16"))}, "confirmation: B1.lay-up.2026@2026-10-08T09:00#2=confirmation until 2026-10-08 09:00"},
		{"moved by an hour", "2026-09-20 10:00", []func(*schedule.Recipient){booked("2026-10-06", 600), heard(confirmed("2026-10-06T09:00#1", "2026-09-16"))}, "confirmation: B1.lay-up.2026@2026-10-06T10:00#2=confirmation until 2026-10-06 10:00"},
		{"moved there and back", "2026-09-20 10:00", []func(*schedule.Recipient){booked("2026-10-06", 540), heard(confirmed("2026-10-06T09:00#1", "2026-09-16"), confirmed("2026-10-08T09:00#2", "2026-09-18"))}, "confirmation: B1.lay-up.2026@2026-10-06T09:00#3=confirmation until 2026-10-06 09:00"},
		{"moved within one day, facts in any order", "2026-09-20 10:00", []func(*schedule.Recipient){booked("2026-10-06", 540), heard(confirmed("2026-10-06T09:00#2", "2026-09-18"), confirmed("2026-10-08T09:00#1", "2026-09-18"))}, ""},
		{"unbooked", "2026-09-20 03:00", []func(*schedule.Recipient){heard(confirmed("2026-10-06T09:00#1", "2026-09-16"))}, "cancellation: B1.lay-up.2026@2026-10-06T09:00#2=cancellation until 2026-10-06 09:00"},
		{"unbooked and told", "2026-09-20 03:00", []func(*schedule.Recipient){heard(confirmed("2026-10-06T09:00#1", "2026-09-16"), called("2026-10-06T09:00#2", "2026-09-17"))}, ""},
		{"booked again", "2026-09-20 03:00", []func(*schedule.Recipient){booked("2026-10-06", 540), heard(confirmed("2026-10-06T09:00#1", "2026-09-16"), called("2026-10-06T09:00#2", "2026-09-17"))}, "confirmation: B1.lay-up.2026@2026-10-06T09:00#3=confirmation until 2026-10-06 09:00"},
		{"called off and booked again within one day", "2026-09-20 03:00", []func(*schedule.Recipient){booked("2026-10-06", 540), heard(confirmed("2026-10-06T09:00#3", "2026-09-18"), called("2026-10-06T09:00#2", "2026-09-18"), confirmed("2026-10-06T09:00#1", "2026-09-18"))}, ""},
		{"a confirmation leaves the gap alone", "2026-09-17 10:00", []func(*schedule.Recipient){heard(confirmed("2026-10-06T09:00#1", "2026-09-16"), called("2026-10-06T09:00#2", "2026-09-16"))}, "second-reminder: B1.lay-up.2026=second-reminder until 2026-10-02 23:59"},

		{"no mail at all", "2026-09-16 10:00", []func(*schedule.Recipient){booked("2026-10-06", 540), func(r *schedule.Recipient) { r.NoMail = true }}, ""},
		{"no reminders", "2026-09-16 10:00", []func(*schedule.Recipient){func(r *schedule.Recipient) { r.NoReminders = true }}, ""},
		{"no reminders, but booked", "2026-09-16 10:00", []func(*schedule.Recipient){booked("2026-10-06", 540), func(r *schedule.Recipient) { r.NoReminders = true }}, "confirmation: B1.lay-up.2026@2026-10-06T09:00#1=confirmation until 2026-10-06 09:00"},
		{"dead address", "2026-09-16 10:00", []func(*schedule.Recipient){func(r *schedule.Recipient) { r.Suppressed = "5.1.1" }}, ""},
		{"no address", "2026-09-16 10:00", []func(*schedule.Recipient){func(r *schedule.Recipient) { r.Customer.Email = "" }}, ""},
		{"an address that cannot be", "2026-09-16 10:00", []func(*schedule.Recipient){func(r *schedule.Recipient) { r.Customer.Email = "asa at mail" }}, ""},
		{"wants the phone", "2026-09-16 10:00", []func(*schedule.Recipient){func(r *schedule.Recipient) { r.Customer.ContactBy = "phone" }}, ""},
		{"wants nothing", "2026-09-16 10:00", []func(*schedule.Recipient){func(r *schedule.Recipient) { r.Customer.ContactBy = "none" }}, ""},
	}
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
			for _, f := range c.with {
				f(&r)
			}
			if got := noticeLines(notify.Decide(r, cfg, fixture.At(t, c.at))); got != c.want {
				t.Errorf("got  %q\nwant %q", got, c.want)
			}
		})
	}
}

func TestDecideIsByTheShopsClock(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
	// 13:30 UTC is 9:30 in the shop, 12:30 UTC is 8:30.
	if n := notify.Decide(r, cfg, time.Date(2026, 8, 24, 12, 30, 0, 0, time.UTC)); len(n) != 0 {
		t.Errorf("sent before nine: %s", noticeLines(n))
	}
	if n := notify.Decide(r, cfg, time.Date(2026, 8, 24, 13, 30, 0, 0, time.UTC)); len(n) != 1 {
		t.Error("nothing sent after nine")
	}
}

func TestOneMailCarriesEverythingOpen(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	late := fixture.LayUp("B2") // five days behind: its invitation would fall into the gap
	late.Visit.Week++
	late.Visit.Day += 7
	late.Visit.Deadline, late.Visit.Close = fixture.Day("2026-10-24"), fixture.Day("2026-10-24")
	told := fixture.LayUp("B3")
	told.Visit.Week, told.Visit.Day = fixture.Day("2026-09-21").Week(), fixture.Day("2026-09-22")
	told.Visit.Deadline = fixture.Day("2026-09-26")
	r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")), fixture.Boat("B2", "Wren", late), fixture.Boat("B3", "Tern", told))
	r.Notified = []schedule.Notified{{Subject: "B3.lay-up.2026", Step: "first-reminder", On: fixture.Day("2026-08-10"), Week: told.Visit.Week}}
	ns := notify.Decide(r, cfg, fixture.At(t, "2026-08-25 10:00"))
	if len(ns) != 1 {
		t.Fatalf("%d mails, want one", len(ns))
	}
	var got []string
	for _, v := range ns[0].Visits {
		got = append(got, v.Visit.Visit.ID+"="+string(v.Step))
	}
	want := []string{"B1.lay-up.2026=first-reminder", "B2.lay-up.2026=first-reminder", "B3.lay-up.2026="}
	if !slices.Equal(got, want) {
		t.Errorf("visits %q, want %q", got, want)
	}
	if ns[0].Key != "C1|B1.lay-up.2026,B2.lay-up.2026|first-reminder" {
		t.Errorf("key %q", ns[0].Key)
	}
}

func TestTheMostUrgentStepNamesTheMail(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	early := fixture.LayUp("B2")
	early.Visit.Week, early.Visit.Day, early.Visit.Deadline = fixture.Day("2026-08-24").Week(), fixture.Day("2026-08-26"), fixture.Day("2026-08-29")
	r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")), fixture.Boat("B2", "Wren", early))
	ns := notify.Decide(r, cfg, fixture.At(t, "2026-08-25 10:00"))
	if len(ns) != 1 || ns[0].Step != schedule.StepLastCall || ns[0].Visits[0].Boat.Name != "Wren" || ns[0].NotAfter.Format(time.DateOnly) != "2026-08-26" {
		t.Errorf("got %s", noticeLines(ns))
	}
}

func TestHoursAreAskedTwiceAYearAtMost(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	r := fixture.Recipient(fixture.VagueBoat())
	var asked []string
	for day := fixture.Day("2026-05-01"); day < fixture.Day("2026-12-31"); day++ {
		for _, n := range notify.Decide(r, cfg, day.At(10, 0, cfg.Zone)) {
			asked = append(asked, day.String()+" "+n.Notified[0].Subject)
			r.Notified = append(r.Notified, n.Notified...)
			r.LastMail = day
		}
	}
	want := []string{"2026-05-22 B1.hours.2026.1", "2026-07-03 B1.hours.2026.2"}
	if !slices.Equal(asked, want) {
		t.Errorf("asked %q, want %q", asked, want)
	}
	sure := fixture.Recipient(fixture.VagueBoat())
	sure.Boats[0].Loose[0].Item.HoursLate = fixture.Day("2026-09-10")
	if ns := notify.Decide(sure, cfg, fixture.At(t, "2026-06-20 10:00")); len(ns) != 0 {
		t.Errorf("asked although the day is known well: %s", noticeLines(ns))
	}
}

func TestWarrantyCheck(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	r := fixture.Recipient(fixture.WarrantyBoat())
	for at, want := range map[string]string{
		"2026-08-25 10:00": "",
		"2026-08-26 10:00": "warranty: B1.warranty.2026-09-25=warranty until 2026-09-24 23:59",
		"2026-09-21 10:00": "warranty: B1.extra.0badcafe=first-reminder B1.warranty.2026-09-25=warranty until 2026-09-24 23:59",
		"2026-09-25 10:00": "first-reminder: B1.extra.0badcafe=first-reminder until 2026-10-11 23:59",
	} {
		if got := noticeLines(notify.Decide(r, cfg, fixture.At(t, at))); got != want {
			t.Errorf("%s: got %q, want %q", at, got, want)
		}
	}
}

func TestCallList(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	cases := []struct {
		name, at string
		with     func(*schedule.Recipient)
		want     string
	}{
		{"mail reaches them", "2026-09-16 10:00", func(r *schedule.Recipient) {}, ""},
		{"no address", "2026-09-16 10:00", func(r *schedule.Recipient) { r.Customer.Email = "" }, "no email address: second-reminder"},
		{"an address that cannot be", "2026-09-16 10:00", func(r *schedule.Recipient) { r.Customer.Email = "asa at mail" }, "no email address: second-reminder"},
		{"no address, too early", "2026-08-23 10:00", func(r *schedule.Recipient) { r.Customer.Email = "" }, ""},
		{"wants to be called", "2026-08-24 03:00", func(r *schedule.Recipient) { r.Customer.ContactBy = "phone" }, "wants to be called: first-reminder"},
		{"wants to be rung and never mailed", "2026-08-24 03:00", func(r *schedule.Recipient) { r.Customer.ContactBy, r.NoMail = "phone", true }, "wants to be called: first-reminder"},
		{"bounced", "2026-10-12 10:00", func(r *schedule.Recipient) { r.Suppressed = "550 5.1.1 no such user" }, "email address is dead: overdue-notice"},
		{"wants nothing", "2026-09-16 10:00", func(r *schedule.Recipient) { r.Customer.ContactBy = "none" }, ""},
		{"stopped the mails himself", "2026-09-16 10:00", func(r *schedule.Recipient) { r.NoMail = true }, ""},
		{"last call two days ago", "2026-10-07 10:00", func(r *schedule.Recipient) {
			r.Notified = []schedule.Notified{notifiedOf("final-reminder", "2026-10-05")}
		}, ""},
		{"last call three days ago", "2026-10-08 10:00", func(r *schedule.Recipient) {
			r.Notified = []schedule.Notified{notifiedOf("final-reminder", "2026-10-05")}
		}, "no reply to the reminders: final-reminder"},
		{"never told, and an email would come too late", "2026-10-08 10:00", func(r *schedule.Recipient) {}, "too late for an email: final-reminder"},
		{"never told, the last day for it", "2026-10-06 10:00", func(r *schedule.Recipient) {}, ""},
		{"never told, and late already", "2026-10-12 10:00", func(r *schedule.Recipient) {}, ""},
		{"answered", "2026-10-08 10:00", func(r *schedule.Recipient) {
			r.Notified = []schedule.Notified{notifiedOf("final-reminder", "2026-10-05")}
			r.Boats[0].Visits[0].Visit.Booking = &schedule.Booking{VisitID: "B1.lay-up.2026", Day: fixture.Day("2026-10-09"), Minute: -1}
		}, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
			c.with(&r)
			var got []string
			for _, call := range notify.CallList(r, cfg, fixture.At(t, c.at)) {
				for _, v := range call.Visits {
					got = append(got, string(call.Reason)+": "+string(v.Step))
				}
				if call.Why == "" {
					t.Error("no words for the desk")
				}
			}
			if strings.Join(got, "; ") != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

func TestRamp(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	for _, c := range []struct{ days, sent, want int }{
		{-1, 0, 0}, {0, 0, 10}, {0, 4, 6}, {0, 12, 0}, {1, 0, 20}, {2, 0, 40}, {3, 0, 60}, {400, 59, 1},
	} {
		if got := notify.Ramp(cfg, c.days, c.sent); got != c.want {
			t.Errorf("day %d, %d sent: %d may go, want %d", c.days, c.sent, got, c.want)
		}
	}
}

func TestWorkingDaysBefore(t *testing.T) {
	w := notify.DefaultWindow()
	holiday := fixture.Day("2026-09-07") // a Monday
	w.Closed = func(d civil.Day) bool { return d == holiday }
	for _, c := range []struct {
		day  string
		n    int
		want string
	}{
		{"2026-10-07", 2, "2026-10-05"}, {"2026-10-05", 2, "2026-10-01"}, {"2026-10-05", 0, "2026-10-05"}, {"2026-09-08", 1, "2026-09-04"},
	} {
		if got := w.WorkingDaysBefore(fixture.Day(c.day), c.n); got != fixture.Day(c.want) {
			t.Errorf("%d before %s: %s, want %s", c.n, c.day, got, c.want)
		}
	}
	if w.Open(holiday.At(10, 0, fixture.Zone(t))) {
		t.Error("mail leaves on a holiday")
	}
}

// TestRehearsalSpreadsABigIntake takes in 500 overdue customers at once.
func TestRehearsalSpreadsABigIntake(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	var rs []schedule.Recipient
	for i := range 500 {
		boat := fmt.Sprintf("B%03d", i)
		r := fixture.Recipient(fixture.Boat(boat, boat, fixture.LayUp(boat)))
		r.Customer.ID = fmt.Sprintf("C%03d", i)
		rs = append(rs, r)
	}
	days := notify.Rehearse(rs, cfg, fixture.At(t, "2026-10-20 22:00"), 14)
	var sent []int
	total := 0
	seen := map[string]bool{}
	for _, d := range days {
		sent = append(sent, len(d.Notices))
		total += len(d.Notices)
		for _, n := range d.Notices {
			if seen[n.Customer.ID] {
				t.Errorf("%s is mailed twice", n.Customer.ID)
			}
			seen[n.Customer.ID] = true
		}
	}
	if want := []int{20, 40, 60, 60, 60, 60, 60, 60, 60, 20}; !slices.Equal(sent, want) || total != 500 {
		t.Errorf("sent %v (%d in all), want %v", sent, total, want)
	}
	if len(rs[0].Notified) != 0 {
		t.Error("the rehearsal changed the facts")
	}
}

// TestNothingWaitsForADayOfAClockThatWasAhead: mail and steps of a day that has
// not come do not keep the next reminder or call back.
func TestNothingWaitsForADayOfAClockThatWasAhead(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	now, ahead := fixture.At(t, "2026-09-01 10:00"), fixture.Day("2027-09-01")
	r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
	r.LastMail = ahead
	r.Notified = []schedule.Notified{{Subject: "B1.hours.2027.1", Step: schedule.StepHours, On: ahead}}
	if all := notify.Decide(r, cfg, now); len(all) != 1 || all[0].Step != schedule.StepInvitation {
		t.Errorf("told %+v, want the first reminder", all)
	}
	r.Notified = []schedule.Notified{{Subject: "B1.lay-up.2026", Step: schedule.StepLastCall, On: ahead}}
	if calls := notify.CallList(r, cfg, now); len(calls) != 1 {
		t.Errorf("%d calls, want one: the last reminder has had no answer", len(calls))
	}
}
