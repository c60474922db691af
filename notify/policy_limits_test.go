package notify_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/notify"
	"bellbuoy/notify/internal/fixture"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
)

// TestNobodyHearsTooMuch lives through three years with random visits of random
// prices, now and then a sign of life, and holds the days on which reminders go out
// against the limits: the yearly cap, seven days between two, nothing after two
// silent seasons, and the shop's notice before the last day in time.
func TestNobodyHearsTooMuch(t *testing.T) {
	zone := fixture.Zone(t)
	rapid.Check(t, func(t *rapid.T) {
		cfg := notify.DefaultPolicy(zone)
		cfg.YearlyCap = rapid.IntRange(1, 8).Draw(t, "cap")
		cfg.SilentSeasons = rapid.IntRange(1, 3).Draw(t, "seasons")
		start := fixture.Day("2026-01-05")
		r := schedule.Recipient{Customer: fixture.Customer()}
		for i := range rapid.IntRange(1, 4).Draw(t, "boats") {
			id := fmt.Sprintf("B%d", i)
			var visits []schedule.VisitView
			for j := range rapid.IntRange(1, 9).Draw(t, "visits") {
				v := policyVisit(t, fmt.Sprintf("%s.extra.%d", id, j), id, start+civil.Day(rapid.IntRange(0, 700).Draw(t, "from")))
				v.Visit.Price = schedule.Cents(rapid.SampledFrom([]int{0, 5000, 15000, 90000}).Draw(t, "price"))
				visits = append(visits, v)
			}
			r.Boats = append(r.Boats, fixture.Boat(id, "Boat "+id, visits...))
		}
		year := map[int]int{}
		silent := map[returns.Season]bool{}
		var last civil.Day
		for day := start; day < start+3*365; day++ {
			if rapid.IntRange(0, 300).Draw(t, "sign") == 0 {
				r.LastSign = day
				clear(silent)
			}
			for _, n := range notify.Decide(r, cfg, day.At(10, 0, zone)) {
				r.Notified, r.LastMail = append(r.Notified, n.Notified...), day
				y, _, _ := day.Date()
				year[y]++
				over := 0
				for _, s := range silentBefore(silent, day) {
					if s {
						over++
					}
				}
				switch {
				case year[y] > cfg.YearlyCap && !expires(&n):
					t.Fatalf("%s: reminder %d of the year, the cap is %d", day, year[y], cfg.YearlyCap)
				case last != 0 && day-last < 7:
					t.Fatalf("%s: %d days after the last", day, day-last)
				case over >= cfg.SilentSeasons:
					t.Fatalf("%s: mailed after %d silent seasons", day, over)
				}
				for _, v := range n.Visits {
					limit := v.Visit.Visit.Deadline
					if isLadder(v.Step) && v.Step != schedule.StepOverdue && day > cfg.Window.WorkingDaysBefore(limit, cfg.LeastNotice) {
						t.Fatalf("%s: %s, to be booked in time by %s", day, v.Step, limit)
					}
					if isLadder(v.Step) && r.LastSign < day {
						silent[returns.SeasonOf(day)] = true
					}
				}
				last = day
			}
		}
	})
}

func isLadder(s schedule.Step) bool { return policyRank[s] > 0 }

// silentBefore are the seasons with reminders before that of a day.
func silentBefore(silent map[returns.Season]bool, day civil.Day) []bool {
	var all []bool
	for s := range silent {
		all = append(all, s != returns.SeasonOf(day))
	}
	return all
}

// expires reports whether a notice tells of something that expires by its own print
// or by law.
func expires(n *notify.Notice) bool {
	for i := range n.Visits {
		for _, l := range n.Visits[i].Visit.Lines {
			if l.Guarded && l.Item.Basis == schedule.BasisExpiry {
				return true
			}
		}
	}
	return false
}

