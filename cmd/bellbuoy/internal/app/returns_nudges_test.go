package app_test

import (
	"reflect"
	"strings"
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/cmd/bellbuoy/internal/figures"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/returns"
	"bellbuoy/store/imports"
	"bellbuoy/store/outbox"
)

// remindThrough has the shop remind every day at ten from one day to another.
func remindThrough(t *testing.T, a *app.App, from, to civil.Day) {
	t.Helper()
	for day := from; day <= to; day++ {
		if _, err := a.Remind(t.Context(), day.At(10, 0, a.Config.Zone())); err != nil {
			t.Fatal(err)
		}
	}
}

// TestNudgesHeldBack lives through a spring in which every second customer is to
// hear no nudge: those drawn hear none, keep their last call, and stay drawn when
// the shop changes its mind; lay-ups and guarded work are never drawn.
func TestNudgesHeldBack(t *testing.T) {
	if testing.Short() {
		t.Skip("counts many seasons")
	}
	today := theDay(t, "2027-02-15")
	a := demoAppWith(t, 7, 160, 4, today, "[reminders]\ncomparison_percent = 50\n")
	a.FixAssignment()
	checkedLately(t, a, today)
	settle(t, a, today)
	if err := a.SwitchSending(t.Context(), today.At(8, 0, a.Config.Zone()), "test", true); err != nil {
		t.Fatal(err)
	}
	remindThrough(t, a, today, theDay(t, "2027-05-01"))
	a.Config.Reminders.HoldOutPercent = 0 // the owner has seen enough
	remindThrough(t, a, theDay(t, "2027-05-02"), theDay(t, "2027-06-20"))

	draws, err := outbox.Holdouts(t.Context(), a.DB, nil)
	if err != nil {
		t.Fatal(err)
	}
	heard, err := outbox.Notified(t.Context(), a.DB, nil)
	if err != nil {
		t.Fatal(err)
	}
	steps := make(map[string]map[schedule.Step]bool)
	for _, of := range heard {
		for _, x := range of {
			if steps[x.CustomerID+x.Subject] == nil {
				steps[x.CustomerID+x.Subject] = make(map[schedule.Step]bool)
			}
			steps[x.CustomerID+x.Subject][x.Step] = true
		}
	}
	sides := map[bool]int{}
	called := map[bool]int{}
	for customer, of := range draws {
		for i, w := range of {
			if i > 0 && w.Held != of[0].Held {
				t.Errorf("customer %s is on both sides", customer)
			}
			sides[w.Held]++
			s := steps[customer+w.VisitID]
			if s[schedule.StepNudge] == w.Held {
				t.Errorf("visit %s: held back %v, nudged %v", w.VisitID, w.Held, s[schedule.StepNudge])
			}
			if s[schedule.StepLastCall] {
				called[w.Held]++
			}
			checkMayBeDrawn(t, a, &w)
		}
	}
	if sides[true] < 4 || sides[false] < 4 {
		t.Errorf("%d held back and %d not: too few to show anything", sides[true], sides[false])
	}
	if called[true] < sides[true]*9/10 || called[false] < sides[false]*9/10 {
		t.Errorf("of %d held back %d got their last call, of %d others %d", sides[true], called[true], sides[false], called[false])
	}
}

// checkedLately has the yearly safety checks of every boat done: with one of them
// open, no visit is drawn.
func checkedLately(t *testing.T, a *app.App, today civil.Day) {
	t.Helper()
	ids, err := a.DB.BoatIDs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range ids {
		for _, service := range []string{"hull-check", "extinguisher-check", "trailer-check", "bellows-check", "shaft-seal-check", "life-jacket-check", "freeze-check"} {
			if _, err := a.Writer().AddRecord(t.Context(), today.At(9, 0, a.Config.Zone()), "test", schedule.Record{BoatID: id, Day: today, Service: service, By: schedule.ByShop}); err != nil {
				t.Fatal(err)
			}
		}
	}
}

// checkMayBeDrawn holds a drawn visit against the plan.
func checkMayBeDrawn(t *testing.T, a *app.App, w *schedule.Holdout) {
	t.Helper()
	v, err := a.View(t.Context(), w.BoatID)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range v.Visits {
		if x.Visit.ID != w.VisitID {
			continue
		}
		if x.Visit.Kind == schedule.LayUp {
			t.Errorf("a lay-up was drawn: %s", w.VisitID)
		}
		for _, l := range x.Lines {
			if r, ok := a.Planner.Catalogue().Rule(l.Item.Rule); ok && !l.Included && (r.Legal || r.Safety) {
				t.Errorf("a visit with %q was drawn: %s", r.Code, w.VisitID)
			}
		}
	}
}

