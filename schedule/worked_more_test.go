package schedule_test

import (
	"strings"
	"testing"

	"bellbuoy/schedule"
)

// TestWorkedMeters are engines whose hours are read well, badly or never.
func TestWorkedMeters(t *testing.T) {
	oil := func(f *schedule.Facts) {
		inWater(f)
		f.Records = append(f.Records, did("2026-05-02", "engine-oil", "E1", "200"), did("2026-05-02", "impeller", "E1", "200"))
	}
	runWorked(t, []worked{
		{"never read", "40 h a season for its kind: 100 h are years off, so the date wins", "2026-06-01",
			func(f *schedule.Facts) {
				inWater(f)
				f.Records = append(f.Records, did("2026-05-02", "engine-oil", "E1", ""))
			},
			"E1", "engine-oil", "2027-05-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"read once", "one reading is no rate: the kind's rate still, and the date wins", "2026-06-01",
			oil, "E1", "engine-oil", "2027-05-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"a slip of the pen", "4,000 h in a day cannot be: left out, so nothing changes", "2026-06-01",
			func(f *schedule.Facts) {
				oil(f)
				f.Readings = append(f.Readings, read("E1", "2026-05-03", "4200"))
			}, "E1", "engine-oil", "2027-05-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"a reading from tomorrow", "what is dated to come is not known yet", "2026-06-01",
			func(f *schedule.Facts) {
				oil(f)
				f.Readings = append(f.Readings, read("E1", "2026-06-02", "298"))
			}, "E1", "engine-oil", "2027-05-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"the limit is passed already", "from 200 h on May 2 to 310 h on July 20 the running reached 300 h by July 16, and July waits for no lay-up", "2026-07-21",
			func(f *schedule.Facts) {
				oil(f)
				f.Readings = append(f.Readings, read("E1", "2026-07-20", "310"))
			}, "E1", "engine-oil", "2026-07-16", schedule.BasisHours, schedule.Extra},
		{"severe duty halves both", "50 h are a summer of its kind: one boat in four has run them by September 24, before the 6 months are up", "2026-06-01",
			func(f *schedule.Facts) { oil(f); f.Components[0].Duty = 50 },
			"E1", "engine-oil", "2026-09-24", schedule.BasisHours, "B1.lay-up.2026"},
		{"light duty doubles both", "24 months from May 2, 2026", "2026-06-01",
			func(f *schedule.Facts) { oil(f); f.Components[0].Duty = 200 },
			"E1", "engine-oil", "2028-05-02", schedule.BasisDate, ""},
	})
}

