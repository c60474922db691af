package store_test

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/report"
)

// weekOf is the week that these tests look at: Monday 3 May 2027.
var weekOf = civil.Of(2027, 5, 3).Week()

// plain is a visit with one job that falls due on its deadline.
func plain(boat, id, deadline string, t *testing.T) (schedule.Visit, schedule.DueItem) {
	d := day(t, deadline)
	v := schedule.Visit{ID: id, BoatID: boat, Kind: schedule.FitOut, Open: d - 30, Close: d, Day: d - 7, Deadline: d, Labour: 60}
	it := schedule.DueItem{BoatID: boat, ComponentID: boat, Rule: "hull " + id, Service: "hull", Due: d, Basis: schedule.BasisDate, VisitID: id}
	return v, it
}

// planned stores a plan of plain visits for a boat: id to deadline.
func planned(t *testing.T, db *store.DB, boat string, visits map[string]string) {
	t.Helper()
	var p schedule.BoatPlan
	for id, deadline := range visits {
		v, it := plain(boat, id, deadline, t)
		v.Items = []string{it.Key()}
		p.Visits, p.Items = append(p.Visits, v), append(p.Items, it)
	}
	save(t, db, boat, p)
}

// partsOf reads the ids in each part of the week.
func partsOf(t *testing.T, db *store.DB, q report.WeekQuery) map[report.WeekPart][]string {
	t.Helper()
	q.Week, q.Today, q.Ahead, q.Most = weekOf, weekOf.Monday()+1, 6, 300
	all, err := report.WeekOverview(t.Context(), db.Reader, q)
	if err != nil {
		t.Fatal(err)
	}
	got := make(map[report.WeekPart][]string)
	for _, s := range all {
		for _, r := range s.Rows {
			got[s.Part] = append(got[s.Part], r.Visit.ID)
		}
		if q.Part == "" && len(s.Rows) != s.Count {
			t.Errorf("%s: %d rows, counted %d", s.Part, len(s.Rows), s.Count)
		}
	}
	return got
}

func TestPartsOfAWeek(t *testing.T) {
	db := open(t)
	take(t, db, small())
	planned(t, db, "B1", map[string]string{
		"missed": "2027-03-01", "missed lately": "2027-05-01", "day passed": "2027-05-02", "yesterday": "2027-05-25", "comes in": "2027-05-20",
		"meant": "2027-05-08", "falls due": "2027-05-09", "told": "2027-05-30", "later": "2027-09-01",
	})
	planned(t, db, "B2", map[string]string{"by telephone": "2027-06-01"}) // its owner wants to be rung
	var weeks []store.Week
	for id, w := range map[string]civil.Week{"meant": 0, "falls due": 1, "told": 2, "later": 15, "by telephone": 3} {
		weeks = append(weeks, store.Week{VisitID: id, Week: weekOf + w})
	}
	if _, err := db.SaveWeeks(t.Context(), weeks); err != nil {
		t.Fatal(err)
	}
	for id, d := range map[string]string{"day passed": "2027-04-30", "yesterday": "2027-05-03", "comes in": "2027-05-05"} {
		if err := db.Book(t.Context(), noon, "desk", schedule.Booking{VisitID: id, BoatID: "B1", Kind: schedule.FitOut, Day: day(t, d), Minute: -1}, nil, nil); err != nil {
			t.Fatal(err)
		}
	}
	heard := []schedule.Notified{{CustomerID: "C1", Subject: "told", Step: schedule.StepInvitation, On: day(t, "2027-04-20"), Week: weekOf + 2}}
	if err := outbox.RecordNotified(t.Context(), db, noon, "desk", heard); err != nil {
		t.Fatal(err)
	}
	want := map[report.WeekPart][]string{
		report.WeekOverdue:     {"missed", "missed lately"}, // of one price and no danger, the most days late first
		report.WeekDayPassed:   {"day passed", "yesterday"},
		report.WeekBooked:      {"comes in"},
		report.WeekPencilled:   {"meant"},
		report.WeekDue:         {"falls due"},
		report.WeekWaiting:     {"told"},
		report.WeekUnreachable: {"by telephone"},
	}
	if diff := cmp.Diff(want, partsOf(t, db, report.WeekQuery{})); diff != "" {
		t.Errorf("parts differ (want, got):\n%s", diff)
	}
	if got := partsOf(t, db, report.WeekQuery{Kind: schedule.LayUp}); len(got) > 0 {
		t.Errorf("of the lay-ups: %v, want none", got)
	}
}

