package schedule_test

import (
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/measure"
	"bellbuoy/schedule/rules"
)

// small is a catalogue cut down to what the worked cases need, so that they
// stay true when the built-in figures change.
const small = `
[running]
months = [0, 0, 0, 1, 2, 4, 5, 5, 2, 1, 0, 0]
source = { kind = "common-practice", text = "common practice, no source" }

[[usage]]
boat_kind = "runabout"
mean_hours = 40
weight = 0.25
outing_hours = 2.5
source = { kind = "common-practice", text = "common practice, no source" }

[[rule]]
code = "engine-oil"
title = "Engine oil"
component = "engine"
every = { months = 12, hours = 100 }
first = { months = 3, hours = 20 }
early_days = 75
grace_days = 45
labor = 45
price = 120.00
covers = ["oil-check"]

[[rule]]
code = "oil-check"
title = "Oil level check"
component = "engine"
every = { months = 6 }
early_days = 30
grace_days = 30
labor = 10
price = 10.00

[[rule]]
code = "impeller"
title = "Water pump impeller"
component = "engine"
every = { months = 36, hours = 300 }
early_days = 120
grace_days = 90
labor = 60
price = 180.00

[[rule]]
code = "lay-up"
title = "Winterization"
component = "engine"
season = "lay-up"
early_days = 45
grace_days = 0
labor = 90
price = 290.00
covers = ["battery"]

[[rule]]
code = "fit-out"
title = "Spring commissioning"
component = "engine"
season = "fit-out"
early_days = 45
grace_days = 0
labor = 75
price = 240.00

[[rule]]
code = "battery"
title = "Battery"
component = "battery"
every = { months = 12 }
early_days = 75
grace_days = 45
labor = 15
price = 20.00

[[rule]]
code = "extinguisher"
title = "Fire extinguisher"
component = "extinguisher"
expiry = { from = "component", years_after_made = 12, end_of_year = true }
early_days = 365
grace_days = 0
labor = 10
price = 40.00
legal = true

[[rule]]
code = "warranty-check"
title = "Warranty check"
component = "hull"
expiry = { from = "warranty" }
early_days = 45
grace_days = 0
labor = 60
price = 0.00
`

func planner(t testing.TB, text string) *schedule.Planner {
	t.Helper()
	// Sources and consequences are the catalogue's business, tested there.
	lines := strings.ReplaceAll(text, "\nearly_days", "\nconsequence = \"it fails\"\nearly_days")
	lines = strings.ReplaceAll(lines, "\nearly_days", "\nsources = [{ kind = \"common-practice\", text = \"common practice, no source\" }]\nearly_days")
	cat, err := rules.Parse("small.toml", []byte(lines))
	if err != nil {
		t.Fatal(err)
	}
	return schedule.NewPlanner(cat, schedule.DefaultSettings())
}

func d(s string) civil.Day {
	v, err := civil.Parse(s)
	if err != nil {
		panic(err)
	}
	return v
}

func h(s string) schedule.Hours {
	v, err := measure.ParseHours(s)
	if err != nil {
		panic(err)
	}
	return v
}

func cove() schedule.Place {
	return schedule.Place{Name: "Alder Cove", Launch: civil.MonthDay{Month: 5, Day: 15}, LayUp: civil.MonthDay{Month: 10, Day: 10}}
}

func engine(id string) schedule.Component {
	return schedule.Component{ID: id, BoatID: "B1", Kind: "engine", Label: id,
		Attr: schedule.Attr{Propulsion: "outboard", Stroke: "four", Fuel: "gasoline", Cooling: "raw-water"}}
}

func facts(comps ...schedule.Component) *schedule.Facts {
	return &schedule.Facts{
		Boat:  schedule.Boat{ID: "B1", Name: "Heron", Kind: "runabout", Water: "fresh", Place: "Alder Cove", Berth: "own-dock", SoldOn: d("2022-04-20")},
		Place: cove(), Components: comps,
	}
}

func did(day, service, comp, hours string) schedule.Record {
	r := schedule.Record{ID: day + service + comp, BoatID: "B1", ComponentID: comp, Day: d(day), Service: service, By: schedule.ByShop}
	if hours != "" {
		r.Hours, r.HasHours = h(hours), true
	}
	return r
}

