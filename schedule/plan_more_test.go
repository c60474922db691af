package schedule_test

import (
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
)

func TestNotOnThisBoat(t *testing.T) {
	f := facts(engine("E1"))
	f.Overrides = []schedule.Override{{BoatID: "B1", Rule: "impeller", Skip: true}}
	for _, it := range planner(t, small).Plan(f, d("2026-11-25")).Items {
		if it.Rule == "impeller" {
			t.Error("planned although the boat has none")
		}
	}
}

func TestCoveredJobCostsNothingExtra(t *testing.T) {
	f := facts(engine("E1"), schedule.Component{ID: "BAT", BoatID: "B1", Kind: "battery"})
	f.Records = []schedule.Record{did("2026-05-02", "fit-out", "E1", ""), did("2025-10-12", "battery", "BAT", ""), did("2026-08-01", "oil-check", "E1", ""), did("2026-08-01", "engine-oil", "E1", "90"), did("2026-08-01", "impeller", "E1", "90")}
	f.Overrides = []schedule.Override{{BoatID: "B1", Rule: "oil-check", Skip: true}}
	p := planner(t, small).Plan(f, d("2026-09-01"))
	v := visit(t, p, "B1.lay-up.2026")
	if it := find(t, p, "BAT", "battery"); it.VisitID != v.ID || it.CoveredBy != "lay-up" {
		t.Errorf("battery goes with %q, covered by %q", it.VisitID, it.CoveredBy)
	}
	if v.Labour != 90 || v.Price != 29000 {
		t.Errorf("lay-up takes %d min and costs %d, want 90 and 29000", v.Labour, v.Price)
	}
}

func TestFollowUp(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.FollowUps = []schedule.FollowUp{{ID: "7", BoatID: "B1", ComponentID: "E1", Service: "oil-check", Title: "Look at the oil again", Due: d("2026-08-01"), Raised: d("2026-07-02"), Finding: "oil slightly milky"}}
	p := pl.Plan(f, d("2026-07-03"))
	it := find(t, p, "E1", "follow-up:7")
	if it.Due != d("2026-08-01") || it.VisitID == "" {
		t.Errorf("due %s with %q", it.Due, it.VisitID)
	}
	if text := why(t, pl, f, p, "follow-up:7"); !strings.Contains(text, "oil slightly milky") {
		t.Errorf("reason %q", text)
	}
	f.Records = append(f.Records, did("2026-07-30", "oil-check", "E1", ""))
	for _, it := range pl.Plan(f, d("2026-07-31")).Items {
		if it.Rule == "follow-up:7" {
			t.Error("still open after the look")
		}
	}
}

func TestBookedVisitStaysAndCarriesItsItems(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.Records = []schedule.Record{did("2026-05-02", "fit-out", "E1", ""), did("2025-10-05", "engine-oil", "E1", "100"), did("2025-10-05", "impeller", "E1", "100")}
	f.Bookings = []schedule.Booking{{VisitID: "B1.lay-up.2026", BoatID: "B1", Kind: schedule.LayUp, Day: d("2026-09-22"), Minute: 9 * 60}}
	p := pl.Plan(f, d("2026-09-01"))
	v := visit(t, p, "B1.lay-up.2026")
	if v.Day != d("2026-09-22") || !v.Booked() {
		t.Errorf("booked for %s, planned for %s", f.Bookings[0].Day, v.Day)
	}
	if it := find(t, p, "E1", "engine-oil"); it.VisitID != v.ID {
		t.Errorf("oil goes with %q, want the booked lay-up", it.VisitID)
	}
}

// TestExtraVisitKeepsItsName: what a customer was told hangs on the visit's ID,
// so new company on board must not change it.
func TestExtraVisitKeepsItsName(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.Records = []schedule.Record{did("2026-05-02", "fit-out", "E1", ""), did("2026-01-05", "oil-check", "E1", ""), did("2026-05-02", "engine-oil", "E1", "10"), did("2026-05-02", "impeller", "E1", "10")}
	f.FollowUps = []schedule.FollowUp{{ID: "1", BoatID: "B1", Service: "recheck", Title: "Recheck", Due: d("2026-07-20"), Raised: d("2026-07-01"), Finding: "weep"}}
	p := pl.Plan(f, d("2026-07-02"))
	id := find(t, p, "B1", "follow-up:1").VisitID
	f.Prior = p.Visits
	f.FollowUps = append(f.FollowUps, schedule.FollowUp{ID: "0", BoatID: "B1", Service: "recheck", Title: "Another", Due: d("2026-07-18"), Raised: d("2026-07-01"), Finding: "loose"})
	p = pl.Plan(f, d("2026-07-02"))
	if got := find(t, p, "B1", "follow-up:1").VisitID; got != id {
		t.Errorf("the visit was %q and is now %q", id, got)
	}
}

