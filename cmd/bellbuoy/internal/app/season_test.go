package app_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"unicode"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// TestAYearOfRemindersKeepsToThePolicy lives through a calendar year of the demo
// shop with nobody replying, which is when most is sent, and with every second
// customer booking what the first reminder is about. It asks of every reminder
// whether the policy allows it beside the customer's others, and whether all
// together are as few as the shop means them to be.
func TestAYearOfRemindersKeepsToThePolicy(t *testing.T) {
	if testing.Short() {
		t.Skip("lives through a year twice")
	}
	today := civil.Of(2026, 1, 2)
	a := demoApp(t, 7, 400, 6, today)
	settle(t, a, today)
	p := a.Policy()
	var all []schedule.Recipient
	if err := a.EachRecipient(t.Context(), func(r *schedule.Recipient) error {
		all = append(all, *r)
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	for name, replies := range map[string]func(i int) bool{
		"nobody replies":             func(int) bool { return false },
		"every second customer does": func(i int) bool { return i%2 == 0 },
	} {
		t.Run(name, func(t *testing.T) {
			days := liveYear(all, p, today, replies)
			s := notify.Summarize(days)
			if s.Customers < 150 || s.Mails < 500 || len(s.Months) < 10 {
				t.Fatalf("%d emails to %d customers in %d months: that is no year", s.Mails, s.Customers, len(s.Months))
			}
			gaps := map[string][]int{}
			for i := range s.Most {
				checkCustomer(t, &s.Most[i], &p)
				for k := 1; k < len(s.Most[i].Days); k++ {
					gaps["all"] = append(gaps["all"], int(s.Most[i].Days[k]-s.Most[i].Days[k-1]))
				}
			}
			x := s.Spread()
			if x.Median > mostInTheMiddle {
				t.Errorf("half get up to %d reminders, want at most %d", x.Median, mostInTheMiddle)
			}
			over := checkCap(t, days, p.YearlyCap)
			slices.Sort(gaps["all"])
			kinds := map[schedule.Step]int{}
			for _, m := range s.Months {
				for step, n := range m.Steps {
					kinds[step] += n
				}
			}
			t.Logf("%d customers of %d: median %d, nine in ten %d, most %d; gaps from %d, in the middle %d days; %d over the cap for what expires; by kind %v",
				x.Customers, len(all), x.Median, x.Ninety, x.Most, gaps["all"][0], gaps["all"][len(gaps["all"])/2], over, kinds)
		})
	}
}

// mostInTheMiddle is how many reminders half of the customers get at most in a year.
const mostInTheMiddle = 4

// checkCap asks of every reminder beyond the yearly cap whether it tells of
// something that expires, and returns how many there are.
func checkCap(t *testing.T, days []notify.Rehearsal, most int) (over int) {
	t.Helper()
	had := map[string]int{}
	for _, d := range days {
		for i := range d.Notices {
			n := &d.Notices[i]
			if n.AtOnce || n.Step == schedule.StepBooked {
				continue
			}
			if had[n.Customer.ID]++; had[n.Customer.ID] <= most {
				continue
			}
			over++
			if !slices.ContainsFunc(n.Visits, func(v notify.NoticeVisit) bool {
				return slices.ContainsFunc(v.Visit.Lines, func(l schedule.Line) bool { return l.Guarded && l.Item.Basis == schedule.BasisExpiry })
			}) {
				t.Errorf("%s: reminder %d to %s tells of nothing that expires", d.Day, had[n.Customer.ID], n.Customer.ID)
			}
		}
	}
	return over
}

// liveYear is what leaves in a year from a day, day by day. A customer who replies
// books what a reminder tells of, for the day that it is planned for.
func liveYear(all []schedule.Recipient, p notify.PolicyConfig, first civil.Day, replies func(i int) bool) []notify.Rehearsal {
	rs := slices.Clone(all)
	index := make(map[string]int, len(rs))
	for i := range rs {
		r := &rs[i]
		index[r.Customer.ID] = i
		r.Notified, r.Holdouts, r.Boats = slices.Clone(r.Notified), slices.Clone(r.Holdouts), slices.Clone(r.Boats)
		for j := range r.Boats {
			r.Boats[j].Visits = slices.Clone(r.Boats[j].Visits)
		}
	}
	year, _, _ := first.Date()
	var out []notify.Rehearsal
	for day := first; day < civil.Of(year+1, 1, 1); day++ {
		at, open := p.Window.Opens(day, p.Zone)
		if !open {
			continue
		}
		var due []notify.Notice
		for i := range rs {
			rs[i].Holdouts = append(rs[i].Holdouts, notify.AssignHoldouts(rs[i], p, at)...)
			due = append(due, notify.Decide(rs[i], p, at)...)
		}
		chosen := notify.Choose(due, notify.Ramp(p, int(day-first), 0))
		for k := range chosen {
			n := &chosen[k]
			i := index[n.Customer.ID]
			rs[i].Notified, rs[i].LastMail = append(rs[i].Notified, n.Notified...), day
			if replies(i) {
				bookAll(&rs[i], n, day)
			}
		}
		if len(chosen) > 0 {
			out = append(out, notify.Rehearsal{Day: day, Notices: chosen})
		}
	}
	return out
}

// bookAll books the open visits of a notice, each for its planned day or the day
// after tomorrow.
func bookAll(r *schedule.Recipient, n *notify.Notice, today civil.Day) {
	for i := range n.Visits {
		for j := range r.Boats {
			for k := range r.Boats[j].Visits {
				v := &r.Boats[j].Visits[k].Visit
				if v.ID == n.Visits[i].Visit.Visit.ID && v.Booking == nil {
					from, _ := v.SpanOn()
					v.Booking = &schedule.Booking{VisitID: v.ID, BoatID: v.BoatID, Kind: v.Kind, Day: max(from, today+2), Minute: -1}
				}
			}
		}
	}
	if len(n.Visits) > 0 {
		r.LastSign = today
	}
}

// checkCustomer looks through all that one customer would hear in a year.
func checkCustomer(t *testing.T, c *notify.CustomerMails, p *notify.PolicyConfig) {
	t.Helper()
	told := map[string]civil.Day{}
	asked := map[string]int{}
	for i, day := range c.Days {
		if booked := c.Steps[i] == schedule.StepConfirmation || c.Steps[i] == schedule.StepBooked; !booked && i > 0 && c.Steps[i-1] != schedule.StepConfirmation && int(day-c.Days[i-1]) < p.GapDays {
			t.Errorf("%s: %s on %s, %d days after the mail before", c.Customer.ID, c.Steps[i], day, day-c.Days[i-1])
		}
		for _, f := range c.For[i] {
			if boat, _, ok := strings.Cut(f.Subject, ".hours."); ok {
				asked[boat]++
			}
			key := fmt.Sprint(f.Step, " ", f.Subject)
			if before, twice := told[key]; twice {
				t.Errorf("%s: %s on %s and on %s", c.Customer.ID, key, before, day)
			}
			told[key] = day
		}
	}
	for boat, n := range asked {
		if n > p.HoursPerYear {
			t.Errorf("%s: %d requests for hours about %s", c.Customer.ID, n, boat)
		}
	}
}

// TestEmailsOfAYearAreShort counts the words of every reminder that a year of the
// demo shop would send, from below the greeting to the sign-off.
func TestEmailsOfAYearAreShort(t *testing.T) {
	if testing.Short() {
		t.Skip("words a year of emails")
	}
	today := civil.Of(2026, 6, 15)
	a := demoApp(t, 7, 150, 6, today)
	settle(t, a, today)
	days, err := a.Rehearse(t.Context(), today+1, today+365)
	if err != nil {
		t.Fatal(err)
	}
	longest, seen := map[string]int{}, 0
	for _, d := range days {
		for i := range d.Notices {
			n := &d.Notices[i]
			kind, most := wordBudget(n)
			if most == 0 {
				continue
			}
			text, _, err := a.Bodies(t.Context(), n)
			if err != nil {
				t.Fatal(err)
			}
			_, body, _ := strings.Cut(text, "\n\n")
			body, _, signed := strings.Cut(body, "Your service desk at")
			words := 0
			for _, w := range strings.Fields(body) {
				if strings.ContainsFunc(w, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) {
					words++
				}
			}
			seen++
			if longest[kind] = max(longest[kind], words); words > most || !signed {
				t.Errorf("%s: %d words, want at most %d:\n%s", kind, words, most, body)
			}
		}
	}
	if seen < 150 {
		t.Errorf("only %d emails looked at", seen)
	}
	t.Logf("%d emails, the longest of each kind: %v", seen, longest)
}

// wordBudget is the kind of a reminder and how many words it may have; 0 where no
// figure is set for it.
func wordBudget(n *notify.Notice) (kind string, most int) {
	first := slices.ContainsFunc(n.Visits, func(v notify.NoticeVisit) bool { return v.First && v.Step != "" })
	switch {
	case len(n.Readings) > 0:
		return "hours", 60
	case len(n.Visits) == 1 && first && n.Step == schedule.StepInvitation:
		return "first reminder", 120
	case len(n.Visits) == 1 && !first && n.Step == schedule.StepNudge:
		return "second reminder", 75
	case len(n.Visits) == 1 && !first && n.Step == schedule.StepLastCall:
		return "final reminder", 120
	case len(n.Visits) == 3:
		return "of three visits", 220
	}
	return "", 0
}