func read(comp, day, hours string) schedule.Reading {
	return schedule.Reading{ComponentID: comp, Day: d(day), Hours: h(hours), ReadBy: "desk"}
}

func find(t testing.TB, p schedule.BoatPlan, comp, rule string) schedule.DueItem {
	t.Helper()
	for _, it := range p.Items {
		if it.ComponentID == comp && it.Rule == rule {
			return it
		}
	}
	t.Fatalf("no item %s on %s in %+v", rule, comp, p.Items)
	return schedule.DueItem{}
}

func visit(t testing.TB, p schedule.BoatPlan, id string) schedule.Visit {
	t.Helper()
	for _, v := range p.Visits {
		if v.ID == id {
			return v
		}
	}
	t.Fatalf("no visit %q in %+v", id, p.Visits)
	return schedule.Visit{}
}

func why(t testing.TB, pl *schedule.Planner, f *schedule.Facts, p schedule.BoatPlan, rule string) string {
	t.Helper()
	v := pl.View(f, &p)
	for _, vv := range v.Visits {
		for _, l := range vv.Lines {
			if l.Item.Rule == rule {
				return l.Why
			}
		}
	}
	for _, l := range v.Loose {
		if l.Item.Rule == rule {
			return l.Why
		}
	}
	t.Fatalf("no line for %s", rule)
	return ""
}

// TestImpellerWaitsForTheFitOut is the hand-worked case: replaced 12 April 2024
// at 188 h; 236 h on 4 October 2025 and 281 h on 3 October 2026 are about 46 h
// a season, so 488 h is four seasons off and the calendar wins: 12 April 2027.
// The boat is laid up then (10 October to 15 May), so it waits 33 days for the
// fit-out, within its 90 days of grace, where the lay-up of October 2026 would
// waste half a year of it.
func TestImpellerWaitsForTheFitOut(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.Records = []schedule.Record{
		did("2024-04-12", "impeller", "E1", "188"),
		did("2024-10-04", "lay-up", "E1", ""), did("2025-05-02", "fit-out", "E1", ""),
		did("2025-10-04", "lay-up", "E1", "236"), did("2026-05-02", "fit-out", "E1", ""),
	}
	f.Readings = []schedule.Reading{read("E1", "2026-10-03", "281")}
	for _, today := range []string{"2026-10-05", "2026-11-25", "2027-03-01"} {
		p := pl.Plan(f, d(today))
		it := find(t, p, "E1", "impeller")
		if it.Due != d("2027-04-12") || it.Basis != schedule.BasisDate {
			t.Errorf("on %s: due %s by %s, want 2027-04-12 by date", today, it.Due, it.Basis)
		}
		if it.VisitID != "B1.fit-out.2027" {
			t.Errorf("on %s: planned with %q, want the fit-out of 2027", today, it.VisitID)
		}
		text := why(t, pl, f, p, "impeller")
		for _, want := range []string{"Last done April 12, 2024 at 188 h.", "Every 3 years or 300 h, whichever first: April 12, 2027, as the date comes before 488 h.", "The boat is winterized then, so it is planned with the spring commissioning"} {
			if !strings.Contains(text, want) {
				t.Errorf("on %s: reason %q lacks %q", today, text, want)
			}
		}
	}
}

// TestOilByHours: eight seasons of 140 h against 100 h / 12 months. The oil was
// changed with the fit-out on 2 May at 1120 h; 1220 h is reached in August.
func TestOilByHours(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.Components[0].InService = d("2018-05-10")
	for i, year := range []string{"2018", "2019", "2020", "2021", "2022", "2023", "2024", "2025"} {
		f.Records = append(f.Records, did(year+"-10-01", "lay-up", "E1", schedule.Hours(1400*(i+1)).String()))
	}
	f.Records = append(f.Records, did("2026-05-02", "fit-out", "E1", "1120"), did("2026-05-02", "engine-oil", "E1", "1120"), did("2026-05-02", "impeller", "E1", "1120"))
	p := pl.Plan(f, d("2026-05-20"))
	it := find(t, p, "E1", "engine-oil")
	if it.Basis != schedule.BasisHours || it.Due.Month() != 8 || it.Due.Year() != 2026 {
		t.Fatalf("due %s by %s, want August 2026 by hours", it.Due, it.Basis)
	}
	v := visit(t, p, it.VisitID)
	if v.Kind != schedule.Extra || v.Day.Month() != 8 {
		t.Errorf("planned with %s on %s, want an extra visit in August", v.ID, v.Day)
	}
	if text := why(t, pl, f, p, "engine-oil"); !strings.Contains(text, "an estimate") || !strings.Contains(text, "1220 h") {
		t.Errorf("reason %q does not name the estimate and the limit", text)
	}
}

