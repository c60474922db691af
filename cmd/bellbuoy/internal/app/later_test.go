package app_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/report"
	"bellbuoy/store/storetest"
)

// On Monday, 3 August, a recheck is due on the 24th and closes on 7 September, 14 days
// later. Its customer wishes to be asked again on 1 September: after that the week of 31
// August is in time, as three working days before its Sunday are 2 September. On 10
// August another finding is to be looked at by the 14th: the one visit for both must be
// over by Friday, 28 August, and comes in the week of the 24th, as near to the customer's
// day as it can. A week that the desk chose stays, and stands on the list of what will be
// late.
func TestWorkedLaterNeverSlipsPastTheDeadline(t *testing.T) {
	kept, by, near := d("2026-08-31").Week(), d("2026-08-28"), d("2026-08-24").Week()
	for _, c := range []struct {
		name   string
		byDesk bool // the desk chose the same week after the customer had said later
	}{{"the customer's later", false}, {"the desk's week", true}} {
		t.Run(c.name, func(t *testing.T) {
			a := workedApp(t, "10-09", 1)
			at := d("2026-08-03").At(9, 0, a.Config.Zone())
			recheckedBoat(t, a)
			finding(t, a, "F1", d("2026-08-03"), d("2026-08-24"))
			v := recheck(t, a)
			if _, err := a.Reply(t.Context(), at, later(v.ID, d("2026-09-01"))); err != nil {
				t.Fatal(err)
			}
			if c.byDesk {
				if _, err := a.Pin(t.Context(), at, "Inge", "B00", v.ID, kept); err != nil {
					t.Fatal(err)
				}
			}
			if v = recheck(t, a); v.Week != kept || v.Deadline != d("2026-09-07") {
				t.Fatalf("in the week of %s, by %s", v.Week.Monday(), v.Deadline)
			}
			finding(t, a, "F2", d("2026-08-10"), d("2026-08-14"))
			now := recheck(t, a)
			want := near
			if c.byDesk {
				want = kept
			}
			if now.ID != v.ID || now.Deadline != by || now.Week != want {
				t.Errorf("%s is in the week of %s, by %s", now.ID, now.Week.Monday(), now.Deadline)
			}
			late, err := a.Late(t.Context(), d("2026-08-10"))
			if err != nil || slices.Contains(late.Chosen, v.ID) != c.byDesk || slices.Contains(late.Visits, v.ID) != c.byDesk {
				t.Errorf("late: %+v, %v", late, err)
			}
			changes, err := report.Changes(t.Context(), a.DB, "B00", 0, 50)
			if err != nil {
				t.Fatal(err)
			}
			var said []string
			for _, l := range changes {
				if l.What == "let a week go" {
					said = append(said, l.Actor+" "+l.After)
				}
			}
			if want := []string{`bellbuoy {"Kept":"2026-W36","Deadline":"2026-08-28","To":"2026-W35"}`}; !c.byDesk && !slices.Equal(said, want) || c.byDesk && said != nil {
				t.Errorf("the history says %q", said)
			}
		})
	}
}

// A recheck may come until Monday, 7 September. Its customer wishes to be asked again on the
// 6th, when nothing can be booked in time any more: it comes as near to that day as it can,
// in the week of the deadline, and not in the first week with room.
func TestALaterBeyondNoticeComesNear(t *testing.T) {
	a := workedApp(t, "10-09", 1)
	at := d("2026-08-03").At(9, 0, a.Config.Zone())
	recheckedBoat(t, a)
	finding(t, a, "F1", d("2026-08-03"), d("2026-08-24"))
	v := recheck(t, a)
	if _, err := a.Reply(t.Context(), at, later(v.ID, d("2026-09-06"))); err != nil {
		t.Fatal(err)
	}
	if v = recheck(t, a); v.Week != d("2026-09-07").Week() || v.Deadline != d("2026-09-07") {
		t.Errorf("in the week of %s, by %s", v.Week.Monday(), v.Deadline)
	}
}

// The recheck may come until Monday, 7 September, and the desk puts it into a week. In that
// of 31 August it is in time, however few days of it are open, and in that of 7 September
// too, as the shop works on the day itself. If it is closed on that Monday it works there
// from the 8th on, which is late, as the week after is.
func TestAChosenWeekIsLateIfNobodyWorksInItInTime(t *testing.T) {
	for _, c := range []struct {
		name   string
		closed []string
		week   string
		late   bool
	}{
		{"the week before", nil, "2026-08-31", false},
		{"the deadline's own", nil, "2026-09-07", false},
		{"the week after", nil, "2026-09-14", true},
		{"the deadline's own, closed until after it", []string{"2026-09-07"}, "2026-09-07", true},
		{"the week before, closed at its end", []string{"2026-09-03", "2026-09-04", "2026-09-07"}, "2026-08-31", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := workedApp(t, "10-09", 1)
			at := d("2026-08-03").At(9, 0, a.Config.Zone())
			for _, day := range c.closed {
				if err := a.Writer().CloseDay(t.Context(), at, "Inge", store.ClosedDay{Day: d(day)}); err != nil {
					t.Fatal(err)
				}
			}
			recheckedBoat(t, a)
			finding(t, a, "F1", d("2026-08-03"), d("2026-08-24"))
			v := recheck(t, a)
			if _, err := a.Pin(t.Context(), at, "Inge", "B00", v.ID, d(c.week).Week()); err != nil {
				t.Fatal(err)
			}
			if v = recheck(t, a); v.Deadline != d("2026-09-07") || v.Week != d(c.week).Week() {
				t.Fatalf("in the week of %s, by %s", v.Week.Monday(), v.Deadline)
			}
			late, err := a.Late(t.Context(), d("2026-08-03"))
			if err != nil || slices.Contains(late.Chosen, v.ID) != c.late {
				t.Errorf("late: %+v, %v", late, err)
			}
		})
	}
}

