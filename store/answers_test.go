package store_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

const (
	today   = civil.Day(739945) // 25 November 2026
	visitID = "B1.fit-out.2027"
)

// answering is the little shop with one planned visit of B1, which is C1's.
func answering(t *testing.T) *store.DB {
	t.Helper()
	if today.String() != "2026-11-25" {
		t.Fatalf("today is %s", today)
	}
	db := open(t)
	take(t, db, small())
	v := schedule.Visit{ID: visitID, BoatID: "B1", Kind: schedule.FitOut, Season: 2027,
		Open: day(t, "2027-04-01"), Close: day(t, "2027-05-15"), Day: day(t, "2027-05-03"), Deadline: day(t, "2027-05-15"), Labour: 90}
	plan := store.NewPlan{BoatID: "B1", Plan: schedule.BoatPlan{Visits: []schedule.Visit{v}}, Seen: 1 << 40}
	if _, err := db.SavePlans(t.Context(), noon, []store.NewPlan{plan}); err != nil {
		t.Fatal(err)
	}
	return db
}

func booked(t *testing.T, d string) *schedule.Booking {
	return &schedule.Booking{BoatID: "B1", VisitID: visitID, Kind: schedule.FitOut, Day: day(t, d), Minute: -1}
}

func answer(kind schedule.AnswerKind, visit string) schedule.Answer {
	return schedule.Answer{CustomerID: "C1", BoatID: "B1", VisitID: visit, Kind: kind}
}

// everyAnswer is one answer of each kind that B1's owner may give.
func everyAnswer(t *testing.T) map[string]store.NewAnswer {
	later := answer(schedule.AnswerLater, visitID)
	later.Until = day(t, "2027-01-10")
	return map[string]store.NewAnswer{
		"take":    {Answer: answer(schedule.AnswerTake, visitID), Booking: booked(t, "2027-05-04")},
		"later":   {Answer: later},
		"decline": {Answer: answer(schedule.AnswerDecline, visitID)},
		"call":    {Answer: answer(schedule.AnswerCall, "")},
		"sold":    {Answer: answer(schedule.AnswerSold, "")},
		"hours": {Answer: answer(schedule.AnswerHours, ""), Readings: []schedule.Reading{
			{ComponentID: "E1", Day: today, Hours: 2850, ReadBy: "customer"}}},
		"elsewhere": {Answer: answer(schedule.AnswerElsewhere, visitID),
			Records:  []schedule.Record{{ComponentID: "E1", Day: day(t, "2026-11-20"), Service: "impeller", Hours: 2830, HasHours: true}},
			Readings: []schedule.Reading{{ComponentID: "E1", Day: day(t, "2026-11-20"), Hours: 2830, ReadBy: "customer"}}},
		"mails": {Answer: schedule.Answer{CustomerID: "C1", Kind: schedule.AnswerMails}, Mails: store.MailChoice{NoReminders: true}},
	}
}

// world is what an answer may change.
func world(t *testing.T, db *store.DB) any {
	t.Helper()
	f, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	m, err := db.MailChoice(t.Context(), "C1")
	if err != nil {
		t.Fatal(err)
	}
	a, err := db.Answers(t.Context(), []string{"C1"})
	if err != nil {
		t.Fatal(err)
	}
	return []any{f, m, a["C1"]}
}