// TestExtinguisher: stamped 2015, out of service after 31 December 2027
// (33 CFR 175 subpart E as read by the Coast Guard: 31 December of the twelfth
// year). The boat is ashore then, so it is replaced with the fit-out of 2028.
func TestExtinguisher(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"), schedule.Component{ID: "X1", BoatID: "B1", Kind: "extinguisher", Made: d("2015-01-01")})
	f.Records = []schedule.Record{did("2026-10-01", "lay-up", "E1", "")}
	p := pl.Plan(f, d("2026-11-25"))
	it := find(t, p, "X1", "extinguisher")
	if it.Due != d("2027-12-31") || it.Basis != schedule.BasisExpiry || it.VisitID != "B1.fit-out.2028" {
		t.Errorf("due %s by %s with %s, want 2027-12-31 by expiry with the fit-out of 2028", it.Due, it.Basis, it.VisitID)
	}
	if v := visit(t, p, it.VisitID); v.Deadline != d("2028-05-15") {
		t.Errorf("the fit-out's deadline moved to %s", v.Deadline)
	}
}

// TestWarrantyCheckIsBeforeTheLastDay: warranty until D means due before D.
func TestWarrantyCheckIsBeforeTheLastDay(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("E1"))
	f.Boat.SoldOn, f.Boat.WarrantyUntil = d("2027-06-01"), d("2027-08-30")
	p := pl.Plan(f, d("2027-06-10"))
	it := find(t, p, "B1", "warranty-check")
	if it.Due != d("2027-08-29") || it.Close > it.Due {
		t.Errorf("due %s, closes %s; want both on 2027-08-29", it.Due, it.Close)
	}
	if v := visit(t, p, it.VisitID); v.Close >= f.Boat.WarrantyUntil || v.Day >= f.Boat.WarrantyUntil {
		t.Errorf("the visit may fall on %s..%s, the warranty ends %s", v.Open, v.Close, f.Boat.WarrantyUntil)
	}
	f.Records = []schedule.Record{did("2027-07-20", "warranty-check", "", "")}
	for _, it := range pl.Plan(f, d("2027-07-21")).Items {
		if it.Rule == "warranty-check" {
			t.Error("still due after it was done")
		}
	}
}

// TestTwinsShareTheVisit: twin engines at 310 h and 290 h are two components
// with items of their own and one visit.
func TestTwinsShareTheVisit(t *testing.T) {
	pl := planner(t, small)
	f := facts(engine("P"), engine("S"))
	f.Records = []schedule.Record{
		did("2026-05-04", "engine-oil", "P", "270"), did("2026-05-05", "engine-oil", "S", "252"),
		did("2025-10-04", "lay-up", "P", ""), did("2025-10-04", "lay-up", "S", ""),
		did("2026-05-04", "fit-out", "P", ""), did("2026-05-05", "fit-out", "S", ""),
		did("2026-05-04", "impeller", "P", "270"), did("2026-05-05", "impeller", "S", "252"),
	}
	f.Readings = []schedule.Reading{read("P", "2026-08-20", "310"), read("S", "2026-08-20", "290")}
	p := pl.Plan(f, d("2026-08-25"))
	for _, rule := range []string{"lay-up", "engine-oil", "impeller"} {
		a, b := find(t, p, "P", rule), find(t, p, "S", rule)
		if a.VisitID == "" && rule == "impeller" {
			continue // three years off, beyond the horizon
		}
		if a.VisitID == "" || a.VisitID != b.VisitID {
			t.Errorf("%s: port goes with %q, starboard with %q", rule, a.VisitID, b.VisitID)
		}
	}
}

