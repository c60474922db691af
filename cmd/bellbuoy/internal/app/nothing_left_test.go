package app_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
	"bellbuoy/store/storetest"
)

// On Monday, 3 August, the flares of boat B00 are due by the 20th, a visit of their own.
// It is booked for Wednesday the 12th at 9:00, and Ida is told. On the 4th there is nothing
// left to do on that day, for one of the reasons of the table. The appointment stands: on
// the desk's week and day, at its hour, on Ida's page and in the calendar, on the list of
// what to ask, and check finds nothing wrong. Nobody reminds her of it. Once the desk takes
// it off, she is told so.
func TestABookedDayOutlivesItsWork(t *testing.T) {
	day := d("2026-08-12")
	for _, c := range []struct {
		name string
		do   func(*app.App, time.Time) error
	}{
		{"the rule is switched off", func(a *app.App, at time.Time) error {
			_, err := a.SetOverride(t.Context(), at, "Inge", schedule.Override{BoatID: "B00", ComponentID: "FL", Rule: "flares", Skip: true})
			return err
		}},
		{"the owner does it", func(a *app.App, at time.Time) error {
			_, err := a.SetOverride(t.Context(), at, "Inge", schedule.Override{BoatID: "B00", ComponentID: "FL", Rule: "flares", ByCustomer: true})
			return err
		}},
		{"the part is retired", func(a *app.App, at time.Time) error {
			f, err := a.Facts(t.Context(), "B00")
			if err != nil {
				return err
			}
			k := slices.IndexFunc(f.Components, func(c schedule.Component) bool { return c.ID == "FL" })
			_, err = a.ChangePart(t.Context(), at, "Inge", "form-1", store.PartChange{BoatID: "B00", Was: &f.Components[k], Retired: d("2026-08-04")})
			return err
		}},
		{"its work is recorded early", func(a *app.App, at time.Time) error {
			w := store.Work{BoatID: "B00", Records: []schedule.Record{{BoatID: "B00", ComponentID: "FL", Day: d("2026-08-04"), Service: "flares", By: schedule.ByShop}}}
			_, err := a.Record(t.Context(), at, "Inge", "", &w, true)
			return err
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, v := flaresBooked(t, day)
			at := d("2026-08-04").At(9, 0, a.Config.Zone())
			if err := c.do(a, at); err != nil {
				t.Fatal(err)
			}
			if got := visits(t, a)[v.ID]; !got.Booked() || got.Booking.Day != day || len(got.Items) > 0 {
				t.Fatalf("planned as %+v", got)
			}
			nothingLeft(t, a, v.ID, day)
			if wrong, err := a.Check(t.Context(), d("2026-08-04")); err != nil || slices.ContainsFunc(wrong, func(w string) bool { return strings.Contains(w, "B00") }) {
				t.Errorf("check: %q, %v", wrong, err)
			}
			before := len(emailsTo(t, a, 0))
			if _, err := a.Remind(t.Context(), d("2026-08-10").At(10, 0, a.Config.Zone())); err != nil {
				t.Fatal(err)
			}
			if got := emailsTo(t, a, before); slices.Contains(got, schedule.StepBooked) || slices.Contains(got, schedule.StepCancellation) {
				t.Errorf("told %q", got)
			}
			before = len(emailsTo(t, a, 0))
			if _, err := a.Unbook(t.Context(), d("2026-08-10").At(11, 0, a.Config.Zone()), "Inge", "B00", v.ID, nil, nil); err != nil {
				t.Fatal(err)
			}
			if _, still := visits(t, a)[v.ID]; still {
				t.Error("planned still")
			}
			if got := emailsTo(t, a, before); !slices.Equal(got, []schedule.Step{schedule.StepCancellation}) {
				t.Errorf("told %q of the day that was taken off", got)
			}
		})
	}
}