// A warranty check by 29 August is booked for 22 September: the desk fixed that
// day for that work, and a booking never loses its visit. Checked with a day in
// the warranty too. What rides with a commissioning booked too late for it is
// case 06 of testdata/cases.
func TestABookedCheckKeepsItsDay(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.Boat.SoldOn, f.Boat.WarrantyUntil = d("2027-06-01"), d("2027-08-30")
	today := d("2027-08-03")
	before := pl.Plan(f, today)
	id := find(t, before, "B1", "warranty-check").VisitID
	f.Prior = before.Visits
	for _, day := range []string{"2027-08-20", "2027-09-22"} {
		f.Bookings = []schedule.Booking{{VisitID: id, BoatID: "B1", Kind: schedule.Extra, Day: d(day), Minute: 540}}
		p := pl.Plan(f, today)
		v := visit(t, p, find(t, p, "B1", "warranty-check").VisitID)
		if v.ID != id || !v.Booked() || v.Day != d(day) {
			t.Errorf("booked for %s: the check goes with %s on %s, booked %v", day, v.ID, v.Day, v.Booked())
		}
	}
}

// TestAskedJob: the customer asks on August 1 for a new bilge pump, 90 minutes at
// $240: it is planned like any other, in the words typed, until a record in these
// words; another record of "other" work, and one of the day before, close nothing.
func TestAskedJob(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.FollowUps = []schedule.FollowUp{{
		ID: "7", BoatID: "B1", Service: schedule.ServiceOther, Title: "New bilge pump", Due: d("2026-08-12"), Raised: d("2026-08-01"), Asked: true, Labour: 90, Price: 24000,
	}}
	p := pl.Plan(f, d("2026-08-01"))
	it := find(t, p, "B1", "follow-up:7")
	if it.Labour != 90 || it.Price != 24000 || it.Due != d("2026-08-12") || it.VisitID == "" {
		t.Errorf("%d min, %d cents, due %s with %q", it.Labour, it.Price, it.Due, it.VisitID)
	}
	if text := why(t, pl, f, p, "follow-up:7"); !strings.HasPrefix(text, "Asked for on August 1, 2026.") {
		t.Errorf("reason %q", text)
	}
	open := func(day, service, note string) bool {
		g := *f
		g.Records = append(slices.Clone(f.Records), schedule.Record{BoatID: "B1", Day: d(day), Service: service, Note: note, By: schedule.ByShop})
		return slices.ContainsFunc(pl.Plan(&g, d("2026-08-20")).Items, func(i schedule.DueItem) bool { return i.Rule == "follow-up:7" })
	}
	for _, c := range []struct {
		day, service, note string
		open               bool
	}{
		{"2026-08-12", "other", "New bilge pump", false},
		{"2026-08-01", "other", "New bilge pump\nwith a new hose", false}, // the same day
		{"2026-07-31", "other", "New bilge pump", true},
		{"2026-08-12", "other", "New horn", true},
		{"2026-08-12", "oil-check", "New bilge pump", true},
	} {
		if got := open(c.day, c.service, c.note); got != c.open {
			t.Errorf("after %s on %s, %q: open %v, want %v", c.service, c.day, c.note, got, c.open)
		}
	}
}

// TestAJobAskedForAloneComesWhenItIsAskedFor: on January 12 the boat is laid up and
// other work waits for the spring; who asks for a job on that day gets a visit of its
// own then, and a booked day keeps it.
func TestAJobAskedForAloneComesWhenItIsAskedFor(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.FollowUps = []schedule.FollowUp{{ID: "7", BoatID: "B1", Service: schedule.ServiceOther, Title: "New horn", Due: d("2027-01-12"), Raised: d("2027-01-04"), Asked: true, Alone: true}}
	p := pl.Plan(f, d("2027-01-04"))
	v := visit(t, p, find(t, p, "B1", "follow-up:7").VisitID)
	if v.Kind != schedule.Extra || v.Day != d("2027-01-12") || len(v.Items) != 1 {
		t.Errorf("%s on %s with %d jobs", v.Kind, v.Day, len(v.Items))
	}
	f.Prior = p.Visits
	f.Bookings = []schedule.Booking{{VisitID: v.ID, BoatID: "B1", Kind: schedule.Extra, Day: d("2027-01-13"), Minute: -1}}
	p = pl.Plan(f, d("2027-01-05"))
	if got := find(t, p, "B1", "follow-up:7").VisitID; got != v.ID {
		t.Errorf("booked, it goes with %q, want %q", got, v.ID)
	}
	if got := visit(t, p, v.ID); got.Day != d("2027-01-13") {
		t.Errorf("booked for January 13, planned for %s", got.Day)
	}
}
