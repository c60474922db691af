package store_test

import (
	"database/sql"
	"errors"
	"fmt"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
	"bellbuoy/store/storetest"
)

// fill sets every field of a struct to something that is not its zero value,
// numbered from n, so that a field that is not kept is noticed.
func fill(t *testing.T, v reflect.Value, n int) {
	t.Helper()
	for i := range v.NumField() {
		f := v.Field(i)
		switch {
		case v.Type().Field(i).Name == "Missed":
			// The store's own; see the tests of bookings.
		case f.Type() == reflect.TypeFor[civil.Day]():
			f.SetInt(int64(739000 + n + i))
		case f.Type() == reflect.TypeFor[civil.Week](), f.Kind() == reflect.Pointer, f.Type() == reflect.TypeFor[level.Why]():
			// The store's own; see the tests of weeks and bookings.
		case f.Kind() == reflect.String:
			f.SetString(fmt.Sprintf("%s %d", v.Type().Field(i).Name, n))
		case f.CanInt():
			f.SetInt(int64(1 + n + i))
		case f.Kind() == reflect.Bool:
			f.SetBool(v.Type().Field(i).Name != "Told")
		case f.Type() == reflect.TypeFor[[]string]():
			f.Set(reflect.ValueOf([]string{fmt.Sprint("b/", n), fmt.Sprint("a/", n)}))
		default:
			t.Fatalf("field %s of type %s is new to this test", v.Type().Field(i).Name, f.Type())
		}
	}
}

func fullPlan(t *testing.T, boat string) schedule.BoatPlan {
	t.Helper()
	p := schedule.BoatPlan{Items: make([]schedule.DueItem, 2), Visits: make([]schedule.Visit, 2), Problems: []string{"one", "two"}}
	for i := range p.Items {
		fill(t, reflect.ValueOf(&p.Items[i]).Elem(), 100*i)
		p.Items[i].BoatID = boat
	}
	for i := range p.Visits {
		fill(t, reflect.ValueOf(&p.Visits[i]).Elem(), 100*i)
		p.Visits[i].BoatID, p.Visits[i].Kind = boat, schedule.LayUp
		p.Items[i].VisitID = p.Visits[i].ID
	}
	return p
}

// save stores one plan and returns whether it changed anything.
func save(t *testing.T, db *store.DB, boat string, p schedule.BoatPlan) bool {
	t.Helper()
	seen, err := db.FactsVersion(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	changed, err := db.SavePlans(t.Context(), noon, []store.NewPlan{{BoatID: boat, Plan: p, Seen: seen}})
	if err != nil {
		t.Fatal(err)
	}
	return len(changed) == 1
}

func TestPlanComesBackWhole(t *testing.T) {
	db := open(t)
	take(t, db, small())
	want := fullPlan(t, "B1")
	if !save(t, db, "B1", want) {
		t.Error("the first plan did not count as a change")
	}
	got, err := db.Plan(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("plan differs (-saved +read):\n%s", diff)
	}
	f, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want.Visits, f.Prior); diff != "" {
		t.Errorf("prior visits differ (-saved +read):\n%s", diff)
	}
	if empty, err := db.Plan(t.Context(), "B2"); err != nil || len(empty.Items)+len(empty.Visits) != 0 {
		t.Errorf("a boat without a plan gave %+v, %v", empty, err)
	}
}

