package schedule_test

import (
	"strings"
	"testing"

	"bellbuoy/schedule"
)

// wide is the small catalogue with the rarer kinds of rule.
const wide = small + `
[[rule]]
code = "grease"
title = "Grease"
component = "engine"
where = { water = "salt" }
every = { months = 6 }
early_days = 45
grace_days = 30
labor = 15
price = 20.00

[[rule]]
code = "wrap"
title = "Cover frame"
component = "hull"
every = { months = 12 }
ride_along = ["lay-up"]
early_days = 75
grace_days = 45
labor = 20
price = 30.00

[[rule]]
code = "big-service"
title = "Big service"
component = "engine"
where = { stroke = "two" }
every = { months = 24 }
covers = ["engine-oil"]
early_days = 75
grace_days = 45
labor = 120
price = 300.00

[[rule]]
code = "break-in"
title = "Break-in service"
component = "engine"
where = { stroke = "two" }
once = true
first = { months = 3, hours = 20 }
covers = ["engine-oil"]
early_days = 30
grace_days = 30
labor = 60
price = 100.00

[[family]]
name = "kestrel"
title = "Kestrel engines"
[[family.rule]]
code = "impeller"
every = { months = 24 }
source = { kind = "published", text = "the Kestrel manual, p. 9" }
[[family.rule]]
code = "engine-oil"
first = { months = 1, hours = 10 }
source = { kind = "published", text = "the Kestrel manual, p. 7" }
`

// worked is a case that was worked out by hand; because says how.
type worked struct {
	name, because string
	today         string
	change        func(f *schedule.Facts)
	comp, rule    string
	due           string // "" for no such item
	basis         schedule.Basis
	visit         string // its id, or the kind of an extra one; "" for none
}

// laidUp is the ordinary boat of these cases: one engine, laid up on 2 October
// 2026 and in the water since 2 May of that year.
func laidUp(f *schedule.Facts) {
	f.Records = append(f.Records, did("2026-05-02", "fit-out", "", ""), did("2026-10-02", "lay-up", "", ""))
}

func inWater(f *schedule.Facts) {
	f.Records = append(f.Records, did("2025-10-02", "lay-up", "", ""), did("2026-05-02", "fit-out", "", ""))
}

func (c *worked) check(t *testing.T, pl *schedule.Planner) {
	f := facts(engine("E1"))
	c.change(f)
	p := pl.Plan(f, d(c.today))
	var it *schedule.DueItem
	for i := range p.Items {
		if x := &p.Items[i]; x.ComponentID == c.comp && x.Rule == c.rule && it == nil {
			it = x
		}
	}
	switch {
	case c.due == "" && it == nil:
		return
	case c.due == "":
		t.Fatalf("due %s, want none: %s", it.Due, c.because)
	case it == nil:
		t.Fatalf("not due at all, want %s: %s", c.due, c.because)
	}
	if it.Due != d(c.due) || it.Basis != c.basis {
		t.Errorf("due %s by %s, want %s by %s: %s", it.Due, it.Basis, c.due, c.basis, c.because)
	}
	if it.VisitID != c.visit && (c.visit != schedule.Extra || !strings.HasPrefix(it.VisitID, "B1.extra.")) {
		t.Errorf("planned with %q, want %q: %s", it.VisitID, c.visit, c.because)
	}
	if it.VisitID != "" {
		if v := visit(t, p, it.VisitID); v.Day < d(c.today) && !v.Booked() {
			t.Errorf("planned for %s, which is past", v.Day)
		}
	}
}

func runWorked(t *testing.T, cases []worked) {
	pl := planner(t, wide)
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { c.check(t, pl) })
	}
}

// bat is a battery; its rule is 12 months, 75 days early, 45 days of grace.
var bat = schedule.Component{ID: "BAT", BoatID: "B1", Kind: "battery"}