// TestWhatIsOverdueGoesByDanger, worked by hand on May 4: "bellows" is a safety job 4
// days late at $10, "flares" is against the law for 60 days at $900, "oil" is 10 days
// late at $300 (3,000 dollar days), "plugs" 64 days late at $40 (2,560), "wax" 30 days
// late at $0. "gone" is of a boat that has not been in for long.
func TestWhatIsOverdueGoesByDanger(t *testing.T) {
	db := open(t)
	take(t, db, small())
	var p schedule.BoatPlan
	for id, v := range map[string]struct {
		deadline string
		price    schedule.Cents
		lapsed   bool
	}{
		"bellows": {"2027-04-30", 1000, false}, "flares": {"2027-03-05", 90000, false}, "oil": {"2027-04-24", 30000, false},
		"plugs": {"2027-03-01", 4000, false}, "wax": {"2027-04-04", 0, false}, "gone": {"2027-03-01", 99000, true},
	} {
		visit, it := plain("B1", id, v.deadline, t)
		it.Rule = id
		visit.Items, visit.Price, visit.Lapsed = []string{it.Key()}, v.price, v.lapsed
		p.Visits, p.Items = append(p.Visits, visit), append(p.Items, it)
	}
	save(t, db, "B1", p)
	for sort, want := range map[report.WeekSort][]string{
		report.SortDanger: {"bellows", "flares", "oil", "plugs", "wax"},
		report.SortLate:   {"plugs", "flares", "wax", "oil", "bellows"},
		report.SortPrice:  {"flares", "oil", "plugs", "bellows", "wax"},
	} {
		got := partsOf(t, db, report.WeekQuery{Sort: sort, Safety: []string{"bellows"}, Legal: []string{"flares"}})
		if diff := cmp.Diff(want, got[report.WeekOverdue]); diff != "" {
			t.Errorf("order %q (want, got):\n%s", sort, diff)
		}
		if diff := cmp.Diff([]string{"gone"}, got[report.WeekLapsed]); diff != "" {
			t.Errorf("lapsed (want, got):\n%s", diff)
		}
	}
}

// TestWhatIsBookedGoesByTheHour: of one day what comes at no hour first, then by the
// hour, whatever the visits are called; and page by page as at once.
func TestWhatIsBookedGoesByTheHour(t *testing.T) {
	db := open(t)
	take(t, db, small())
	booked := map[string]schedule.Booking{"a": {Day: day(t, "2027-05-06"), Minute: 11 * 60}, "b": {Day: day(t, "2027-05-06"), Minute: 9 * 60},
		"c": {Day: day(t, "2027-05-06"), Minute: -1}, "d": {Day: day(t, "2027-05-05"), Minute: 16 * 60}}
	visits := make(map[string]string)
	for id := range booked {
		visits[id] = "2027-05-20"
	}
	planned(t, db, "B1", visits)
	for id, b := range booked {
		b.VisitID, b.BoatID, b.Kind = id, "B1", schedule.FitOut
		if err := db.Book(t.Context(), noon, "desk", b, nil, nil); err != nil {
			t.Fatal(err)
		}
	}
	want := []string{"d", "c", "b", "a"}
	if got := partsOf(t, db, report.WeekQuery{})[report.WeekBooked]; !slices.Equal(got, want) {
		t.Errorf("booked %v, want %v", got, want)
	}
	all, err := report.WeekOverview(t.Context(), db.Reader, report.WeekQuery{Week: weekOf, Today: weekOf.Monday() + 1, Most: 300, Part: report.WeekBooked, Limit: 2})
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(all, func(s report.WeekSection) bool { return s.Part == report.WeekBooked })
	rest := partsOf(t, db, report.WeekQuery{Part: report.WeekBooked, After: all[i].Rows[1].Key})[report.WeekBooked]
	if !slices.Equal(rest, want[2:]) {
		t.Errorf("after the first page %v, want %v", rest, want[2:])
	}
}

// TestPartsArePaged walks every part by its keys, one row at a time, and wants
// what the part shows at once.
func TestPartsArePaged(t *testing.T) {
	db := open(t)
	take(t, db, small())
	visits := make(map[string]string)
	for i := range 7 {
		visits[fmt.Sprint("v", i)] = (weekOf.Monday() - civil.Day(10+i/2)).String() // two of each day
	}
	planned(t, db, "B1", visits)
	whole := partsOf(t, db, report.WeekQuery{})[report.WeekOverdue]
	if len(whole) != 7 {
		t.Fatalf("%v overdue, want seven", whole)
	}
	var paged []string
	q := report.WeekQuery{Today: weekOf.Monday(), Week: weekOf, Part: report.WeekOverdue, Limit: 2, Most: 300}
	for more := true; more; {
		all, err := report.WeekOverview(t.Context(), db.Reader, q)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(all, func(s report.WeekSection) bool { return s.Part == report.WeekOverdue })
		if all[i].Count != 7 {
			t.Errorf("counted %d on a page, want 7", all[i].Count)
		}
		for _, r := range all[i].Rows {
			paged, q.After = append(paged, r.Visit.ID), r.Key
		}
		more = all[i].More
	}
	if !slices.Equal(paged, whole) {
		t.Errorf("paged %v, at once %v", paged, whole)
	}
}