// Each field alone must make a plan a new one, or a change of it would never be
// written.
func TestEveryFieldOfAPlanCounts(t *testing.T) {
	db := open(t)
	take(t, db, small())
	base := fullPlan(t, "B1")
	save(t, db, "B1", base)
	if save(t, db, "B1", base) {
		t.Fatal("the same plan counted as a change")
	}
	try := func(name string, change func(*schedule.BoatPlan)) {
		p := fullPlan(t, "B1")
		change(&p)
		if !save(t, db, "B1", p) {
			t.Errorf("%s can change unnoticed", name)
		}
		save(t, db, "B1", base)
	}
	try("Problems", func(p *schedule.BoatPlan) { p.Problems = p.Problems[:1] })
	item := reflect.TypeFor[schedule.DueItem]()
	for i := range item.NumField() {
		if item.Field(i).Name == "BoatID" {
			continue // it is the boat's
		}
		try("DueItem."+item.Field(i).Name, func(p *schedule.BoatPlan) { bump(reflect.ValueOf(&p.Items[0]).Elem().Field(i)) })
	}
	visit := reflect.TypeFor[schedule.Visit]()
	for i := range visit.NumField() {
		switch visit.Field(i).Name {
		case "BoatID", "Week", "WeekWhy", "Booking", "Told", "Missed":
			continue // not the planner's
		case "Kind":
			try("Visit.Kind", func(p *schedule.BoatPlan) { p.Visits[0].Kind = schedule.Extra })
			continue
		}
		try("Visit."+visit.Field(i).Name, func(p *schedule.BoatPlan) { bump(reflect.ValueOf(&p.Visits[0]).Elem().Field(i)) })
	}
}

// Whatever plan takes the place of whatever other one, what is stored is the
// new one, and the weeks of the visits that go on.
func TestAnyPlanReplacesAnyOther(t *testing.T) {
	db := open(t)
	take(t, db, small())
	weeks := map[string]civil.Week{}
	rapid.Check(t, func(rt *rapid.T) {
		p := drawPlan(rt)
		save(t, db, "B1", p)
		got, err := db.Plan(t.Context(), "B1")
		if err != nil {
			rt.Fatal(err)
		}
		stay := map[string]civil.Week{}
		for i := range p.Visits {
			v := &p.Visits[i]
			if w, ok := weeks[v.ID]; ok {
				v.Week, stay[v.ID] = w, w
			}
		}
		weeks = stay
		order := cmpopts.SortSlices(func(x, y schedule.DueItem) bool { return x.Key() < y.Key() })
		if diff := cmp.Diff(p, got, order, cmpopts.EquateEmpty()); diff != "" {
			rt.Fatalf("plan differs (-saved +read):\n%s", diff)
		}
		for i := range p.Visits {
			if v := &p.Visits[i]; rapid.Bool().Draw(rt, "pencil "+v.ID) {
				weeks[v.ID] = civil.Of(2027, 5, 3).Week() + civil.Week(rapid.IntRange(0, 3).Draw(rt, "week"))
				if _, err := db.SaveWeeks(t.Context(), []store.Week{{VisitID: v.ID, Week: weeks[v.ID]}}); err != nil {
					rt.Fatal(err)
				}
			}
		}
	})
}

// drawPlan draws a plan out of few visits and items, so that one often shares
// some with the plan before it, some of them changed.
func drawPlan(t *rapid.T) schedule.BoatPlan {
	var p schedule.BoatPlan
	ids := []string{""}
	for k, id := range []string{"B1.a", "B1.b", "B1.c"} {
		if rapid.Bool().Draw(t, id) {
			ids = append(ids, id)
			p.Visits = append(p.Visits, schedule.Visit{
				ID: id, BoatID: "B1", Kind: schedule.Extra, Day: civil.Of(2027, 5, 1) + civil.Day(k),
				Labour: rapid.IntRange(0, 2).Draw(t, "labour"), Lapsed: rapid.Bool().Draw(t, "lapsed"),
				Items: rapid.SliceOfN(rapid.SampledFrom([]string{"x", "y"}), 1, 2).Draw(t, "items"),
			})
		}
	}
	for _, rule := range []string{"impeller", "anodes", "oil", "plugs"} {
		if rapid.Bool().Draw(t, rule) {
			p.Items = append(p.Items, schedule.DueItem{
				BoatID: "B1", ComponentID: "E1", Rule: rule, Service: rule, Basis: schedule.BasisDate,
				Due: civil.Of(2027, 5, 1) + civil.Day(rapid.IntRange(0, 2).Draw(t, "due")), Labour: rapid.IntRange(0, 1).Draw(t, "minutes"),
				HasLastHours: rapid.Bool().Draw(t, "hours known"), VisitID: rapid.SampledFrom(ids).Draw(t, "visit"),
			})
		}
	}
	return p
}