// flaresBooked is a shop whose boat B00 is booked for a day at 9:00 to have its flares
// replaced, which are good for 42 months, until 20 August 2026, and whose owner was told.
func flaresBooked(t *testing.T, day civil.Day) (*app.App, schedule.Visit) {
	t.Helper()
	a := workedAppWith(t, "10-09", 1, "[mail]\nfrom = \"A shop <shop@example.org>\"\n")
	at := d("2026-08-03").At(9, 0, a.Config.Zone())
	if err := storetest.SaveComponent(t.Context(), a.Writer(), at, "test", schedule.Component{ID: "FL", BoatID: "B00", Kind: "flares", Made: d("2023-02-20")}); err != nil {
		t.Fatal(err)
	}
	recheckedBoat(t, a)
	if err := a.SwitchSending(t.Context(), at, "test", true); err != nil {
		t.Fatal(err)
	}
	for _, v := range visits(t, a) {
		if v.Kind == schedule.Extra {
			c, err := a.Book(t.Context(), at, "Inge", schedule.Booking{BoatID: "B00", VisitID: v.ID, Kind: v.Kind, Day: day, Minute: 540}, nil, true)
			if err != nil || !c.Queued {
				t.Fatalf("the owner is told: %t, %v", c.Queued, err)
			}
			return a, v
		}
	}
	t.Fatal("no visit for the flares")
	return nil, schedule.Visit{}
}

// nothingLeft checks that a visit stands wherever it stood, though nothing of it is left.
func nothingLeft(t *testing.T, a *app.App, id string, day civil.Day) {
	t.Helper()
	sections, err := a.DueWeek(t.Context(), report.WeekQuery{Week: day.Week(), Today: d("2026-08-04")})
	if err != nil {
		t.Fatal(err)
	}
	for _, sec := range sections {
		has := slices.ContainsFunc(sec.Rows, func(r report.WeekRow) bool { return r.Visit.ID == id })
		if has != (sec.Part == report.WeekBooked) {
			t.Errorf("in the part %s of the week: %t", sec.Part, has)
		}
	}
	rows, err := a.DB.Day(t.Context(), day, false)
	if err != nil || len(rows) != 1 || rows[0].Visit == nil || rows[0].Recorded {
		t.Errorf("the day has %+v, %v", rows, err)
	}
	loads, err := a.DB.DayLoads(t.Context(), day.Week(), "")
	if err != nil || !slices.Equal(loads[day].Hours, []int{540}) {
		t.Errorf("the day holds %+v, %v", loads[day], err)
	}
	ask, err := a.DB.NothingLeft(t.Context(), d("2026-08-04"), 10)
	if err != nil || len(ask) != 1 || ask[0].Visit.ID != id || ask[0].Owner.ID != "C1" {
		t.Errorf("to be asked: %+v, %v", ask, err)
	}
	view, err := a.View(t.Context(), "B00")
	if err != nil {
		t.Fatal(err)
	}
	k := slices.IndexFunc(view.Visits, func(v schedule.VisitView) bool { return v.Visit.ID == id })
	if k < 0 || !strings.Contains(view.Visits[k].Why, "nothing is left to do") {
		t.Errorf("the boat's page and the customer's have %+v", view.Visits)
	}
	events, _, err := a.DB.FeedEvents(t.Context(), store.FeedCustomer, "C1", d("2026-08-04"), d("2027-08-04"), 100)
	if err != nil || !slices.ContainsFunc(events, func(e []byte) bool {
		return strings.Contains(string(e), "STATUS:CONFIRMED") && strings.Contains(string(e), "20260812T")
	}) {
		t.Errorf("the customer's calendar has %q, %v", events, err)
	}
}

// emailsTo are the steps of the emails to Ida after the first so many.
func emailsTo(t *testing.T, a *app.App, after int) (steps []schedule.Step) {
	t.Helper()
	all, err := outbox.Messages(t.Context(), a.DB, outbox.MessageQuery{CustomerID: "C1"})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range slices.Backward(all) {
		steps = append(steps, m.Step)
	}
	return steps[after:]
}