// TestWhoRestsIsCalled: what the limits hold back is on the call list, with the
// reason.
func TestWhoRestsIsCalled(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	about := func(subject string, step schedule.Step, on string) schedule.Notified {
		return schedule.Notified{CustomerID: "C1", Subject: subject, Step: step, On: fixture.Day(on)}
	}
	six := []schedule.Notified{}
	for i, on := range []string{"2026-02-02", "2026-02-10", "2026-03-02", "2026-03-10", "2026-04-02", "2026-04-10"} {
		six = append(six, about(fmt.Sprintf("B1.extra.%d", i), schedule.StepNudge, on))
	}
	silent := []schedule.Notified{about("B1.lay-up.2025", schedule.StepLastCall, "2025-10-02"), about("B1.fit-out.2026", schedule.StepLastCall, "2026-05-02")}
	for _, c := range []struct {
		name   string
		with   func(*schedule.Recipient)
		mailed bool
		reason notify.CallReason
	}{
		{"six reminders this year", func(r *schedule.Recipient) { r.Notified, r.LastSign = six, fixture.Day("2026-04-20") }, false, notify.CallCapped},
		{"six, but something expires", func(r *schedule.Recipient) {
			r.Notified, r.LastSign = six, fixture.Day("2026-04-20")
			r.Boats[0].Visits[0].Lines[0].Guarded, r.Boats[0].Visits[0].Lines[0].Item.Basis = true, schedule.BasisExpiry
			r.Boats[0].Visits[0].Lines[0].Item.ByDate = fixture.Day("2026-10-10")
		}, true, notify.CallCapped},
		{"silent for two seasons", func(r *schedule.Recipient) { r.Notified = silent }, false, notify.CallSilent},
		{"silent, but an email came back", func(r *schedule.Recipient) { r.Notified = []schedule.Notified{silent[0], inDoubt(silent[1])} }, true, ""},
		{"a reading since", func(r *schedule.Recipient) { r.Notified, r.LastSign = silent, fixture.Day("2026-06-02") }, true, ""},
		{"a reply since", func(r *schedule.Recipient) {
			r.Notified = silent
			r.Answers = []schedule.Answer{{CustomerID: "C1", VisitID: "B1.fit-out.2026", Kind: schedule.AnswerDecline, At: fixture.At(t, "2026-05-20 10:00")}}
		}, true, ""},
		{"a booking", func(r *schedule.Recipient) {
			r.Notified = silent
			v := fixture.LayUp("B2")
			v.Visit.Booking = &schedule.Booking{VisitID: v.Visit.ID, BoatID: "B2", Day: fixture.Day("2026-11-20"), Minute: -1}
			r.Boats = append(r.Boats, fixture.Boat("B2", "Wren", v))
			r.Notified = append(slices.Clone(silent), schedule.Notified{CustomerID: "C1", Subject: "B2.lay-up.2026@" + fixture.Day("2026-11-20").String() + "#1", Step: schedule.StepConfirmation, On: fixture.Day("2026-08-02")})
		}, true, ""},
	} {
		r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
		c.with(&r)
		now := fixture.At(t, "2026-08-25 10:00")
		if ns := notify.Decide(r, cfg, now); len(ns) > 0 != c.mailed {
			t.Errorf("%s: %s, want mail %v", c.name, noticeLines(ns), c.mailed)
		}
		var reason notify.CallReason
		if calls := notify.CallList(r, cfg, now); len(calls) > 0 {
			reason = calls[0].Reason
		}
		if reason != c.reason {
			t.Errorf("%s: called for %q, want %q", c.name, reason, c.reason)
		}
	}
}