func TestSeasons(t *testing.T) {
	pl := planner(t, small)
	for _, c := range []struct {
		name, today string
		records     []schedule.Record
		sold        string
		want        []string // "rule season due" of the season items, in order
		missed      bool     // the first one says that the last was missed
	}{
		{"a lay-up done in July counts for that autumn", "2026-08-01",
			[]schedule.Record{did("2026-07-05", "lay-up", "E1", "")}, "2022-04-20",
			[]string{"fit-out 2027 2027-05-15", "lay-up 2027 2027-10-10"}, false},
		{"one done before midsummer was last winter's, late", "2026-08-01",
			[]schedule.Record{did("2026-06-20", "lay-up", "E1", ""), did("2026-06-21", "fit-out", "E1", "")}, "2022-04-20",
			[]string{"lay-up 2026 2026-10-10", "fit-out 2027 2027-05-15", "lay-up 2027 2027-10-10"}, false},
		{"a lay-up missed last year is said, not owed", "2026-09-01",
			[]schedule.Record{did("2026-05-02", "fit-out", "E1", "")}, "2022-04-20",
			[]string{"lay-up 2026 2026-10-10", "fit-out 2027 2027-05-15", "lay-up 2027 2027-10-10"}, true},
		{"not laid up by the day: overdue for thirty days", "2026-11-09",
			[]schedule.Record{did("2026-05-02", "fit-out", "E1", "")}, "2022-04-20",
			[]string{"lay-up 2026 2026-10-10", "fit-out 2027 2027-05-15", "lay-up 2027 2027-10-10"}, true},
		{"not laid up for longer: a question, no visit", "2026-11-25",
			[]schedule.Record{did("2026-05-02", "fit-out", "E1", "")}, "2022-04-20",
			[]string{"fit-out 2027 2027-05-15", "lay-up 2027 2027-10-10"}, false},
		{"a record on the day of the deadline is in time", "2026-10-11",
			[]schedule.Record{did("2026-10-10", "lay-up", "E1", "")}, "2022-04-20",
			[]string{"fit-out 2027 2027-05-15", "lay-up 2027 2027-10-10"}, false},
		{"sold after the deadline: laid up at once", "2026-11-25",
			nil, "2026-11-20",
			[]string{"lay-up 2026 2026-11-20", "fit-out 2027 2027-05-15", "lay-up 2027 2027-10-10"}, false},
		{"a fit-out at Christmas is next summer's", "2027-01-05",
			[]schedule.Record{did("2026-10-01", "lay-up", "E1", ""), did("2026-12-27", "fit-out", "E1", "")}, "2022-04-20",
			[]string{"lay-up 2027 2027-10-10", "fit-out 2028 2028-05-15"}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := facts(engine("E1"))
			f.Boat.SoldOn, f.Records = d(c.sold), c.records
			p := pl.Plan(f, d(c.today))
			var got []string
			missed := false
			for _, it := range p.Items {
				if it.Basis == schedule.BasisSeason {
					if len(got) == 0 {
						missed = it.MissedLast
					}
					got = append(got, strings.TrimSpace(it.Rule+" "+strings.TrimPrefix(it.Key(), "E1/"+it.Rule+"@")+" "+it.Due.String()))
				}
			}
			// What lies beyond the want is the horizon's business.
			if len(got) < len(c.want) || strings.Join(got[:len(c.want)], ", ") != strings.Join(c.want, ", ") {
				t.Errorf("got %v, want %v", got, c.want)
			}
			if missed != c.missed {
				t.Errorf("missed = %v, want %v", missed, c.missed)
			}
		})
	}
}

func TestWarmPlaceHasNoSeasons(t *testing.T) {
	f := facts(engine("E1"))
	f.Place = schedule.Place{Name: "Palm Basin"}
	f.Records = []schedule.Record{did("2026-01-10", "engine-oil", "E1", "100")}
	p := planner(t, small).Plan(f, d("2026-11-25"))
	for _, it := range p.Items {
		if it.Basis == schedule.BasisSeason {
			t.Errorf("%s due %s at a place that does not freeze", it.Rule, it.Due)
		}
	}
	if it := find(t, p, "E1", "engine-oil"); it.VisitID == "" {
		t.Error("the oil is due in January and has no visit")
	}
}