// What a customer takes back is what they said: a week that the desk chose since, the
// same or another, stays.
func TestLaterTakenBackKeepsTheDesksWeek(t *testing.T) {
	for _, desk := range []civil.Week{0, d("2026-08-31").Week(), d("2026-08-17").Week()} {
		a := workedApp(t, "10-09", 1)
		at := d("2026-08-03").At(9, 0, a.Config.Zone())
		recheckedBoat(t, a)
		finding(t, a, "F1", d("2026-08-03"), d("2026-08-24"))
		v := recheck(t, a)
		said, err := a.Reply(t.Context(), at, later(v.ID, d("2026-09-01")))
		if err != nil {
			t.Fatal(err)
		}
		if desk != 0 {
			if _, err := a.Pin(t.Context(), at, "Inge", "B00", v.ID, desk); err != nil {
				t.Fatal(err)
			}
		}
		if _, err := a.UndoReply(t.Context(), at, "C1", said.ID); err != nil {
			t.Fatal(err)
		}
		pins, err := a.DB.Pins(t.Context(), nil)
		if err != nil || pins[v.ID] != desk {
			t.Errorf("kept in %v, want %s, %v", pins, desk, err)
		}
		if got := recheck(t, a).Week; desk != 0 && got != desk {
			t.Errorf("in the week of %s, want %s", got.Monday(), desk.Monday())
		}
	}
}

// recheckedBoat gives boat B00 an owner, C1, and has nothing but its season due.
func recheckedBoat(t *testing.T, a *app.App) {
	t.Helper()
	at := d("2026-08-03").At(9, 0, a.Config.Zone())
	if err := storetest.SaveCustomer(t.Context(), a.Writer(), at, "test", schedule.Customer{ID: "C1", Name: "Ida", Email: "ida@example.org"}); err != nil {
		t.Fatal(err)
	}
	if err := storetest.SetOwner(t.Context(), a.Writer(), at, "test", "B00", "C1", d("2026-05-01")); err != nil {
		t.Fatal(err)
	}
	for _, service := range []string{"break-in", "engine-oil", "oil-filter", "gear-lube", "impeller-check", "spark-plugs-check", "thermostat", "trim-steering-fluid"} {
		r := schedule.Record{BoatID: "B00", ComponentID: "B00-E", Day: d("2026-07-01"), Service: service, By: schedule.ByShop}
		if _, err := a.Writer().AddRecord(t.Context(), at, "test", r); err != nil {
			t.Fatal(err)
		}
	}
	settle(t, a, d("2026-08-03"))
}

// finding notes something about the engine of boat B00 on a day, to be looked at again
// by another.
func finding(t *testing.T, a *app.App, id string, day, due civil.Day) {
	t.Helper()
	f := schedule.FollowUp{ID: id, BoatID: "B00", ComponentID: "B00-E", Service: "recheck", Title: "Look again", Due: due, Raised: day, Finding: "A drop of oil."}
	if _, err := a.Record(t.Context(), day.At(9, 0, a.Config.Zone()), "test", "", &store.Work{BoatID: "B00", FollowUps: []schedule.FollowUp{f}}, true); err != nil {
		t.Fatal(err)
	}
}

// recheck is the visit that carries the first finding.
func recheck(t *testing.T, a *app.App) (v schedule.Visit) {
	t.Helper()
	for _, v := range visits(t, a) {
		if slices.ContainsFunc(v.Items, func(key string) bool { return strings.Contains(key, "follow-up:F1") }) {
			return v
		}
	}
	t.Fatal("no visit for the recheck")
	return v
}

func later(visit string, until civil.Day) store.NewAnswer {
	return store.NewAnswer{Answer: schedule.Answer{CustomerID: "C1", BoatID: "B00", VisitID: visit, Kind: schedule.AnswerLater, Until: until}}
}

// A job that a visit is booked for is not dropped while the day is booked: nobody would
// see the day any more. Beside another job, and once the day is given up, it is.
func TestAJobOfABookedDayIsNotDropped(t *testing.T) {
	a := workedApp(t, "10-09", 1)
	at := d("2026-08-03").At(9, 0, a.Config.Zone())
	recheckedBoat(t, a)
	finding(t, a, "F1", d("2026-08-03"), d("2026-08-24"))
	finding(t, a, "F2", d("2026-08-03"), d("2026-08-24"))
	v := recheck(t, a)
	b := schedule.Booking{BoatID: "B00", VisitID: v.ID, Kind: v.Kind, Day: d("2026-08-25"), Minute: 540}
	if _, err := a.Book(t.Context(), at, "Inge", b, nil, true); err != nil {
		t.Fatal(err)
	}
	if _, err := a.RemoveFollowUp(t.Context(), at, "Inge", "B00", "F2"); err != nil {
		t.Fatal(err)
	}
	var booked *store.StillBooked
	if _, err := a.RemoveFollowUp(t.Context(), at, "Inge", "B00", "F1"); !errors.As(err, &booked) || booked.Booking.Day != b.Day {
		t.Errorf("the only job of the booked day is dropped: %v", err)
	}
	if got := recheck(t, a); !got.Booked() {
		t.Errorf("the booked visit is %+v", got)
	}
	if _, err := a.Unbook(t.Context(), at, "Inge", "B00", v.ID, nil, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := a.RemoveFollowUp(t.Context(), at, "Inge", "B00", "F1"); err != nil {
		t.Error(err)
	}
}