// TestWorkedEdges are days on which one day more or less decides.
func TestWorkedEdges(t *testing.T) {
	runWorked(t, []worked{
		{"fit-out on the launch day itself", "done on the last good day is in time, so the next is a year on", "2026-05-16",
			func(f *schedule.Facts) {
				f.Records = append(f.Records, did("2025-10-02", "lay-up", "E1", ""), did("2026-05-15", "fit-out", "E1", ""))
			}, "E1", "fit-out", "2027-05-15", schedule.BasisSeason, "B1.fit-out.2027"},
		{"lay-up on midsummer day", "June 24 is the first day that counts for the coming autumn", "2026-08-01",
			func(f *schedule.Facts) { f.Records = append(f.Records, did("2026-06-24", "lay-up", "E1", "")) },
			"E1", "lay-up", "2027-10-10", schedule.BasisSeason, "B1.lay-up.2027"},
		{"lay-up the day before midsummer", "June 23 still belongs to last winter, so this autumn's is open", "2026-08-01",
			func(f *schedule.Facts) { f.Records = append(f.Records, did("2026-06-23", "lay-up", "E1", "")) },
			"E1", "lay-up", "2026-10-10", schedule.BasisSeason, "B1.lay-up.2026"},
		{"sold on the lay-up day", "the deadline is that day and not before the sale", "2026-10-10",
			func(f *schedule.Facts) { f.Boat.SoldOn = d("2026-10-10") },
			"E1", "lay-up", "2026-10-10", schedule.BasisSeason, "B1.lay-up.2026"},
		{"sold the day after it", "nothing is on record since midsummer, so it is laid up at once, whoever was to do it before the sale", "2026-10-11",
			func(f *schedule.Facts) { f.Boat.SoldOn = d("2026-10-11") },
			"E1", "lay-up", "2026-10-11", schedule.BasisSeason, "B1.lay-up.2026"},
		{"sold two weeks before the launch", "made ready for its buyer, it needs no fit-out that spring", "2026-05-02",
			func(f *schedule.Facts) { f.Boat.SoldOn = d("2026-05-01") },
			"E1", "fit-out", "2027-05-15", schedule.BasisSeason, "B1.fit-out.2027"},
		{"not laid up, and the fit-out is near", "in April what the frost did is done: the fit-out finds it", "2027-04-05",
			func(f *schedule.Facts) { f.Records = append(f.Records, did("2026-05-02", "fit-out", "E1", "")) },
			"E1", "lay-up", "2027-10-10", schedule.BasisSeason, "B1.lay-up.2027"},
		{"due on the launch day", "a winter ends with the launch day, so this is the first day of summer", "2026-11-25",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Records = append(f.Records, did("2026-05-15", "engine-oil", "E1", ""))
			},
			"E1", "engine-oil", "2027-05-15", schedule.BasisDate, "B1.fit-out.2027"},
		{"due the day after the lay-up day", "in winter by one day: done with the lay-up before", "2027-08-01",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Records = append(f.Records, did("2027-05-02", "fit-out", "E1", ""), did("2026-10-11", "engine-oil", "E1", ""))
			}, "E1", "engine-oil", "2027-10-11", schedule.BasisDate, "B1.lay-up.2027"},
		{"extinguisher with a printed day and a stamp", "the printed day is the nearer witness", "2026-09-01",
			func(f *schedule.Facts) {
				f.Components = append(f.Components, schedule.Component{ID: "X", Kind: "extinguisher", Made: d("2020-01-01"), Expires: d("2027-06-30")})
			}, "X", "extinguisher", "2027-06-30", schedule.BasisExpiry, "B1.fit-out.2027"},
		{"extinguisher stamped on the last day of 2015", "the stamp is a year: out on December 31 of the twelfth; ashore then, so replaced before the launch after it", "2027-09-01",
			func(f *schedule.Facts) {
				inWater(f)
				f.Components = append(f.Components, schedule.Component{ID: "X", Kind: "extinguisher", Made: d("2015-12-31")})
			}, "X", "extinguisher", "2027-12-31", schedule.BasisExpiry, "B1.fit-out.2028"},
		{"extinguisher replaced, new stamp not written down", "taken to be a year old on May 2, 2026: made 2025, out at the end of 2037", "2026-09-01",
			func(f *schedule.Facts) {
				f.Components = append(f.Components, schedule.Component{ID: "X", Kind: "extinguisher", Made: d("2014-01-01")})
				f.Records = append(f.Records, did("2026-05-02", "extinguisher", "X", ""))
			}, "X", "extinguisher", "2037-12-31", schedule.BasisExpiry, ""},
		{"warranty shorter than its early window", "15 days of warranty and 45 of window: due the day before it ends, at once", "2026-07-20",
			func(f *schedule.Facts) { f.Boat.SoldOn, f.Boat.WarrantyUntil = d("2026-07-10"), d("2026-07-25") },
			"B1", "warranty-check", "2026-07-24", schedule.BasisExpiry, schedule.Extra},
		{"warranty ends today", "late by a day and still worth the call", "2026-07-25",
			func(f *schedule.Facts) { f.Boat.SoldOn, f.Boat.WarrantyUntil = d("2026-05-10"), d("2026-07-25") },
			"B1", "warranty-check", "2026-07-24", schedule.BasisExpiry, schedule.Extra},
		{"warranty ended yesterday", "nothing can be claimed any more", "2026-07-26",
			func(f *schedule.Facts) { f.Boat.SoldOn, f.Boat.WarrantyUntil = d("2026-05-10"), d("2026-07-25") },
			"B1", "warranty-check", "", "", ""},
		{"warranty ends in winter", "after the lay-up nobody runs the engine: the lay-up is the last time before", "2026-09-01",
			func(f *schedule.Facts) {
				inWater(f)
				f.Boat.SoldOn, f.Boat.WarrantyUntil = d("2026-05-20"), d("2027-01-31")
			},
			"B1", "warranty-check", "2027-01-30", schedule.BasisExpiry, "B1.lay-up.2026"},
		{"warranty check done", "it was looked at since the sale", "2026-07-20",
			func(f *schedule.Facts) {
				f.Boat.SoldOn, f.Boat.WarrantyUntil = d("2026-05-10"), d("2026-08-25")
				f.Records = append(f.Records, did("2026-07-01", "warranty-check", "", ""))
			}, "B1", "warranty-check", "", "", ""},
	})
}