// What a change of one item leaves as it was is not written again.
func TestSavePlanWritesOnlyWhatChanged(t *testing.T) {
	db := open(t)
	take(t, db, small())
	p := fullPlan(t, "B1")
	save(t, db, "B1", p)
	q, err := sql.Open("sqlite", "file:"+db.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	for _, s := range []string{
		"CREATE TABLE touched (what TEXT)",
		"CREATE TRIGGER t1 AFTER INSERT ON due_items BEGIN INSERT INTO touched VALUES ('new ' || new.rule); END",
		"CREATE TRIGGER t2 AFTER DELETE ON due_items BEGIN INSERT INTO touched VALUES ('gone ' || old.rule); END",
		"CREATE TRIGGER t3 AFTER UPDATE ON visits BEGIN INSERT INTO touched VALUES ('visit ' || new.id); END",
	} {
		if _, err := q.ExecContext(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	p.Items[1].Due++
	p.Visits[1].Price++
	save(t, db, "B1", p)
	var got string
	if err := q.QueryRowContext(t.Context(), "SELECT group_concat(what, ', ') FROM touched").Scan(&got); err != nil {
		t.Fatal(err)
	}
	rule := p.Items[1].Rule
	if want := "gone " + rule + ", new " + rule + ", visit " + p.Visits[1].ID; got != want {
		t.Errorf("touched %q, want %q", got, want)
	}
}

func bump(f reflect.Value) {
	switch {
	case f.Kind() == reflect.String:
		f.SetString(f.String() + "+")
	case f.CanInt():
		f.SetInt(f.Int() + 1000)
	case f.Kind() == reflect.Bool:
		f.SetBool(!f.Bool())
	case f.Kind() == reflect.Slice:
		f.Set(f.Slice(0, 1))
	}
}

func TestWeekAndTellingOutliveAReplan(t *testing.T) {
	db := open(t)
	take(t, db, small())
	p := fullPlan(t, "B1")
	id := p.Visits[0].ID
	save(t, db, "B1", p)
	week := civil.Of(2027, 5, 3).Week()
	why := level.Why{Reason: level.Nearest, Wish: week - 1}
	boats, err := db.SaveWeeks(t.Context(), []store.Week{{VisitID: id, Week: week, Why: why}, {VisitID: "gone", Week: week}})
	if err != nil || !cmp.Equal(boats, []string{"B1"}) {
		t.Fatalf("pencilling changed boats %v, %v; want B1", boats, err)
	}
	for _, reason := range []level.Reason{"", level.Kept} {
		if boats, _ := db.SaveWeeks(t.Context(), []store.Week{{VisitID: id, Week: week, Why: level.Why{Reason: reason}}}); len(boats) != 0 {
			t.Errorf("the same week changed boats %v", boats)
		}
	}
	told := []schedule.Notified{{CustomerID: "C1", Subject: id, Step: schedule.StepInvitation, On: civil.Of(2027, 4, 1), Week: week}}
	if err := outbox.RecordNotified(t.Context(), db, noon, "desk", told); err != nil {
		t.Fatal(err)
	}
	visit := func() *schedule.Visit {
		t.Helper()
		got, err := db.Plan(t.Context(), "B1")
		if err != nil {
			t.Fatal(err)
		}
		for i := range got.Visits {
			if got.Visits[i].ID == id {
				return &got.Visits[i]
			}
		}
		return &schedule.Visit{}
	}
	p.Visits[0].Labour += 30
	save(t, db, "B1", p)
	if v := visit(); v.Week != week || !v.Told || v.WeekWhy.Reason != level.Nearest || v.WeekWhy.Wish != week-1 {
		t.Errorf("after a re-plan the visit is %+v; want its week, told, and why", v)
	}
	without := p
	without.Visits = p.Visits[1:]
	save(t, db, "B1", without)
	save(t, db, "B1", p)
	if v := visit(); v.Week != 0 {
		t.Errorf("a visit that had left came back in week %s", v.Week)
	}
	if _, err := db.SaveWeeks(t.Context(), []store.Week{{VisitID: id, Week: week}}); err != nil {
		t.Fatal(err)
	}
	if v := visit(); !v.Told {
		t.Error("what was told was forgotten while the visit was away")
	}
	if _, err := db.SaveWeeks(t.Context(), []store.Week{{VisitID: id, Week: week + 1}}); err != nil {
		t.Fatal(err)
	}
	if v := visit(); v.Told {
		t.Error("a week that was never told counts as told")
	}
	if err := storetest.SetOwner(t.Context(), db, noon, "desk", "B1", "C3", civil.Of(2026, 11, 20)); err != nil {
		t.Fatal(err)
	}
	if _, err := db.SaveWeeks(t.Context(), []store.Week{{VisitID: id, Week: week}}); err != nil {
		t.Fatal(err)
	}
	if v := visit(); v.Told {
		t.Error("the new owner counts as told what the old one heard")
	}
}

func TestBookingStandsWithItsVisit(t *testing.T) {
	db := open(t)
	take(t, db, small())
	p := fullPlan(t, "B1")
	save(t, db, "B1", p)
	b := schedule.Booking{VisitID: p.Visits[0].ID, BoatID: "B1", Kind: schedule.LayUp, Day: civil.Of(2027, 9, 20), Minute: 570}
	if err := db.Book(t.Context(), noon, "desk", b, nil, nil); err != nil {
		t.Fatal(err)
	}
	got, err := db.Plan(t.Context(), "B1")
	if err != nil || got.Visits[0].Booking == nil || *got.Visits[0].Booking != b {
		t.Errorf("visit is %+v, %v; want booking %+v", got.Visits[0], err, b)
	}
	if err := db.Unbook(t.Context(), noon, "desk", b.VisitID, nil, nil); err != nil {
		t.Fatal(err)
	}
	if err := db.Unbook(t.Context(), noon, "desk", b.VisitID, nil, nil); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("unbooking twice: %v, want ErrNotFound", err)
	}
	b.BoatID = "B9"
	if err := db.Book(t.Context(), noon, "desk", b, nil, nil); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("booking for an unknown boat: %v, want ErrNotFound", err)
	}
}

// TestMissedBookingIsReleased: after its day the booking is taken off a visit that
// is still planned, its day stays beside the visit through a new plan, and
// another booking or another owner ends it. Bookings of recorded work stay.
func TestMissedBookingIsReleased(t *testing.T) {
	db := open(t)
	take(t, db, small())
	p := fullPlan(t, "B1")
	save(t, db, "B1", p)
	day := civil.Of(2026, 9, 21)
	for _, id := range []string{p.Visits[0].ID, "recorded"} {
		b := schedule.Booking{VisitID: id, BoatID: "B1", Kind: schedule.LayUp, Day: day, Minute: -1}
		if err := db.Book(t.Context(), noon, "desk", b, nil, nil); err != nil {
			t.Fatal(err)
		}
	}
	visit := func() schedule.Visit {
		t.Helper()
		got, err := db.Plan(t.Context(), "B1")
		if err != nil {
			t.Fatal(err)
		}
		return got.Visits[0]
	}
	release := func(before civil.Day, want int) {
		t.Helper()
		if n, err := db.ReleaseMissed(t.Context(), noon, "test", before); err != nil || n != want {
			t.Fatalf("released %d, %v; want %d", n, err, want)
		}
	}
	if all, err := db.BookedBefore(t.Context(), day+1); err != nil || len(all) != 1 || all[0].VisitID != p.Visits[0].ID {
		t.Errorf("passed are %+v, %v; want the planned visit's", all, err)
	}
	release(day, 0)
	if v := visit(); v.Booking == nil || v.Missed != 0 {
		t.Errorf("on its day: %+v", v)
	}
	release(day+1, 1)
	if v := visit(); v.Booking != nil || v.Missed != day {
		t.Errorf("released: %+v", v)
	}
	if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
		t.Errorf("%v, %v", bad, err)
	}
	f, err := db.Facts(t.Context(), "B1")
	if err != nil || len(f.Bookings) != 1 || f.Bookings[0].VisitID != "recorded" {
		t.Errorf("bookings %+v, %v; want the recorded one's", f.Bookings, err)
	}
	changes, err := report.Changes(t.Context(), db.Reader, "B1", 0, 1)
	if err != nil || len(changes) != 1 || changes[0].Actor != "test" || changes[0].What != "cancel a booking" {
		t.Errorf("the change history says %+v, %v", changes, err)
	}
	p.Visits[0].Labour += 30
	save(t, db, "B1", p)
	if v := visit(); v.Missed != day {
		t.Errorf("after a new plan: %+v", v)
	}
	again := schedule.Booking{VisitID: p.Visits[0].ID, BoatID: "B1", Kind: schedule.LayUp, Day: day + 9, Minute: -1}
	if err := db.Book(t.Context(), noon, "desk", again, nil, nil); err != nil {
		t.Fatal(err)
	}
	if v := visit(); v.Booking == nil || v.Missed != 0 {
		t.Errorf("booked again: %+v", v)
	}
	release(day+10, 1)
	if err := storetest.SetOwner(t.Context(), db, noon, "desk", "B1", "C3", day+20); err != nil {
		t.Fatal(err)
	}
	if v := visit(); v.Missed != 0 {
		t.Errorf("the new owner is told of a day that was the old one's: %+v", v)
	}
}