// TestSmallVisitsHaveNoSecondReminder, nor does whoever was silent all the season
// before have a second or a final one: a call comes in its place.
func TestSmallVisitsHaveNoSecondReminder(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	for _, c := range []struct {
		name    string
		price   schedule.Cents
		guarded bool
		before  []schedule.Notified
		want    string
	}{
		{"worth a ladder", 31000, false, nil, "first-reminder second-reminder final-reminder"},
		{"small", 9900, false, nil, "first-reminder final-reminder"},
		{"small, but the law asks for it", 9900, true, nil, "first-reminder second-reminder final-reminder"},
		{"silent the season before", 31000, false, []schedule.Notified{{CustomerID: "C1", Subject: "B1.fit-out.2026", Step: schedule.StepNudge, On: fixture.Day("2026-04-02")}}, "first-reminder"},
	} {
		v := fixture.LayUp("B1")
		v.Visit.Price, v.Lines[0].Guarded = c.price, c.guarded
		r := fixture.Recipient(fixture.Boat("B1", "Heron", v))
		r.Notified = c.before
		got := ""
		for _, day := range notify.Rehearse([]schedule.Recipient{r}, cfg, fixture.At(t, "2026-08-20 08:00"), 60) {
			for _, n := range day.Notices {
				got += " " + string(n.Step)
			}
		}
		if got != " "+c.want {
			t.Errorf("%s: told%s, want %s", c.name, got, c.want)
		}
	}
}

// TestOneCallBeforeTheFreeze: whoever declined a winterization or wants no reminders
// is called in its last days, and not before.
func TestOneCallBeforeTheFreeze(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	declined := []schedule.Answer{{CustomerID: "C1", BoatID: "B1", VisitID: "B1.lay-up.2026", Kind: schedule.AnswerDecline, At: fixture.At(t, "2026-08-30 10:00")}}
	for _, c := range []struct {
		name string
		with func(*schedule.Recipient)
		want notify.CallReason
	}{
		{"declined", func(r *schedule.Recipient) { r.Answers = declined }, notify.CallDeclined},
		{"wants no reminders", func(r *schedule.Recipient) { r.NoReminders = true }, notify.CallStopped},
		{"wants nothing at all", func(r *schedule.Recipient) { r.Customer.ContactBy = "none" }, ""},
		{"declined what does not freeze", func(r *schedule.Recipient) {
			r.Answers, r.Boats[0].Visits[0].Visit.Kind = declined, schedule.Extra
		}, ""},
	} {
		r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
		c.with(&r)
		if calls := notify.CallList(r, cfg, fixture.At(t, "2026-09-20 10:00")); len(calls) != 0 {
			t.Errorf("%s: called three weeks before, for %q", c.name, calls[0].Reason)
		}
		var got notify.CallReason
		if calls := notify.CallList(r, cfg, fixture.At(t, "2026-10-05 10:00")); len(calls) > 0 {
			got = calls[0].Reason
		}
		if got != c.want {
			t.Errorf("%s: called for %q, want %q", c.name, got, c.want)
		}
	}
}

// TestPartsThatMustComeMoveTheLastDay: a visit that needs ten working days is told of no
// later than that before its deadline, and then called about.
func TestPartsThatMustComeMoveTheLastDay(t *testing.T) {
	cfg := notify.DefaultPolicy(fixture.Zone(t))
	r := fixture.Recipient(fixture.Boat("B1", "Heron", fixture.LayUp("B1")))
	r.Notified = []schedule.Notified{notifiedOf("first-reminder", "2026-08-25"), notifiedOf("second-reminder", "2026-09-15")}
	now := fixture.At(t, "2026-10-05 10:00")
	if ns := notify.Decide(r, cfg, now); len(ns) != 1 || ns[0].Step != schedule.StepLastCall {
		t.Fatalf("with the parts in stock: %s, want the final reminder", noticeLines(ns))
	}
	cfg.VisitNotice = func(*schedule.Visit) int { return 10 }
	if ns := notify.Decide(r, cfg, now); len(ns) != 0 {
		t.Errorf("with parts to order: %s, want nothing", noticeLines(ns))
	}
	if calls := notify.CallList(r, cfg, now); len(calls) != 1 || calls[0].Reason != notify.CallNoAnswer {
		t.Errorf("called %+v, want once, for no reply", calls)
	}
}