func say(t *testing.T, db *store.DB, n store.NewAnswer) schedule.Answer {
	t.Helper()
	a, err := db.SaveAnswer(t.Context(), noon, "customer", n)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestAnswerIsTakenBackWhole(t *testing.T) {
	for name, n := range everyAnswer(t) {
		t.Run(name, func(t *testing.T) {
			db := answering(t)
			before := world(t, db)
			a := say(t, db, n)
			if cmp.Equal(before, world(t, db)) {
				t.Error("the answer changed nothing")
			}
			for range 2 { // the button may be pressed twice
				if _, err := db.UndoAnswer(t.Context(), noon.Add(time.Hour), today, "customer", "C1", a.ID, nil); err != nil {
					t.Fatal(err)
				}
			}
			if diff := cmp.Diff(before, world(t, db)); diff != "" {
				t.Errorf("not as it was (-before +after):\n%s", diff)
			}
		})
	}
}

func TestAnswerCountsOnce(t *testing.T) {
	for name, n := range everyAnswer(t) {
		t.Run(name, func(t *testing.T) {
			db := answering(t)
			before := world(t, db)
			first := say(t, db, n)
			once := world(t, db).([]any)
			second := say(t, db, n)
			twice := world(t, db).([]any)
			if first != second {
				t.Errorf("a second press is a second reply: %+v, then %+v", first, second)
			}
			defer func() {
				if _, err := db.UndoAnswer(t.Context(), noon.Add(time.Hour), today, "customer", "C1", second.ID, nil); err != nil {
					t.Fatal(err)
				}
				if diff := cmp.Diff(before, world(t, db)); diff != "" {
					t.Errorf("taken back, not as it was (-before +after):\n%s", diff)
				}
			}()
			if diff := cmp.Diff(once[:2], twice[:2]); diff != "" {
				t.Errorf("the second time changed the facts (-once +twice):\n%s", diff)
			}
		})
	}
}

func TestAnswerOfAnotherIsRefused(t *testing.T) {
	for name, n := range everyAnswer(t) {
		if n.BoatID == "" {
			continue // about the customer alone
		}
		t.Run(name, func(t *testing.T) {
			db := answering(t)
			before := world(t, db)
			n.CustomerID = "C2"
			if _, err := db.SaveAnswer(t.Context(), noon, "customer", n); !errors.Is(err, store.ErrNotFound) {
				t.Errorf("error %v, want not found", err)
			}
			n.CustomerID = "C1"
			a := say(t, db, n)
			if _, err := db.UndoAnswer(t.Context(), noon, today, "customer", "C2", a.ID, nil); !errors.Is(err, store.ErrNotFound) {
				t.Errorf("taken back by another: error %v, want not found", err)
			}
			if cmp.Equal(before, world(t, db)) {
				t.Error("the answer of the owner did not count")
			}
		})
	}
}

func TestAnswerIsNotTakenBackOver(t *testing.T) {
	for _, c := range []struct {
		name, kind string
		later      time.Duration
		meanwhile  func(*testing.T, *store.DB, schedule.Answer) error
	}{
		{"after two days", "later", 48*time.Hour + time.Second, nil},
		{"when the shop moved the day", "take", time.Hour, func(t *testing.T, db *store.DB, _ schedule.Answer) error {
			return db.Book(t.Context(), noon, "desk", *booked(t, "2027-05-06"), nil, nil)
		}},
		{"when the shop called the day off", "take", time.Hour, func(t *testing.T, db *store.DB, _ schedule.Answer) error {
			return db.Unbook(t.Context(), noon, "desk", visitID, nil, nil)
		}},
		{"when the shop has seen to it", "sold", time.Hour, func(t *testing.T, db *store.DB, a schedule.Answer) error {
			return db.SeeToAnswer(t.Context(), noon, "desk", a.ID)
		}},
		{"when the boat has gone to another", "sold", time.Hour, func(t *testing.T, db *store.DB, _ schedule.Answer) error {
			return storetest.SetOwner(t.Context(), db, noon, "desk", "B1", "C3", today)
		}},
		{"when another answer followed", "later", time.Hour, func(t *testing.T, db *store.DB, _ schedule.Answer) error {
			_, err := db.SaveAnswer(t.Context(), noon, "customer", store.NewAnswer{Answer: answer(schedule.AnswerDecline, visitID)})
			return err
		}},
		{"when the shop removed the record", "elsewhere", time.Hour, func(t *testing.T, db *store.DB, _ schedule.Answer) error {
			f, err := db.Facts(t.Context(), "B1")
			for _, r := range f.Records {
				if r.By == schedule.ByElsewhere && err == nil {
					err = db.TakeBackWork(t.Context(), noon, "desk", "form", store.Mistake{BoatID: "B1", Records: []schedule.Record{r}})
				}
			}
			return err
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := answering(t)
			a := say(t, db, everyAnswer(t)[c.kind])
			if c.meanwhile != nil {
				if err := c.meanwhile(t, db, a); err != nil {
					t.Fatal(err)
				}
			}
			before := world(t, db)
			_, err := db.UndoAnswer(t.Context(), noon.Add(c.later), today, "customer", "C1", a.ID, nil)
			if !errors.Is(err, store.ErrRefused) && !errors.Is(err, store.ErrNotFound) {
				t.Errorf("error %v, want it refused", err)
			}
			if diff := cmp.Diff(before, world(t, db)); diff != "" {
				t.Errorf("something changed all the same:\n%s", diff)
			}
		})
	}
}

func TestMovedDayGoesBackToTheEarlier(t *testing.T) {
	db := answering(t)
	first, second := booked(t, "2027-05-04"), booked(t, "2027-05-11")
	say(t, db, store.NewAnswer{Answer: answer(schedule.AnswerTake, visitID), Booking: first})
	a := say(t, db, store.NewAnswer{Answer: answer(schedule.AnswerTake, visitID), Booking: second})
	if _, err := db.UndoAnswer(t.Context(), noon, today, "customer", "C1", a.ID, nil); err != nil {
		t.Fatal(err)
	}
	f, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]schedule.Booking{*first}, f.Bookings); diff != "" {
		t.Error(diff)
	}
}