// TestWorkedOwners are sales, trades and boats that have left.
func TestWorkedOwners(t *testing.T) {
	runWorked(t, []worked{
		{"traded in and sold again", "the hull's history is the hull's: the impeller of 2024 counts for the new owner", "2026-11-25",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Boat.SoldOn = d("2026-06-15")
				f.Records = append(f.Records, did("2024-04-12", "impeller", "E1", "188"))
			}, "E1", "impeller", "2027-04-12", schedule.BasisDate, "B1.fit-out.2027"},
		{"the owner before ran it hard", "150 h a season were his; the new owner's first readings say 20", "2026-10-05",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Boat.SoldOn = d("2026-05-20")
				f.Readings = []schedule.Reading{read("E1", "2024-10-01", "300"), read("E1", "2025-10-01", "450"), read("E1", "2026-05-18", "450"), read("E1", "2026-10-02", "470")}
				f.Records = append(f.Records, did("2026-05-18", "engine-oil", "E1", "450"))
			}, "E1", "engine-oil", "2027-05-18", schedule.BasisDate, "B1.fit-out.2027"},
		{"out of our care", "scrapped yesterday: nothing is due", "2026-11-25",
			func(f *schedule.Facts) { laidUp(f); f.Boat.Gone = d("2026-11-24") }, "E1", "lay-up", "", "", ""},
		{"leaves our care tomorrow", "until then its plan stands", "2026-11-25",
			func(f *schedule.Facts) { laidUp(f); f.Boat.Gone = d("2026-11-26") },
			"E1", "lay-up", "2027-10-10", schedule.BasisSeason, "B1.lay-up.2027"},
		{"a new engine of a family", "its manual asks for the first oil after one month or 10 h; one boat in four has run 10 h by June 24", "2026-06-05",
			func(f *schedule.Facts) {
				inWater(f)
				f.Components[0].InService, f.Components[0].Attr.Family = d("2026-06-01"), "kestrel"
			}, "E1", "engine-oil", "2026-06-24", schedule.BasisHours, schedule.Extra},
		{"the family's own interval", "24 months where the catalogue says 36", "2026-06-05",
			func(f *schedule.Facts) {
				inWater(f)
				f.Components[0].Attr.Family = "kestrel"
				f.Records = append(f.Records, did("2025-05-02", "impeller", "E1", ""))
			}, "E1", "impeller", "2027-05-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"this boat's word goes before the family's", "30 months by the boat's override", "2026-06-05",
			func(f *schedule.Facts) {
				inWater(f)
				f.Components[0].Attr.Family = "kestrel"
				f.Overrides = []schedule.Override{{BoatID: "B1", Rule: "impeller", Months: 30, Source: "x"}}
				f.Records = append(f.Records, did("2024-11-02", "impeller", "E1", ""))
			}, "E1", "impeller", "2027-05-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"this engine's word goes before the boat's", "18 months by the engine's override", "2026-06-05",
			func(f *schedule.Facts) {
				inWater(f)
				f.Overrides = []schedule.Override{{BoatID: "B1", Rule: "impeller", Months: 30, Source: "x"}, {BoatID: "B1", ComponentID: "E1", Rule: "impeller", Months: 18, Source: "y"}}
				f.Records = append(f.Records, did("2025-11-02", "impeller", "E1", ""))
			}, "E1", "impeller", "2027-05-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"not on this engine, though on the other", "skipped for E1 alone", "2026-11-25",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Components = append(f.Components, engine("E2"))
				f.Overrides = []schedule.Override{{BoatID: "B1", ComponentID: "E1", Rule: "impeller", Skip: true}}
			}, "E2", "impeller", "2027-05-15", schedule.BasisUnknown, "B1.fit-out.2027"},
		{"the owner does it", "planned and shown, in no visit", "2026-11-25",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Overrides = []schedule.Override{{BoatID: "B1", Rule: "engine-oil", ByCustomer: true}}
				f.Records = append(f.Records, did("2026-05-02", "engine-oil", "E1", ""))
			}, "E1", "engine-oil", "2027-05-02", schedule.BasisDate, ""},
		{"cover upon cover", "the big service includes the oil, and the oil the look at its level", "2026-11-25",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Components[0].Attr.Stroke = "two"
				f.Records = append(f.Records, did("2026-10-02", "big-service", "E1", ""))
			}, "E1", "oil-check", "2027-04-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"broken in already", "its oil was changed since the first day: the break-in is past", "2026-07-10",
			func(f *schedule.Facts) {
				f.Components[0].Attr.Stroke, f.Components[0].InService = "two", d("2026-05-20")
				f.Records = append(f.Records, did("2026-07-01", "engine-oil", "E1", "18"))
			}, "E1", "break-in", "", "", ""},
		{"a finding is not closed by the visit that found it", "recorded on the day it was raised: the second look is still to come", "2026-07-03",
			func(f *schedule.Facts) {
				inWater(f)
				f.FollowUps = []schedule.FollowUp{{ID: "1", BoatID: "B1", ComponentID: "E1", Service: "oil-check", Title: "Again", Due: d("2026-08-01"), Raised: d("2026-07-02"), Finding: "milky"}}
				f.Records = append(f.Records, did("2026-07-02", "oil-check", "E1", ""))
			}, "E1", "follow-up:1", "2026-08-01", schedule.BasisOnce, schedule.Extra},
	})
}

