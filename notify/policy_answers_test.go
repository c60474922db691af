package notify_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/notify"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// answerLife is a customer with two boats of one visit each, asked every hour
// of sending of a year. It returns on which days each visit was reminded of.
func answerLife(t *testing.T, answers []schedule.Answer) map[string][]civil.Day {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	cfg := notify.DefaultPolicy(zone)
	first := civil.Of(2026, time.July, 1)
	r := schedule.Recipient{Customer: schedule.Customer{ID: "C1", Name: "Ida Fen", Email: "ida@example.org", ContactBy: "email"}, Answers: answers}
	for _, id := range []string{"B1", "B2"} {
		b := schedule.BoatView{Boat: schedule.Boat{ID: id}}
		day := civil.Of(2026, time.October, 5)
		b.Visits = append(b.Visits, schedule.VisitView{Title: "Winterization", Visit: schedule.Visit{
			ID: id + ".lay-up.2026", BoatID: id, Kind: schedule.LayUp, Season: 2026,
			Open: day - 30, Close: day + 20, Day: day, Deadline: day + 10, Week: day.Week(), Price: 31000,
		}})
		r.Boats = append(r.Boats, b)
	}
	told := make(map[string][]civil.Day)
	for d := range civil.Day(200) {
		for _, n := range notify.Decide(r, cfg, (first+d).At(10, 0, zone)) {
			r.Notified = append(r.Notified, n.Notified...)
			r.LastMail = first + d
			for _, v := range n.Visits {
				told[v.Visit.Visit.ID] = append(told[v.Visit.Visit.ID], first+d)
			}
		}
	}
	return told
}

func TestAnswersRestReminders(t *testing.T) {
	const mine, other = "B1.lay-up.2026", "B2.lay-up.2026"
	at := time.Date(2026, time.June, 30, 12, 0, 0, 0, time.UTC)
	until := civil.Of(2026, time.September, 20)
	asked := time.Date(2026, time.August, 22, 15, 0, 0, 0, time.UTC) // two days before the first step
	if told := answerLife(t, nil); len(told[mine]) < 3 || len(told[other]) < 3 {
		t.Fatalf("without answers %v, want every step for both", told)
	}
	for _, c := range []struct {
		name   string
		answer schedule.Answer
		mine   func([]civil.Day) bool
		other  bool // the other boat's visit is still told
	}{
		{"declined", schedule.Answer{Kind: schedule.AnswerDecline, BoatID: "B1", VisitID: mine}, isSilent, true},
		{"sold", schedule.Answer{Kind: schedule.AnswerSold, BoatID: "B1"}, isSilent, true},
		{"sold, settled by the desk", schedule.Answer{Kind: schedule.AnswerSold, BoatID: "B1", Seen: true}, isTold, true},
		{"waits for a call about it", schedule.Answer{Kind: schedule.AnswerCall, BoatID: "B1", VisitID: mine, At: asked}, isToldFrom(asked, 7), true},
		{"somebody tried to call", schedule.Answer{Kind: schedule.AnswerCall, BoatID: "B1", VisitID: mine, At: asked, Called: true}, isToldFrom(asked, 2), true},
		{"was called about it", schedule.Answer{Kind: schedule.AnswerCall, BoatID: "B1", VisitID: mine, Seen: true}, isTold, true},
		{"waits for a call about the boat", schedule.Answer{Kind: schedule.AnswerCall, BoatID: "B1", At: asked}, isToldFrom(asked, 7), true},
		{"waits for a call", schedule.Answer{Kind: schedule.AnswerCall, At: asked}, isToldFrom(asked, 7), true},
		{"later", schedule.Answer{Kind: schedule.AnswerLater, BoatID: "B1", VisitID: mine, Until: until},
			func(days []civil.Day) bool { return len(days) > 0 && slices.Min(days) >= until }, true},
		{"later than its deadline is now", schedule.Answer{Kind: schedule.AnswerLater, BoatID: "B1", VisitID: mine, Until: civil.Of(2026, time.November, 20)}, isTold, true},
		{"a call about later than that", schedule.Answer{Kind: schedule.AnswerLater, BoatID: "B1", VisitID: mine, Until: civil.Of(2026, time.November, 20), Seen: true},
			func(days []civil.Day) bool {
				return len(days) > 0 && slices.Min(days) >= civil.Of(2026, time.November, 20)
			}, true},
		{"an answer about another visit", schedule.Answer{Kind: schedule.AnswerDecline, BoatID: "B1", VisitID: "B1.fit-out.2027"}, isTold, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.answer.CustomerID = "C1"; c.answer.At.IsZero() {
				c.answer.At = at
			}
			told := answerLife(t, []schedule.Answer{c.answer})
			if !c.mine(told[mine]) {
				t.Errorf("the visit was told on %v", told[mine])
			}
			if got := len(told[other]) > 0; got != c.other {
				t.Errorf("the other boat's visit was told: %v, want %v", got, c.other)
			}
		})
	}
}