// TestWorkIsKeptWholeOrNotAtAll: a meter that runs back takes the record beside
// it along, and a form counts once.
func TestWorkIsKeptWholeOrNotAtAll(t *testing.T) {
	db := open(t)
	take(t, db, small())
	w := store.Work{
		BoatID:   "B1",
		Records:  []schedule.Record{{BoatID: "B1", ComponentID: "E1", Day: day(t, "2026-11-20"), Service: "spark-plugs", By: schedule.ByShop}},
		Readings: []schedule.Reading{{ComponentID: "E1", Day: day(t, "2026-11-20"), Hours: 100}},
		Measurements: []store.Measurement{
			{BoatID: "B1", ComponentID: "E1", Day: day(t, "2026-11-20"), Kind: store.MeasureCompression, Figures: []float64{150, 148.5}, Rule: "usual"},
		},
	}
	before, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	if err := db.RecordWork(t.Context(), noon, "Ruth", "form 1", w); !errors.Is(err, store.ErrRefused) {
		t.Fatalf("a meter that runs back: error %v", err)
	}
	if after, err := db.Facts(t.Context(), "B1"); err != nil || len(after.Records) != len(before.Records) {
		t.Errorf("%d records after a refusal, %d before; error %v", len(after.Records), len(before.Records), err)
	}
	w.Readings[0].Hours = 2900
	if err := db.RecordWork(t.Context(), noon, "Ruth", "form 1", w); err != nil {
		t.Fatal(err)
	}
	if err := db.RecordWork(t.Context(), noon, "Ruth", "form 1", w); !errors.Is(err, store.ErrRefused) {
		t.Errorf("the same form again: error %v", err)
	}
	ms, err := db.Measurements(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(w.Measurements, ms); diff != "" {
		t.Errorf("measurements differ (want, got):\n%s", diff)
	}
	changes, err := report.Changes(t.Context(), db.Reader, "B1", 0, 10)
	if err != nil {
		t.Fatal(err)
	}
	var what []string
	for _, c := range changes {
		what = append(what, c.Actor+" "+c.What)
	}
	if want := []string{"Ruth measure", "Ruth record work", "Ruth read a meter"}; !slices.Equal(what, want) {
		t.Errorf("the log says %v, want %v", what, want)
	}
}

// TestNothingIsOverdueInAComingWeek: what is planned between today and a coming
// week is not late in it, and what has slipped past its deadline into that week is
// penciled in there.
func TestNothingIsOverdueInAComingWeek(t *testing.T) {
	db := open(t)
	take(t, db, small())
	planned(t, db, "B1", map[string]string{"before it": "2027-05-12", "late in it": "2027-05-13", "missed": "2027-03-01"})
	if _, err := db.SaveWeeks(t.Context(), []store.Week{{VisitID: "before it", Week: weekOf + 1}, {VisitID: "late in it", Week: weekOf + 3}}); err != nil {
		t.Fatal(err)
	}
	all, err := report.WeekOverview(t.Context(), db.Reader, report.WeekQuery{Week: weekOf + 3, Today: weekOf.Monday(), Most: 300})
	if err != nil {
		t.Fatal(err)
	}
	got := make(map[report.WeekPart][]string)
	for _, s := range all {
		for _, r := range s.Rows {
			got[s.Part] = append(got[s.Part], r.Visit.ID)
		}
	}
	if diff := cmp.Diff(map[report.WeekPart][]string{report.WeekPencilled: {"late in it"}}, got); diff != "" {
		t.Errorf("parts differ (want, got):\n%s", diff)
	}
}

// TestOwnersOwnJobs: what the owner does himself stands in the week in which it
// falls due, and for as long as it is missed if law or safety asks for it.
func TestOwnersOwnJobs(t *testing.T) {
	db := open(t)
	take(t, db, small())
	own := func(rule, due string) schedule.DueItem {
		return schedule.DueItem{BoatID: "B1", ComponentID: "B1", Rule: rule, Service: rule, Due: day(t, due), Basis: schedule.BasisDate, ByCustomer: true}
	}
	save(t, db, "B1", schedule.BoatPlan{Items: []schedule.DueItem{
		own("registration", "2027-03-31"), own("wax", "2027-04-01"), own("flares", "2027-05-06"), own("bilge", "2027-05-11"),
	}})
	jobs := func(w civil.Week) (rules []string) {
		t.Helper()
		q := report.WeekQuery{Week: w, Today: weekOf.Monday() + 1, Guarded: []string{"registration", "flares"}, Most: 300}
		all, err := report.WeekOverview(t.Context(), db.Reader, q)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range all {
			for _, r := range s.Rows {
				if s.Part != report.WeekOwner || r.Boat.ID != "B1" || r.Owner.ID == "" || r.Visit.ID != "" {
					t.Errorf("%s: %+v", s.Part, r)
				}
				for _, j := range r.Jobs {
					rules = append(rules, j.Rule)
				}
			}
		}
		return rules
	}
	for w, want := range map[civil.Week][]string{weekOf: {"registration", "flares"}, weekOf + 1: {"bilge"}, weekOf + 2: nil} {
		if diff := cmp.Diff(want, jobs(w)); diff != "" {
			t.Errorf("week %s (want, got):\n%s", w, diff)
		}
	}
}