func TestWhereTheCountStarts(t *testing.T) {
	for _, c := range []struct {
		name    string
		change  func(*schedule.Facts)
		rule    string
		due     string
		basis   schedule.Basis
		mention string
	}{
		{"in service: the first interval", func(f *schedule.Facts) {
			f.Components[0].InService = d("2026-09-20")
		}, "engine-oil", "2026-12-20", schedule.BasisDate, "In service since September 20, 2026"},
		{"record before the sale", func(f *schedule.Facts) {
			r := did("2026-04-01", "engine-oil", "E1", "120")
			r.By = schedule.ByBeforeSale
			f.Records = append(f.Records, r)
		}, "engine-oil", "2027-04-01", schedule.BasisDate, "before the sale"},
		{"reconditioned throughout before the sale", func(f *schedule.Facts) {
			r := did("2026-04-01", schedule.ServiceReconditionedThroughout, "", "")
			r.By = schedule.ByBeforeSale
			f.Records, f.Boat.SoldOn = append(f.Records, r), d("2026-04-20")
		}, "impeller", "2029-04-20", schedule.BasisDate, "counted from then"},
		{"nothing at all", func(*schedule.Facts) {}, "impeller", "2027-05-15", schedule.BasisUnknown, "inspected on the next visit"},
		{"in service long before the sale, no record", func(f *schedule.Facts) {
			f.Components[0].InService = d("2012-05-01")
		}, "impeller", "2027-05-15", schedule.BasisUnknown, "inspected on the next visit"},
		{"done elsewhere counts and is marked", func(f *schedule.Facts) {
			r := did("2026-08-31", "oil-check", "E1", "")
			r.By = schedule.ByElsewhere
			f.Records = append(f.Records, r)
		}, "oil-check", "2027-02-28", schedule.BasisDate, "elsewhere, as the owner said"},
		{"February 29 and a year", func(f *schedule.Facts) {
			f.Records = append(f.Records, did("2024-02-29", "impeller", "E1", ""))
		}, "impeller", "2027-02-28", schedule.BasisDate, "February 29, 2024"},
		{"done as part of another service", func(f *schedule.Facts) {
			f.Records = append(f.Records, did("2026-10-02", "engine-oil", "E1", "130"))
		}, "oil-check", "2027-04-02", schedule.BasisDate, `as part of "Engine oil"`},
		{"severe duty halves the interval", func(f *schedule.Facts) {
			f.Components[0].Duty = 50
			f.Records = append(f.Records, did("2026-10-02", "engine-oil", "E1", "130"))
		}, "engine-oil", "2027-04-02", schedule.BasisDate, "50%"},
		{"this engine's manual", func(f *schedule.Facts) {
			f.Overrides = []schedule.Override{{BoatID: "B1", ComponentID: "E1", Rule: "impeller", Months: 24, Source: "the maker's manual for this engine, page 60"}}
			f.Records = append(f.Records, did("2025-05-02", "impeller", "E1", "100"))
		}, "impeller", "2027-05-02", schedule.BasisDate, "page 60"},
		{"the owner does it himself", func(f *schedule.Facts) {
			f.Overrides = []schedule.Override{{BoatID: "B1", Rule: "oil-check", ByCustomer: true}}
			f.Records = append(f.Records, did("2026-10-02", "oil-check", "E1", ""))
		}, "oil-check", "2027-04-02", schedule.BasisDate, "The owner does this."},
	} {
		t.Run(c.name, func(t *testing.T) {
			pl := planner(t, small)
			f := facts(engine("E1"))
			f.Records = []schedule.Record{did("2026-10-02", "lay-up", "E1", "")}
			c.change(f)
			p := pl.Plan(f, d("2026-11-25"))
			it := find(t, p, "E1", c.rule)
			if it.Due != d(c.due) || it.Basis != c.basis {
				t.Errorf("due %s by %s, want %s by %s", it.Due, it.Basis, c.due, c.basis)
			}
			if text := why(t, pl, f, p, c.rule); !strings.Contains(text, c.mention) {
				t.Errorf("reason %q does not say %q", text, c.mention)
			}
		})
	}
}