func TestSoldWaitsForTheDesk(t *testing.T) {
	db := answering(t)
	a := say(t, db, everyAnswer(t)["sold"])
	if sold, err := db.SoldBoat(t.Context(), "B1"); err != nil || !sold {
		t.Errorf("sold %v, error %v; want it sold", sold, err)
	}
	open, err := db.OpenAnswers(t.Context(), schedule.AnswerSold, 0)
	if err != nil || len(open) != 1 || open[0].Boat.ID != "B1" || open[0].Customer.ID != "C1" {
		t.Fatalf("open answers %+v, error %v", open, err)
	}
	if err := db.SeeToAnswer(t.Context(), noon, "desk", a.ID); err != nil {
		t.Fatal(err)
	}
	if sold, err := db.SoldBoat(t.Context(), "B1"); err != nil || sold {
		t.Errorf("sold %v, error %v; want the desk to have settled it", sold, err)
	}
}

func TestSoldByAFileNeedsNoDesk(t *testing.T) {
	db := answering(t)
	say(t, db, everyAnswer(t)["sold"])
	if err := storetest.SetOwner(t.Context(), db, noon, "intake", "B1", "C3", today); err != nil {
		t.Fatal(err)
	}
	open, err := db.OpenAnswers(t.Context(), schedule.AnswerSold, 0)
	if err != nil || len(open) != 0 {
		t.Errorf("still open: %+v, error %v", open, err)
	}
	if sold, err := db.SoldBoat(t.Context(), "B1"); err != nil || sold {
		t.Errorf("sold %v, error %v; the new owner has not said so", sold, err)
	}
}

// caughtUp takes every boat off the list to be planned.
func caughtUp(t *testing.T, db *store.DB) {
	t.Helper()
	boats, err := db.DirtyBoats(t.Context(), 100)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range boats {
		plan, err := db.Plan(t.Context(), b)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := db.SavePlans(t.Context(), noon, []store.NewPlan{{BoatID: b, Plan: plan, Seen: 1 << 40}}); err != nil {
			t.Fatal(err)
		}
	}
}