// TestWorkedLateness: an ordinary job that is late waits for a season visit at
// hand, and asks for a visit of its own when none is.
func TestWorkedLateness(t *testing.T) {
	late := func(f *schedule.Facts) {
		inWater(f)
		f.Records = append(f.Records, did("2025-03-01", "engine-oil", "E1", ""), did("2026-05-02", "oil-check", "E1", ""), did("2026-05-02", "impeller", "E1", ""))
	}
	runWorked(t, []worked{
		{"in June", "three months to the lay-up are too long", "2026-06-15", late, "E1", "engine-oil", "2026-03-01", schedule.BasisDate, schedule.Extra},
		{"in August", "the lay-up's weeks are near", "2026-08-10", late, "E1", "engine-oil", "2026-03-01", schedule.BasisDate, "B1.lay-up.2026"},
		{"beyond the horizon", "due in 2029: in no visit yet", "2026-08-10", late, "E1", "impeller", "2029-05-02", schedule.BasisDate, ""},
	})
}

// extras counts a plan's visits between the seasons.
func extras(p *schedule.BoatPlan) int {
	n := 0
	for _, v := range p.Visits {
		if v.Kind == schedule.Extra {
			n++
		}
	}
	return n
}

// TestOneExtraVisitWhereOneWillDo: oil from 26 April to 24 August and a look at
// its level from 21 May to 20 July have days in common.
func TestOneExtraVisitWhereOneWillDo(t *testing.T) {
	pl := planner(t, wide)
	f := facts(engine("E1"))
	inWater(f)
	f.Records = append(f.Records, did("2025-07-10", "engine-oil", "E1", ""), did("2025-12-20", "oil-check", "E1", ""), did("2026-05-02", "impeller", "E1", ""))
	p := pl.Plan(f, d("2026-05-20"))
	if a, b := find(t, p, "E1", "engine-oil").VisitID, find(t, p, "E1", "oil-check").VisitID; a != b || extras(&p) != 1 {
		t.Errorf("oil with %q, its level with %q, %d extra visits; want one for both", a, b, extras(&p))
	}
	f.FollowUps = []schedule.FollowUp{{ID: "1", BoatID: "B1", Service: "recheck", Title: "Recheck", Due: d("2026-06-10"), Raised: d("2026-05-19"), Finding: "weep"}}
	if p = pl.Plan(f, d("2026-05-20")); extras(&p) != 1 {
		t.Errorf("%d extra visits: a recheck until June 24 shares June with both", extras(&p))
	}
	// Last done in September, the oil's time reaches into the lay-up's.
	f.Records = append(f.Records, did("2025-09-10", "engine-oil", "E1", ""))
	p = pl.Plan(f, d("2026-05-20"))
	if it := find(t, p, "E1", "engine-oil"); it.VisitID != "B1.lay-up.2026" || extras(&p) != 1 {
		t.Errorf("oil due %s goes with %q, %d extra visits; want the lay-up, and one for the rest", it.Due, it.VisitID, extras(&p))
	}
}

// TestBookedAndNotRecorded: the booked day is past and nothing is written down;
// the visit stays where it was as long as the booking is there.
func TestBookedAndNotRecorded(t *testing.T) {
	pl := planner(t, wide)
	f := facts(engine("E1"))
	inWater(f)
	f.Records = append(f.Records, did("2025-10-02", "engine-oil", "E1", ""))
	f.Bookings = []schedule.Booking{{VisitID: "B1.lay-up.2026", BoatID: "B1", Kind: schedule.LayUp, Day: d("2026-09-22"), Minute: -1}}
	f.Prior = pl.Plan(f, d("2026-09-01")).Visits
	p := pl.Plan(f, d("2026-09-30"))
	v := visit(t, p, "B1.lay-up.2026")
	if !v.Booked() || v.Day != d("2026-09-22") {
		t.Errorf("booked for September 22, planned for %s", v.Day)
	}
	if it := find(t, p, "E1", "engine-oil"); it.VisitID != v.ID {
		t.Errorf("the oil that was promised with it goes with %q", it.VisitID)
	}
}