// TestNudgesCounted by hand: a customer with two boats counts once, work after
// the watched days and on another's boat does not count, and who is still being
// watched counts on neither side.
func TestNudgesCounted(t *testing.T) {
	today := theDay(t, "2027-10-01")
	a := openApp(t, 2)
	a.Config.Reminders.HoldOutPercent = 25
	boats := "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until\n"
	for boat, customer := range map[string]string{"B1": "C1", "B2": "C1", "B3": "C2", "B4": "C3", "B5": "C4", "B6": "C5"} {
		boats += boat + "," + customer + ",," + boat + ",,,,runabout,,fresh,Lindrake Cove,own-dock,2025-05-01,\n"
	}
	takeInTexts(t, a, today, map[string]string{
		"customers.csv": "customer_id,name,email,phone,address,city,region,postal_code,contact_by\nC1,Ada,,,,,,,none\nC2,Bo,,,,,,,none\nC3,Cy,,,,,,,none\nC4,Di,,,,,,,none\nC5,Ed,,,,,,,none\n",
		"boats.csv":     boats,
		"history.csv": "boat_id,component_id,day,service,hours,amount,by,note\n" +
			"B1,,2027-04-12,repair,,100.00,shop,on the day itself\n" +
			"B2,,2027-08-09,repair,,50.00,shop,the last of 120 days since 12 April\n" +
			"B3,,2027-08-10,repair,,70.00,shop,a day too late\n" +
			"B4,,2027-05-20,repair,,30.00,shop,\n" +
			"B5,,2027-04-11,repair,,10.00,shop,the day before\n" +
			"B6,,2027-08-01,repair,,90.00,shop,\n",
	})
	drawn := func(customer, id, on string, held bool) {
		err := outbox.SaveHoldouts(t.Context(), a.Writer(), []schedule.Holdout{{CustomerID: customer, BoatID: id, VisitID: id + ".fit-out." + on[:4], On: theDay(t, on), Held: held, Percent: 25}})
		if err != nil {
			t.Fatal(err)
		}
	}
	drawn("C1", "B1", "2027-04-12", false) // two boats, both come
	drawn("C1", "B2", "2027-04-19", false)
	drawn("C1", "B1", "2027-04-12", true) // drawn again: the first stands
	drawn("C2", "B3", "2027-04-12", false)
	drawn("C3", "B4", "2027-04-12", true)
	drawn("C4", "B5", "2027-04-12", true)
	drawn("C5", "B6", "2027-07-20", true) // watched until November
	n, err := ledger(t, a, today).Nudges(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	type side struct {
		all, came int
		cents     schedule.Cents
	}
	of := func(x figures.HoldoutSide) side { return side{x.All.Count, x.Came.Count, x.All.Cents} }
	if got := of(n.Whole.Notified); got != (side{2, 1, 150_00}) {
		t.Errorf("heard: %+v", got)
	}
	if got := of(n.Whole.Held); got != (side{2, 1, 30_00}) {
		t.Errorf("held back: %+v", got)
	}
	if n.Open.Count != 1 || n.Open.Cents != 90_00 || n.Percent != 25 || len(n.Seasons) != 1 {
		t.Errorf("%+v", n)
	}
	if e := n.Whole.CameMore; !e.Known || e.By != 0 || e.Low > -0.5 || e.High < 0.5 {
		t.Errorf("two against two: %+v", e)
	}
	if e := n.Whole.PaidMore; !e.Known || e.By != 60_00 {
		t.Errorf("75 a head against 15: %+v", e)
	}
	eachFigure(reflect.ValueOf(n), "", func(path string, f figures.Figure) {
		list, err := ledger(t, a, today).List(t.Context(), f.List)
		if err != nil || f.Count != len(list.Rows) || f.Cents != list.Total {
			t.Errorf("%s: %d for %s, the list %s has %d for %s, %v", path, f.Count, f.Cents, f.List, len(list.Rows), list.Total, err)
		}
	})
}

// TestLotsAreFair: of ten thousand customers about a tenth is drawn, another
// tenth in the next season.
func TestLotsAreFair(t *testing.T) {
	a := openApp(t, 1)
	a.FixAssignment()
	lot := a.Policy().Assignment
	now := theDay(t, "2027-04-01")
	first, both := 0, 0
	for i := range 10_000 {
		id := civil.Day(i).String()
		a, b := lot(id, returns.SeasonOf(now)), lot(id, returns.SeasonOf(now+200))
		if a != lot(id, returns.SeasonOf(now)) || a < 0 || a >= 1 {
			t.Fatalf("customer %s: %v, then %v", id, a, lot(id, returns.SeasonOf(now)))
		}
		if a < 0.1 {
			first++
			if b < 0.1 {
				both++
			}
		}
	}
	// Four standard errors: 30 customers of 10,000 at a tenth, 10 at a hundredth.
	if first < 880 || first > 1120 || both < 60 || both > 140 {
		t.Errorf("%d drawn of 10,000, %d of them twice running", first, both)
	}
}

// takeInTexts takes in files that are written in the test.
func takeInTexts(t *testing.T, a *app.App, today civil.Day, texts map[string]string) {
	t.Helper()
	var files []imports.File
	for name, text := range texts {
		files = append(files, imports.File{Name: name, R: strings.NewReader(text)})
	}
	report, err := imports.Intake(t.Context(), a.Writer(), today.At(12, 0, a.Config.Zone()), files, a.Known(), app.IntakeBy("test"))
	if err != nil {
		t.Fatalf("%v: %v", err, report.Faults)
	}
}