// TestACallIsAnAnswer: no on the telephone is no in the mails too, and frees the
// hours; thinking about it has the reminders rest for a while, and takes an
// earlier no back. A call about a visit that is past, or another's, answers
// nothing.
func TestACallIsAnAnswer(t *testing.T) {
	rests := &schedule.Visit{ID: visitID, BoatID: "B1"}
	for _, c := range []struct {
		name     string
		calls    []store.Call
		mutes    bool // today
		later    bool // in ten days
		declined bool
	}{
		{"no", []store.Call{{VisitID: visitID, Outcome: store.CallDeclined}}, true, true, true},
		{"thinks", []store.Call{{VisitID: visitID, Outcome: store.CallThinks}}, true, false, false},
		{"no, then thinks", []store.Call{{VisitID: visitID, Outcome: store.CallDeclined}, {VisitID: visitID, Outcome: store.CallThinks}}, true, false, false},
		{"thinks, then no", []store.Call{{VisitID: visitID, Outcome: store.CallThinks}, {VisitID: visitID, Outcome: store.CallDeclined}}, true, true, true},
		{"nobody at home", []store.Call{{VisitID: visitID, Outcome: store.CallNoAnswer}}, false, false, false},
		{"about a past visit", []store.Call{{VisitID: "B1.lay-up.2019", Outcome: store.CallDeclined}}, false, false, false},
		{"about no visit", []store.Call{{Outcome: store.CallDeclined}}, false, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := answering(t)
			caughtUp(t, db)
			for _, x := range c.calls {
				x.Actor, x.CustomerID, x.BoatID, x.Until = "desk", "C1", "B1", today+7
				if err := db.LogCall(t.Context(), noon, x); err != nil {
					t.Fatal(err)
				}
			}
			all, err := db.Answers(t.Context(), []string{"C1"})
			if err != nil {
				t.Fatal(err)
			}
			mutes := func(on civil.Day) bool {
				return slices.ContainsFunc(all["C1"], func(a schedule.Answer) bool { return a.Mutes(rests, on) })
			}
			if mutes(today) != c.mutes || mutes(today+10) != c.later {
				t.Errorf("mutes today %v, in ten days %v; %+v", mutes(today), mutes(today+10), all["C1"])
			}
			if d, err := db.DeclinedVisits(t.Context(), nil); err != nil || d[visitID] != c.declined {
				t.Errorf("declined %v, %v", d, err)
			}
			if boats, err := db.DirtyBoats(t.Context(), 10); err != nil || slices.Contains(boats, "B1") != c.mutes {
				t.Errorf("to be planned anew: %v, %v", boats, err)
			}
			if open, err := db.OpenAnswers(t.Context(), "", 10); err != nil || len(open) > 0 {
				t.Errorf("the desk is to see to its own call: %+v, %v", open, err)
			}
		})
	}
}

// TestAReplyIsHeard: a reply about a boat is a sign of its owner, for one boat and for
// the whole fleet, until it is taken back; and each has the boat planned again.
func TestAReplyIsTaken(t *testing.T) {
	db := answering(t)
	heard := func(want string) {
		t.Helper()
		f, err := db.Facts(t.Context(), "B1")
		if err != nil || f.LastContact != day(t, want) {
			t.Errorf("heard on %s, %v, want %s", f.LastContact, err, want)
		}
		err = db.EachFacts(t.Context(), nil, func(f *schedule.Facts) error {
			if f.Boat.ID == "B1" && f.LastContact != day(t, want) {
				t.Errorf("in the fleet heard on %s, want %s", f.LastContact, want)
			}
			return nil
		})
		if err != nil {
			t.Error(err)
		}
		ids, err := db.DirtyBoats(t.Context(), 10)
		if err != nil || !slices.Contains(ids, "B1") {
			t.Errorf("to be planned anew: %v, %v", ids, err)
		}
		plan := store.NewPlan{BoatID: "B1", Plan: schedule.BoatPlan{}, Seen: 1 << 40}
		if _, err := db.SavePlans(t.Context(), noon, []store.NewPlan{plan}); err != nil {
			t.Error(err)
		}
	}
	a, err := db.SaveAnswer(t.Context(), noon, "C1", store.NewAnswer{Answer: answer(schedule.AnswerCall, "")})
	if err != nil {
		t.Fatal(err)
	}
	heard("2026-11-25")
	if _, err := db.UndoAnswer(t.Context(), noon.Add(time.Hour), today, "C1", "C1", a.ID, nil); err != nil {
		t.Fatal(err)
	}
	heard("2019-05-02")
}