// TestBookedExtraTakesCompany: somebody comes in July anyway, so what falls due
// then joins instead of asking for a second visit.
func TestBookedExtraTakesCompany(t *testing.T) {
	f := facts(engine("E1"))
	inWater(f)
	f.Records = append(f.Records, did("2025-11-02", "engine-oil", "E1", ""), did("2026-01-10", "oil-check", "E1", ""), did("2026-05-02", "impeller", "E1", ""))
	f.Bookings = []schedule.Booking{{VisitID: "B1.extra.1", BoatID: "B1", Kind: schedule.Extra, Day: d("2026-07-01"), Minute: -1}}
	p := planner(t, wide).Plan(f, d("2026-06-15"))
	if it := find(t, p, "E1", "oil-check"); it.VisitID != "B1.extra.1" || extras(&p) != 1 {
		t.Errorf("the look at the oil goes with %q, %d extra visits", it.VisitID, extras(&p))
	}
}

// TestNobodyJoinsAPassedDay: the work of Monday 29 June is recorded, with a
// finding to be looked at again by 10 July; it is not put on that Monday, though
// its window holds it.
func TestNobodyJoinsAPassedDay(t *testing.T) {
	f := facts(engine("E1"))
	inWater(f)
	f.Records = append(f.Records, did("2025-11-02", "engine-oil", "E1", ""), did("2026-06-29", "oil-check", "E1", ""), did("2026-05-02", "impeller", "E1", ""))
	f.Bookings = []schedule.Booking{{VisitID: "B1.extra.1", BoatID: "B1", Kind: schedule.Extra, Day: d("2026-06-29"), Minute: -1}}
	f.FollowUps = []schedule.FollowUp{{BoatID: "B1", ID: "F1", ComponentID: "E1", Service: "hose-check", Title: "Look at the hose again", Due: d("2026-07-10"), Raised: d("2026-06-29")}}
	p := planner(t, wide).Plan(f, d("2026-06-30"))
	if it := find(t, p, "E1", "follow-up:F1"); it.VisitID == "" || it.VisitID == "B1.extra.1" {
		t.Errorf("the hose goes with %q", it.VisitID)
	}
}

// TestMeterReplaced: 12 h were run since the impeller of 188 h when the meter
// was replaced, so its 300 h end at 288 h of the new one.
func TestMeterReplaced(t *testing.T) {
	pl := planner(t, wide)
	f := facts(engine("E1"))
	laidUp(f)
	f.Records = append(f.Records, did("2026-05-02", "impeller", "E1", "188"))
	f.Readings = []schedule.Reading{read("E1", "2026-06-20", "200"), {ComponentID: "E1", Day: d("2026-06-20"), Hours: 0, NewMeter: true}, read("E1", "2026-10-02", "21")}
	p := pl.Plan(f, d("2026-11-25"))
	if it := find(t, p, "E1", "impeller"); it.HoursAt != h("288") || it.Due != d("2029-05-02") {
		t.Errorf("limit at %s h, due %s; want 288 h and 2029-05-02", it.HoursAt, it.Due)
	}
	if text := why(t, pl, f, p, "impeller"); !strings.Contains(text, "288 h on the present meter") {
		t.Errorf("reason %q does not say which meter", text)
	}
}

// TestTwinBorrowsTheRate: only the port meter was ever read, at 140 h a season;
// the starboard engine makes the same trips, so its oil goes by hours too.
func TestTwinBorrowsTheRate(t *testing.T) {
	f := facts(engine("E1"), engine("E2"))
	inWater(f)
	for i, year := range []string{"2021", "2022", "2023", "2024", "2025"} {
		f.Readings = append(f.Readings, read("E1", year+"-10-02", schedule.Hours(1400*(i+1)).String()))
	}
	f.Records = append(f.Records, did("2026-05-02", "engine-oil", "E1", "700"), did("2026-05-02", "engine-oil", "E2", ""))
	p := planner(t, wide).Plan(f, d("2026-05-20"))
	a, b := find(t, p, "E1", "engine-oil"), find(t, p, "E2", "engine-oil")
	if a.Basis != schedule.BasisHours || b.Basis != schedule.BasisHours || a.VisitID != b.VisitID {
		t.Errorf("port by %s with %q, starboard by %s with %q; want both by hours in one visit", a.Basis, a.VisitID, b.Basis, b.VisitID)
	}
}