// TestWorkedWinters choose between the lay-up before and the fit-out after.
func TestWorkedWinters(t *testing.T) {
	battery := func(last string, season func(*schedule.Facts)) func(*schedule.Facts) {
		return func(f *schedule.Facts) {
			f.Components = append(f.Components, bat)
			f.Records = append(f.Records, did(last, "battery", "BAT", ""))
			season(f)
		}
	}
	runWorked(t, []worked{
		{"window within the winter, lay-up to come", "October 27 to February 24: with the lay-up before, as after would be 80 days late", "2026-09-01",
			battery("2026-01-10", inWater), "BAT", "battery", "2027-01-10", schedule.BasisDate, "B1.lay-up.2026"},
		{"the same, and the lay-up is past", "nothing wears while the boat stands: with the fit-out after", "2026-11-25",
			func(f *schedule.Facts) {
				f.Components = append(f.Components, bat)
				laidUp(f)
				f.Records = append(f.Records, did("2026-01-10", "oil-check", "E1", ""), did("2026-02-10", "engine-oil", "E1", ""))
			}, "E1", "engine-oil", "2027-02-10", schedule.BasisDate, "B1.fit-out.2027"},
		{"grace reaches past the fit-out", "closes June 18: waiting for May 15 wastes nothing", "2026-09-01",
			func(f *schedule.Facts) {
				inWater(f)
				f.Records = append(f.Records, did("2024-03-20", "impeller", "E1", ""))
			},
			"E1", "impeller", "2027-03-20", schedule.BasisDate, "B1.fit-out.2027"},
		{"grace reaches into the fit-out's window", "closes May 4, and the fit-out may come from March 31 on: five weeks to level in", "2026-11-25",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Records = append(f.Records, did("2026-03-20", "engine-oil", "E1", ""))
			}, "E1", "engine-oil", "2027-03-20", schedule.BasisDate, "B1.fit-out.2027"},
		{"grace ends a week into the fit-out's window", "March 31 to April 6 is no room to level in: with the lay-up before", "2026-09-01",
			func(f *schedule.Facts) {
				inWater(f)
				f.Records = append(f.Records, did("2026-02-20", "engine-oil", "E1", ""))
			}, "E1", "engine-oil", "2027-02-20", schedule.BasisDate, "B1.lay-up.2026"},
		{"opens ten days before the lay-up day", "those ten days are no room: it rides with the lay-up whenever that is", "2026-09-01",
			func(f *schedule.Facts) {
				inWater(f)
				f.Records = append(f.Records, did("2025-12-14", "engine-oil", "E1", ""))
			}, "E1", "engine-oil", "2026-12-14", schedule.BasisDate, "B1.lay-up.2026"},
		{"follow-up in the winter", "to be looked at at Christmas, on a boat that is laid up: the fit-out is the next chance", "2026-11-25",
			func(f *schedule.Facts) {
				laidUp(f)
				f.FollowUps = []schedule.FollowUp{{ID: "1", BoatID: "B1", ComponentID: "E1", Service: "recheck", Title: "Recheck", Due: d("2026-12-20"), Raised: d("2026-11-20"), Finding: "weep"}}
			}, "E1", "follow-up:1", "2026-12-20", schedule.BasisOnce, "B1.fit-out.2027"},
		{"grease in salt water on a lake that freezes", "six months from the lay-up lie in winter and end near the fit-out", "2026-11-25",
			func(f *schedule.Facts) {
				f.Boat.Water = "salt"
				laidUp(f)
				f.Records = append(f.Records, did("2026-10-02", "grease", "E1", ""))
			}, "E1", "grease", "2027-04-02", schedule.BasisDate, "B1.fit-out.2027"},
		{"grease in salt water where it is warm", "no winter to wait for: six months on, by itself", "2026-11-25",
			func(f *schedule.Facts) {
				f.Boat.Water, f.Place = "salt", schedule.Place{Name: "Palm Basin"}
				f.Records = append(f.Records, did("2026-10-02", "grease", "E1", ""), did("2026-10-02", "engine-oil", "E1", ""), did("2026-10-02", "impeller", "E1", ""))
			}, "E1", "grease", "2027-04-02", schedule.BasisDate, schedule.Extra},
		{"only with the lay-up", "it may not ride with the fit-out, and October is its time", "2026-11-25",
			func(f *schedule.Facts) {
				laidUp(f)
				f.Records = append(f.Records, did("2026-10-02", "wrap", "", ""))
			}, "B1", "wrap", "2027-10-02", schedule.BasisDate, "B1.lay-up.2027"},
		{"boat moved to a warm place", "its lay-ups end with the move; what is late is done there", "2026-11-25",
			func(f *schedule.Facts) {
				inWater(f)
				f.Place, f.Boat.Place = schedule.Place{Name: "Palm Basin"}, "Palm Basin"
			}, "E1", "lay-up", "", "", ""},
	})
}