func isSilent(days []civil.Day) bool { return len(days) == 0 }

// isToldFrom wants the first reminder so many days after an answer, or as soon
// after that as there is a day of sending.
func isToldFrom(at time.Time, after civil.Day) func([]civil.Day) bool {
	return func(days []civil.Day) bool {
		wait := slices.Min(append(days, 1<<30)) - civil.FromTime(at) - after
		return wait >= 0 && wait <= 2
	}
}

func isTold(days []civil.Day) bool { return len(days) > 2 }

func TestWhoAsksIsCalled(t *testing.T) {
	zone := time.UTC
	cfg := notify.DefaultPolicy(zone)
	now := time.Date(2026, time.May, 4, 10, 0, 0, 0, zone)
	asked := schedule.Answer{CustomerID: "C1", Kind: schedule.AnswerCall, BoatID: "B1", VisitID: "B1.lay-up.2026", At: now.Add(-time.Hour), Note: "after\n six"}
	r := schedule.Recipient{
		Customer: schedule.Customer{ID: "C1", Email: "ida@example.org", ContactBy: "none"}, NoMail: true,
		Boats: []schedule.BoatView{{Boat: schedule.Boat{ID: "B1"}, Visits: []schedule.VisitView{{Visit: schedule.Visit{
			ID: "B1.lay-up.2026", BoatID: "B1", Day: civil.Of(2026, time.October, 5), Deadline: civil.Of(2026, time.October, 10)}}}}},
	}
	if calls := notify.CallList(r, cfg, now); len(calls) != 0 {
		t.Fatalf("called without asking: %+v", calls)
	}
	r.Answers = []schedule.Answer{asked}
	calls := notify.CallList(r, cfg, now)
	if len(calls) != 1 || calls[0].Reason != notify.CallAsked || len(calls[0].Visits) != 1 {
		t.Fatalf("calls %+v, want one with its visit", calls)
	}
	if want := "Asked on May 4, 2026 to be called: “after six”."; calls[0].Why != want {
		t.Errorf("why %q, want %q", calls[0].Why, want)
	}
	r.Answers[0].Note = "After six is best."
	if why := notify.CallList(r, cfg, now)[0].Why; !strings.HasSuffix(why, ": “After six is best.”") {
		t.Errorf("why %q, want one full stop", why)
	}
	r.Answers[0].Seen = true
	if calls := notify.CallList(r, cfg, now); len(calls) != 0 {
		t.Errorf("called again: %+v", calls)
	}
}

// TestAskedAgainOnThePromisedDay: whoever wished to be asked again hears once, on
// the day that was promised, however lately the last reminder went out; then the
// reminding goes on.
func TestAskedAgainOnThePromisedDay(t *testing.T) {
	const mine = "B1.lay-up.2026"
	until := civil.Of(2026, time.September, 23) // a Wednesday; the second reminder for both falls on the 14th
	told := answerLife(t, []schedule.Answer{{CustomerID: "C1", Kind: schedule.AnswerLater, BoatID: "B1", VisitID: mine, Until: until,
		At: time.Date(2026, time.June, 30, 12, 0, 0, 0, time.UTC)}})
	if len(told[mine]) < 2 || told[mine][0] != until || told[mine][1]-until < 7 {
		t.Errorf("told on %v, want it first on %s and then not for a week", told[mine], until)
	}
}