func TestDirtyBoatsStayUntilPlanned(t *testing.T) {
	db := open(t)
	take(t, db, small())
	dirty := func() []string {
		t.Helper()
		ids, err := db.DirtyBoats(t.Context(), 10)
		if err != nil {
			t.Fatal(err)
		}
		return ids
	}
	if got := dirty(); !cmp.Equal(got, []string{"B1", "B2", "B3"}) {
		t.Fatalf("after the intake %v are to be planned", got)
	}
	seen, err := db.FactsVersion(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	// A meter is read while the plan is being worked out.
	if err := db.RecordWork(t.Context(), noon, "desk", "", store.Work{BoatID: "B2", Readings: []schedule.Reading{schedule.Reading{ComponentID: "E2", Day: civil.Of(2026, 11, 1), Hours: 100}}}); err != nil {
		t.Fatal(err)
	}
	plans := []store.NewPlan{{BoatID: "B1", Seen: seen}, {BoatID: "B2", Seen: seen}, {BoatID: "B3", Seen: seen}}
	if _, err := db.SavePlans(t.Context(), noon, plans); err != nil {
		t.Fatal(err)
	}
	if got := dirty(); !cmp.Equal(got, []string{"B2"}) {
		t.Errorf("%v are to be planned, want only B2, which changed meanwhile", got)
	}
}

func TestVisitsOfAWeek(t *testing.T) {
	db := open(t)
	take(t, db, small())
	p := fullPlan(t, "B1")
	save(t, db, "B1", p)
	week := civil.Of(2027, 5, 3).Week()
	if _, err := db.SaveWeeks(t.Context(), []store.Week{{VisitID: p.Visits[0].ID, Week: week}, {VisitID: p.Visits[1].ID, Week: week}}); err != nil {
		t.Fatal(err)
	}
	in := func(w civil.Week) (ids []string) {
		t.Helper()
		rows, err := db.Visits(t.Context(), store.VisitQuery{From: w, To: w})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			ids = append(ids, r.Visit.ID)
		}
		return ids
	}
	if got := in(week); len(got) != 2 {
		t.Errorf("%v are pencilled, want both", got)
	}
	b := schedule.Booking{VisitID: p.Visits[0].ID, BoatID: "B1", Kind: schedule.LayUp, Day: (week + 1).Monday(), Minute: -1}
	if err := db.Book(t.Context(), noon, "desk", b, nil, nil); err != nil {
		t.Fatal(err)
	}
	if got := in(week); !cmp.Equal(got, []string{p.Visits[1].ID}) {
		t.Errorf("%v are left in the pencilled week, want the one not booked", got)
	}
	if got := in(week + 1); !cmp.Equal(got, []string{p.Visits[0].ID}) {
		t.Errorf("%v are in the booked week", got)
	}
	n := 0
	err := db.EachVisit(t.Context(), func(v schedule.Visit) error {
		n++
		if v.Booked() != (v.ID == b.VisitID) {
			t.Errorf("visit %s booked: %v", v.ID, v.Booked())
		}
		return nil
	})
	if err != nil || n != 2 {
		t.Errorf("%d visits, %v; want 2", n, err)
	}
}
